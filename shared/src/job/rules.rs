//! What holds in every job, each rule once: the job file refuses what breaks one, the book leaves it
//! out and says so.
//!
//! Millimetres. The limits stand here with their reasons. This module refuses to know where a job
//! comes from and what becomes of a fault.

mod fault;
mod members;
mod readings;

use indexmap::IndexMap;

use super::{Card, Member, Point, Settings, Setup, Sheet, Side, Tool};
use crate::ids::{MemberId, PointId, ToolId};
use crate::moment::is_moment;
use crate::tools::MOST_SLOPE_MM_PER_M;

pub use fault::{Fault, Step, What};
pub use members::{carriers, circles};
pub use readings::{corrections, reading, reading_alone};

/// Longest length: twice the longest road train (25.25 m, from memory), as long as the longest
/// tapes. A larger number is a slip or another unit.
pub const MAX_LENGTH_MM: f64 = 50_000.0;
/// Largest spread of a reading, tool, sheet or rule: what is a metre off says nothing about a body.
/// A rough place may be worse, up to [`MAX_LENGTH_MM`].
pub const MAX_SPREAD_MM: f64 = 1_000.0;
/// Largest spread per metre of a tool: as much as it measures.
pub const MAX_PER_METRE_MM: f64 = 1_000.0;

/// What cannot be in the decision rule.
#[must_use]
pub fn settings(settings: &Settings) -> Vec<Fault> {
    let mut faults = Vec::new();
    faults.extend(spread("tolerance_mm", settings.tolerance_mm, MAX_SPREAD_MM));
    faults.extend(spread(
        "build_spread_mm",
        settings.build_spread_mm,
        MAX_SPREAD_MM,
    ));
    if !(0.5..1.0).contains(&settings.conformity) {
        faults.push(Fault::field(
            "conformity",
            What::NotALevel(settings.conformity),
        ));
    }
    faults
}

/// What cannot be on a card.
#[must_use]
pub fn card(card: &Card) -> Vec<Fault> {
    let direction = card.impact.as_ref().map(|impact| impact.direction_deg);
    direction
        .filter(|degrees| !(-360.0..=360.0).contains(degrees))
        .map(|degrees| {
            let place = [Step::Field("impact"), Step::Field("direction_deg")];
            Fault::new(place, What::NotADirection(degrees))
        })
        .into_iter()
        .collect()
}

/// What cannot be in a point among these points and members.
#[must_use]
pub fn point(
    points: &IndexMap<PointId, Point>,
    members: &IndexMap<MemberId, Member>,
    id: &PointId,
    point: &Point,
) -> Vec<Fault> {
    let mut faults = place(point.place_mm, point.place_sigma_mm);
    let member = point.member.as_ref();
    if let Some(member) = member.filter(|member| !members.contains_key(*member)) {
        faults.push(missing("member", "member", member, "members"));
    }
    let Some(mirror) = &point.mirror else {
        return faults;
    };
    let Some(other) = points.get(mirror) else {
        faults.push(missing("mirror", "point", mirror, "points"));
        return faults;
    };
    let opposite = matches!(
        (point.side, other.side),
        (Side::Left, Side::Right) | (Side::Right, Side::Left)
    );
    if other.mirror.as_ref() != Some(id) {
        let (id, mirror) = (id.clone(), mirror.clone());
        faults.push(Fault::field("mirror", What::OneSided { id, mirror }));
    } else if !opposite {
        let what = What::SameSide(id.clone(), mirror.clone());
        faults.push(Fault::field("mirror", what));
    }
    faults
}

/// What cannot be in a point's rough place.
#[must_use]
pub fn place(place_mm: [f64; 3], place_sigma_mm: Option<f64>) -> Vec<Fault> {
    let length = |(axis, value): (usize, &f64)| {
        length(&[Step::Field("place_mm"), Step::Index(axis)], *value)
    };
    let mut faults: Vec<Fault> = place_mm.iter().enumerate().filter_map(length).collect();
    let sigma = place_sigma_mm;
    faults.extend(sigma.and_then(|sigma| spread("place_sigma_mm", sigma, MAX_LENGTH_MM)));
    faults
}

