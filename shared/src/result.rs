//! What the readings say: the open JSON result of one job (`baybook-result/1`).
//!
//! Lengths in millimetres, angles in degrees. `None` (JSON `null`) means not measured or not
//! determined, and is never 0. This module only carries values; it computes nothing.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::ids::{MemberId, PointId, ReadingId, SetupId, StageId};
use crate::verdict::Verdict;

/// `format` of a result.
pub const FORMAT: &str = "baybook-result/1";

/// One value per axis [x, y, z]; `None` where it is not determined.
pub type Axes<T> = [Option<T>; 3];

/// The result of one job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JobResult {
    /// Always [`FORMAT`].
    pub format: String,
    /// The decision rule that made the verdicts.
    pub rule: Rule,
    /// How the adjustment went.
    pub fit: Fit,
    /// One entry per stage, in the job's order.
    pub stages: Vec<StageResult>,
    /// Readings that the others contradict, worst first.
    pub suspects: Vec<Suspect>,
    /// The hypotheses that define the frame, tested.
    pub trust: Vec<TrustTest>,
    /// Per counting reading: residual, test value, redundancy.
    pub readings: IndexMap<ReadingId, ReadingResult>,
    /// Movements between consecutive stages.
    pub changes: Vec<Change>,
    /// What to read next, most useful first.
    pub next: Vec<NextReading>,
}

/// The decision rule (JCGM 106:2012, probability of conformity).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Rule {
    /// Half width of the tolerance where a point or pair has none of its own, millimetres.
    pub tolerance_mm: f64,
    /// Probability of conformity that `within` asks for.
    pub conformity: f64,
    /// Spread of an undamaged body between its sides, millimetres.
    pub build_spread_mm: f64,
}

/// How the adjustment went.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Fit {
    /// Did the iteration reach its stopping rule?
    pub converged: bool,
    /// Iterations of the final solution.
    pub iterations: u32,
    /// Rows that took part: readings (a fix has three), trust and priors apart.
    pub rows: usize,
    /// Sum of the redundancy numbers of the readings and trust rows.
    pub degrees_of_freedom: f64,
    /// Weighted sum of squared residuals.
    pub chi2: f64,
    /// Probability of a chi-square at least this large when all is well; `None` without redundancy.
    pub p: Option<f64>,
}

/// One stage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StageResult {
    /// The stage.
    pub id: StageId,
    /// The car against gravity.
    pub tilt_deg: Tilt,
    /// The beams of this stage: how far off level and centre each set-up is.
    pub setups: IndexMap<SetupId, SetupResult>,
    /// Every point with at least one counting reading in this stage, or trusted.
    pub points: IndexMap<PointId, PointResult>,
    /// Every mirrored pair, left first.
    pub pairs: Vec<PairResult>,
    /// Modes of the damage.
    pub modes: Vec<Mode>,
    /// Movements of members that explain what was read, strongest first.
    pub causes: Vec<Cause>,
    /// What to pull, in order.
    pub pulls: Vec<Pull>,
    /// What these readings can never tell, however many there are.
    pub cannot_tell: Vec<CannotTell>,
}

/// The car's tilt against gravity; `None` where it is not determined.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Tilt {
    /// About the lengthwise axis; + when the left side is low, degrees.
    pub roll: Option<f64>,
    /// About the crosswise axis; degrees. `None` without a sheet (a convention, not a finding).
    pub pitch: Option<f64>,
}

/// One set-up in one stage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SetupResult {
    /// Turn of the plumb beam from its axis, degrees.
    pub yaw_deg: Option<f64>,
    /// Where a lengthwise plumb beam is right of the centre plane (at the zero plane), millimetres.
    pub off_centre_mm: Option<f64>,
}

