//! One car as checked values: points, members, tools, set-ups, stages and readings.
//!
//! Lengths in millimetres in the frame of ISO 4130 / SAE J1100 practice: x rearward, y to the
//! vehicle's right, z up. Both the book and the job file are read into a [`Job`]; the engine
//! takes nothing else. This module refuses to know how a job is stored or written down.

use indexmap::IndexMap;
use serde::{Deserialize, Serialize};

use crate::ids::{MemberId, PointId, ReadingId, SetupId, StageId, ToolId};
use crate::tools::Check;

pub mod rules;
mod reading;

pub use reading::{Beam, OffsetSide, Reading, SetAside, Taken};

/// Shop's default tolerance in millimetres (common practice: a body is repaired to within 3 mm).
pub const DEFAULT_TOLERANCE_MM: f64 = 3.0;
/// Default probability of conformity that a verdict asks for.
pub const DEFAULT_CONFORMITY: f64 = 0.95;
/// Default spread of a new body between its sides in millimetres (common practice: one or two).
pub const DEFAULT_BUILD_SPREAD_MM: f64 = 1.0;

/// Everything that is known about one car, checked: every reference resolves, mirrors are mutual,
/// numbers are finite and within bounds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Job {
    /// The car in the shop.
    pub card: Card,
    /// The decision rule.
    pub settings: Settings,
    /// Points in the order they were added.
    pub points: IndexMap<PointId, Point>,
    /// Members and what carries them.
    pub members: IndexMap<MemberId, Member>,
    /// The dimension sheet this job is judged against, if any.
    pub sheet: Option<Sheet>,
    /// Tools with their uncertainty.
    pub tools: IndexMap<ToolId, Tool>,
    /// Set-ups of the laser.
    pub setups: IndexMap<SetupId, Setup>,
    /// Stages in the order of work.
    pub stages: Vec<Stage>,
    /// Readings in the order they were taken.
    pub readings: Vec<Reading>,
}

impl Default for Job {
    fn default() -> Self {
        Self {
            card: Card::default(),
            settings: Settings::default(),
            points: IndexMap::new(),
            members: IndexMap::new(),
            sheet: None,
            tools: IndexMap::new(),
            setups: IndexMap::new(),
            stages: Vec::new(),
            readings: Vec::new(),
        }
    }
}

/// The job's card: what the shop calls this car, and where it was hit.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Card {
    /// The shop's number for the job.
    pub number: String,
    /// The vehicle in words.
    pub vehicle: String,
    /// Vehicle identification number, if known.
    pub vin: Option<String>,
    /// Where and from where the car was hit.
    pub impact: Option<Impact>,
}

/// Where the car was hit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Impact {
    /// Which part of the car.
    pub zone: Zone,
    /// Where the blow came from, seen from above, as an angle in the x-y plane of the car: 0 from
    /// the rear, 90 from the right, 180 from the front, 270 from the left, degrees.
    pub direction_deg: f64,
}

/// Part of the car that was hit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum Zone {
    Front,
    FrontLeft,
    FrontRight,
    Left,
    Right,
    Rear,
    RearLeft,
    RearRight,
    Roof,
    Underbody,
}

/// The decision rule, printed with every result.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Settings {
    /// Half width of the tolerance in millimetres.
    pub tolerance_mm: f64,
    /// Probability of conformity that `within` asks for (0.5 to 1).
    pub conformity: f64,
    /// Spread of an undamaged body between its sides, millimetres.
    pub build_spread_mm: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            tolerance_mm: DEFAULT_TOLERANCE_MM,
            conformity: DEFAULT_CONFORMITY,
            build_spread_mm: DEFAULT_BUILD_SPREAD_MM,
        }
    }
}

/// One point of the body.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// What the point is, in words.
    pub label: String,
    /// Which side of the car.
    pub side: Side,
    /// The matching point on the other side.
    pub mirror: Option<PointId>,
    /// Rough place [x, y, z] in millimetres.
    pub place_mm: [f64; 3],
    /// How well the rough place is known, millimetres per axis; the default is 300.
    pub place_sigma_mm: Option<f64>,
    /// May this point define the frame?
    pub trusted: bool,
    /// The member that carries it.
    pub member: Option<MemberId>,
}

/// Side of the car, as the driver sees it facing forward.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum Side {
    Left,
    Right,
    Centre,
}

/// A structural member.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Member {
    /// What the member is, in words; empty when the id says it.
    pub label: String,
    /// Members that carry this one, nearest first; empty for the passenger cell.
    pub carried_by: Vec<MemberId>,
}

/// Targets for one kind of body, one revision.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sheet {
    /// Name of the sheet.
    pub name: String,
    /// Revision number.
    pub revision: u32,
    /// SHA-256 of the whole revision in the library, 64 hexadecimal digits; empty when the targets
    /// come from elsewhere.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub digest: String,
    /// Spread of the targets that have none of their own, millimetres per axis.
    pub spread_mm: f64,
    /// Target [x, y, z] per point, millimetres.
    pub points: IndexMap<PointId, [f64; 3]>,
    /// Spread [x, y, z] of single targets, millimetres.
    #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
    pub spreads: IndexMap<PointId, [f64; 3]>,
    /// Half width of the tolerance of single points, millimetres; the shop's for all others.
    #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
    pub tolerances: IndexMap<PointId, f64>,
}