/// What cannot be in a tool.
#[must_use]
pub fn tool(tool: &Tool) -> Vec<Fault> {
    let mut faults = Vec::new();
    if !(0.0..=MAX_SPREAD_MM).contains(&tool.sigma_mm) {
        faults.push(Fault::field(
            "sigma_mm",
            What::NotAToolSpread(tool.sigma_mm),
        ));
    }
    if !(0.0..=MAX_PER_METRE_MM).contains(&tool.per_m_mm) {
        faults.push(Fault::field("per_m_mm", What::NotPerMetre(tool.per_m_mm)));
    }
    for (field, check) in [
        ("level_check", &tool.level_check),
        ("plumb_check", &tool.plumb_check),
    ] {
        let Some(check) = check else { continue };
        let at = |name| [Step::Field(field), Step::Field(name)];
        if !(-MOST_SLOPE_MM_PER_M..=MOST_SLOPE_MM_PER_M).contains(&check.mm_per_m) {
            faults.push(Fault::new(at("mm_per_m"), What::NotASlope(check.mm_per_m)));
        }
        let sigma = check.sigma_mm_per_m;
        if !(sigma > 0.0 && sigma <= MOST_SLOPE_MM_PER_M) {
            faults.push(Fault::new(
                at("sigma_mm_per_m"),
                What::NotASpread(sigma, MOST_SLOPE_MM_PER_M),
            ));
        }
        if !check.at.is_empty() && !is_moment(&check.at) {
            faults.push(Fault::new(at("at"), What::NotAMoment(check.at.clone())));
        }
    }
    faults
}

/// What cannot be in a set-up.
#[must_use]
pub fn setup(tools: &IndexMap<ToolId, Tool>, setup: &Setup) -> Vec<Fault> {
    let tool = setup.tool.as_ref();
    let tool = tool
        .filter(|tool| !tools.contains_key(*tool))
        .map(|tool| missing("tool", "tool", tool, "tools"));
    tool.into_iter().chain(stands(setup)).collect()
}

/// What cannot be in the place of a set-up's laser.
#[must_use]
pub fn stands(setup: &Setup) -> Vec<Fault> {
    let values = setup.stands_mm.iter().flatten().enumerate();
    values
        .filter_map(|(axis, value)| length(&[Step::Field("stands_mm"), Step::Index(axis)], *value))
        .collect()
}

/// What cannot be in a sheet for these points.
#[must_use]
pub fn sheet(points: &IndexMap<PointId, Point>, sheet: &Sheet) -> Vec<Fault> {
    let mut faults = sheet_alone(sheet);
    for id in sheet.points.keys().filter(|id| !points.contains_key(*id)) {
        let place = [Step::Field("points"), Step::Key(id.to_string())];
        let what = missing("points", "point", id, "points").what;
        faults.push(Fault::new(place, what));
    }
    faults
}

/// What cannot be in a sheet, whatever points there are.
#[must_use]
pub fn sheet_alone(sheet: &Sheet) -> Vec<Fault> {
    let mut faults = Vec::new();
    faults.extend(spread("spread_mm", sheet.spread_mm, MAX_SPREAD_MM));
    let hexadecimal = |c: char| matches!(c, '0'..='9' | 'a'..='f');
    let digest = &sheet.digest;
    let sound = digest.len() == 64 && digest.chars().all(hexadecimal);
    if !sound && !digest.is_empty() {
        faults.push(Fault::field("digest", What::NotADigest(digest.clone())));
    }
    for (id, target) in &sheet.points {
        for (axis, value) in target.iter().enumerate() {
            let key = Step::Key(id.to_string());
            let place = [Step::Field("points"), key, Step::Index(axis)];
            faults.extend(length(&place, *value));
        }
    }
    let spread = |field, id: &PointId, axis: Option<usize>, value: f64| {
        let at = [Step::Field(field), Step::Key(id.to_string())];
        let at = at.into_iter().chain(axis.map(Step::Index)).collect();
        let what = What::NotASpread(value, MAX_SPREAD_MM);
        (!is_spread(value, MAX_SPREAD_MM)).then_some(Fault { at, what })
    };
    for (id, own) in &sheet.spreads {
        faults.extend(without_target(sheet, "spreads", id));
        let axes = own.iter().enumerate();
        faults.extend(axes.filter_map(|(axis, value)| spread("spreads", id, Some(axis), *value)));
    }
    for (id, own) in &sheet.tolerances {
        faults.extend(without_target(sheet, "tolerances", id));
        faults.extend(spread("tolerances", id, None, *own));
    }
    faults
}

/// A spread or tolerance of a point that the sheet has no target for.
fn without_target(sheet: &Sheet, field: &'static str, id: &PointId) -> Option<Fault> {
    let place = [Step::Field(field), Step::Key(id.to_string())];
    let what = missing(field, "target", id, "sheet.points").what;
    (!sheet.points.contains_key(id)).then(|| Fault::new(place, what))
}

fn length(place: &[Step], value: f64) -> Option<Fault> {
    let sound = value.abs() <= MAX_LENGTH_MM;
    (!sound).then(|| Fault::new(place, What::NotALength(value)))
}

fn spread(field: &'static str, value: f64, most: f64) -> Option<Fault> {
    (!is_spread(value, most)).then(|| Fault::field(field, What::NotASpread(value, most)))
}

fn is_spread(value: f64, most: f64) -> bool {
    value > 0.0 && value <= most
}

fn missing(
    field: &'static str,
    thing: &'static str,
    id: &impl ToString,
    home: &'static str,
) -> Fault {
    let id = id.to_string();
    Fault::field(field, What::Missing { thing, id, home })
}