/// One point in one stage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PointResult {
    /// Position, always the best estimate (the rough place where nothing was read).
    pub xyz_mm: [f64; 3],
    /// Standard uncertainty per axis.
    pub sigma_mm: [f64; 3],
    /// Is the coordinate measured (spread at most half of what the priors alone give)?
    pub measured: [bool; 3],
    /// Deviation from the target; `None` without a target or when not measured.
    pub deviation_mm: Axes<f64>,
    /// Its standard uncertainty.
    pub deviation_sigma_mm: Axes<f64>,
    /// Probability of conformity.
    pub conformity: Axes<f64>,
    /// Verdict per axis.
    pub verdict: Axes<Verdict>,
    /// Half width of the tolerance that judged it, when it is not the rule's: the sheet's for this point.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tolerance_mm: Option<f64>,
}

impl PointResult {
    /// The deviation along an axis as a judged quantity.
    #[must_use]
    pub fn judged(&self, axis: usize) -> Judged {
        Judged {
            value: self.deviation_mm[axis],
            sigma: self.deviation_sigma_mm[axis],
            target: None,
            conformity: self.conformity[axis],
            verdict: self.verdict[axis],
            tolerance_mm: self.tolerance_mm.filter(|_| self.verdict[axis].is_some()),
        }
    }
}

/// One mirrored pair in one stage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PairResult {
    /// Left point.
    pub left: PointId,
    /// Right point.
    pub right: PointId,
    /// z_R − z_L.
    pub right_higher_mm: Judged,
    /// (y_L + y_R) / 2.
    pub centre_right_mm: Judged,
    /// x_R − x_L.
    pub right_rearward_mm: Judged,
    /// y_R − y_L; judged only against a sheet.
    pub width_mm: Judged,
}

/// A quantity with its spread and verdict; all `None` when not measured.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Judged {
    /// Best estimate.
    pub value: Option<f64>,
    /// Standard uncertainty.
    pub sigma: Option<f64>,
    /// What it should be: 0 or the designed asymmetry; the sheet's width for a width.
    pub target: Option<f64>,
    /// Probability of conformity.
    pub conformity: Option<f64>,
    /// Verdict.
    pub verdict: Option<Verdict>,
    /// Half width of the tolerance that judged it, when it is not the rule's: the smaller of the sheet's
    /// for the two points.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tolerance_mm: Option<f64>,
}

/// Which section of the car.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
#[expect(missing_docs, reason = "the names say it")]
pub enum Section {
    Front,
    Centre,
    Rear,
}

/// Kind of damage, the trade's own words.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum ModeKind {
    /// (dxL + dxR) / 2.
    Mash,
    /// (dxR − dxL) / 2.
    Diamond,
    /// (dyL + dyR) / 2.
    Sidesway,
    /// (dyR − dyL) / 2.
    Spread,
    /// (dzL + dzR) / 2.
    Sag,
    /// (dzR − dzL) / 2.
    Twist,
}

/// One mode of the damage at one place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Mode {
    /// Section of the car.
    pub section: Section,
    /// Which mode.
    pub mode: ModeKind,
    /// Length of the pair it was found at.
    pub x_mm: f64,
    /// Value.
    pub value_mm: f64,
    /// Standard uncertainty.
    pub sigma_mm: f64,
    /// Does it differ from 0 beyond its spread?
    pub significant: bool,
}

/// The movement of a member that explains what was read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Cause {
    /// The member.
    pub member: MemberId,
    /// Its movement at the middle of its points.
    pub move_mm: Axes<f64>,
    /// Standard uncertainty.
    pub sigma_mm: Axes<f64>,
    /// Is the movement along this axis part of the explanation?
    pub matters: [bool; 3],
    /// Rotation about x, y, z, degrees, where the points allow it.
    pub turn_deg: Axes<f64>,
    /// Points that it carries.
    pub carries: Vec<PointId>,
    /// Points whose displacement it explains.
    pub explains: Vec<PointId>,
    /// What it predicts for points not read.
    pub predicts: IndexMap<PointId, Axes<f64>>,
    /// Was the impact used to choose the side, because the readings cannot?
    pub side_from_impact: bool,
    /// Members that would explain the same.
    pub instead: Vec<MemberId>,
    /// Members that carry this one, and whose own points stand where they should.
    pub clears: Vec<MemberId>,
    /// In words, English.
    pub says: String,
}