/// A measuring tool and its uncertainty: σ² = `sigma_mm`² + (`per_m_mm` × length in m)².
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Tool {
    /// What kind of tool.
    pub kind: ToolKind,
    /// What it is called in the shop; empty when the id says it.
    pub label: String,
    /// Fixed part of its standard uncertainty, millimetres.
    pub sigma_mm: f64,
    /// Part that grows with the length, millimetres per metre.
    pub per_m_mm: f64,
    /// For a laser: the last two-peg check of its level beam.
    #[serde(default)]
    pub level_check: Option<Check>,
    /// For a laser: the last reversal check of its plumb beam.
    #[serde(default)]
    pub plumb_check: Option<Check>,
}

/// Kind of tool.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum ToolKind {
    Tape,
    Scale,
    TramBar,
    Laser,
    Device3d,
    Other,
}

/// One position of the laser.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Setup {
    /// What the position is called.
    pub label: String,
    /// How the plumb beam runs, if there is one.
    pub plumb: Option<Plumb>,
    /// The laser, when its checks should count.
    pub tool: Option<ToolId>,
    /// Roughly where the laser stands [x, y] in the car's frame, millimetres: with it, a checked
    /// level beam is corrected; without it, its readings count for less.
    #[serde(default)]
    pub stands_mm: Option<[f64; 2]>,
}

/// Direction of the plumb beam.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Plumb {
    /// Along the car: offsets are to the right or left of it.
    Lengthwise,
    /// Across the car: offsets are behind or in front of it.
    Crosswise,
}

/// One round of readings with the car in one condition.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Stage {
    /// Identifier, unique in the job.
    pub id: StageId,
    /// What the stage is called.
    pub label: String,
    /// What kind of round it is.
    pub of: StageKind,
    /// For a pull: is the chain still tight?
    pub load: Option<Load>,
}

impl Stage {
    /// The load of a pull; only a pull has one, whatever stands in the book after two people corrected
    /// the stage at once.
    #[must_use]
    pub fn pulled(&self) -> Option<Load> {
        self.load.filter(|_| self.of == StageKind::Pull)
    }
}

/// Kind of stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum StageKind {
    /// As the car came in.
    AsReceived,
    /// During or after a pull.
    Pull,
    /// The last round, for the record.
    Final,
}

/// Load during a pull stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Load {
    /// The pull is holding.
    Under,
    /// The pull has been let go.
    Released,
}

impl Sheet {
    /// Spread of a point's target, millimetres per axis; that of all where the point has none of its own.
    #[must_use]
    pub fn spread_of(&self, id: &PointId) -> [f64; 3] {
        self.spreads.get(id).copied().unwrap_or([self.spread_mm; 3])
    }

    /// The smallest and the largest spread of a target along an axis, millimetres.
    #[must_use]
    pub fn spreads_mm(&self) -> [f64; 2] {
        let all = self.points.keys().flat_map(|id| self.spread_of(id));
        let range = all.fold(None, |range: Option<[f64; 2]>, own| {
            let [least, most] = range.unwrap_or([own; 2]);
            Some([least.min(own), most.max(own)])
        });
        range.unwrap_or([self.spread_mm; 2])
    }
}

impl Job {
    /// Half width of the tolerance that judges what these points are asked for together, millimetres:
    /// the smallest of their own, the shop's for a point without.
    #[must_use]
    pub fn tolerance_of(&self, points: &[&PointId]) -> f64 {
        let shop = self.settings.tolerance_mm;
        let own = |id: &&PointId| self.sheet.as_ref()?.tolerances.get(*id).copied();
        let each = points.iter().map(|id| own(id).unwrap_or(shop));
        each.reduce(f64::min).unwrap_or(shop)
    }

    /// The readings that count: neither set aside nor replaced by a later one.
    pub fn counting_readings(&self) -> impl Iterator<Item = &Reading> {
        let replaced: std::collections::HashSet<&ReadingId> = self
            .readings
            .iter()
            .filter_map(|r| r.replaces.as_ref())
            .collect();
        self.readings
            .iter()
            .filter(move |r| r.set_aside.is_none() && !replaced.contains(&r.id))
    }

    /// Readings that more than one other corrects, each with its corrections: two people may do so
    /// without knowing of each other. Corrections that are set aside are not listed.
    pub fn corrected_twice(&self) -> impl Iterator<Item = (&Reading, Vec<&Reading>)> {
        let mut corrections: IndexMap<&ReadingId, Vec<&Reading>> = IndexMap::new();
        for reading in self.readings.iter().filter(|r| r.set_aside.is_none()) {
            if let Some(corrected) = &reading.replaces {
                corrections.entry(corrected).or_default().push(reading);
            }
        }
        corrections.retain(|_, by| by.len() > 1);
        self.readings
            .iter()
            .filter_map(move |reading| Some((reading, corrections.swap_remove(&reading.id)?)))
    }
}

#[cfg(test)]
pub(crate) mod any;