/// What to pull.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Pull {
    /// The member.
    pub member: MemberId,
    /// Movement needed.
    pub move_mm: Axes<f64>,
    /// Overpull from this job's own springback; `None` without one.
    pub overpull_mm: Axes<f64>,
    /// Points to watch.
    pub watch: Vec<PointId>,
    /// 1 first.
    pub order: u32,
}

/// Something these readings can never tell.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CannotTell {
    /// What: `mash`, `sag`, `spread`, `which-side`.
    pub what: String,
    /// Why, in words, English.
    pub why: String,
}

/// A reading that the others contradict.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Suspect {
    /// The reading.
    pub reading: ReadingId,
    /// Estimated error.
    pub error_mm: f64,
    /// Its standard uncertainty.
    pub sigma_mm: f64,
    /// Test value: error over spread.
    pub t: f64,
    /// The rows it cannot be told from, itself included (readings and trusted points by id).
    pub one_of: Vec<String>,
    /// A likely slip, where the number fits one, in words, English.
    pub slip: Option<String>,
    /// The slip as a code for translation.
    pub slip_code: Option<String>,
    /// What leaving it out changes, largest first: pair or point quantity and by how much.
    pub difference: Vec<Difference>,
}

/// What leaving a suspect out changes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Difference {
    /// The quantity, as `left/right right_higher_mm` or `point z`.
    pub quantity: String,
    /// Stage.
    pub stage: StageId,
    /// Value without it minus value with it.
    pub change_mm: f64,
}

/// One hypothesis of trust, tested.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrustTest {
    /// The point, or the pair.
    pub points: Vec<PointId>,
    /// `x`, `y` or `z`.
    pub axis: String,
    /// Test value.
    pub t: Option<f64>,
    /// How far off it is, estimated.
    pub error_mm: Option<f64>,
    /// Does it fit the readings?
    pub fits: bool,
    /// The rows it cannot be told from, itself included.
    pub one_of: Vec<String>,
}

/// The points and the axis of a row of trust, from its name in a group: `sill-L/sill-R z`.
#[must_use]
pub fn trust_row(name: &str) -> (Vec<PointId>, &str) {
    let (points, axis) = name.rsplit_once(' ').unwrap_or((name, ""));
    let points = points.split('/').map(PointId::parse);
    (points.filter_map(Result::ok).collect(), axis)
}

/// One counting reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReadingResult {
    /// Value as taken minus what the solution predicts (the largest component for a fix).
    pub residual_mm: f64,
    /// Baarda's test value; `None` without redundancy.
    pub w: Option<f64>,
    /// Redundancy number, 0 to 1.
    pub redundancy: f64,
    /// Smallest error that the check would catch; `None` without redundancy.
    pub catches_mm: Option<f64>,
    /// Does it take part in the reported solution? (Suspects and what they cannot be told from do not.)
    pub used: bool,
}

/// Movement of one point between two stages.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Change {
    /// Earlier stage.
    pub from: StageId,
    /// Later stage.
    pub to: StageId,
    /// The point.
    pub point: PointId,
    /// Movement.
    pub move_mm: Axes<f64>,
    /// Standard uncertainty.
    pub sigma_mm: Axes<f64>,
    /// Is it real, tested with its covariance?
    pub real: Axes<bool>,
}

/// A reading worth taking next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NextReading {
    /// Kind of reading, as in the job file.
    pub kind: String,
    /// Stage it belongs to.
    pub stage: StageId,
    /// Set-up, for beam readings.
    pub setup: Option<SetupId>,
    /// The point, or the tape's hooked end.
    pub point: PointId,
    /// The other end of a span or split.
    pub to: Option<PointId>,
    /// What it would settle.
    pub settles: Vec<String>,
    /// Spread of the first of these afterwards.
    pub sigma_after_mm: Option<f64>,
    /// In words, English.
    pub why: String,
}
