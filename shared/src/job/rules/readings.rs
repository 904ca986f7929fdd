//! Readings: every reference is there, every number is one that a scale, tape or device can give.

use std::collections::{HashMap, HashSet};

use super::fault::{Fault, Step, What};
use super::{MAX_SPREAD_MM, length, missing, spread};
use crate::ids::{ReadingId, SetupId, StageId};
use crate::job::{Job, OffsetSide, Plumb, Reading, Taken};
use crate::moment::is_moment;

/// What cannot be in a reading of this job, corrections apart.
#[must_use]
pub fn reading(job: &Job, stages: &HashSet<StageId>, reading: &Reading) -> Vec<Fault> {
    let mut faults = numbers(reading);
    if !stages.contains(&reading.stage) {
        faults.push(missing("stage", "stage", &reading.stage, "stages"));
    }
    let tool = reading.tool.as_ref();
    if let Some(tool) = tool.filter(|tool| !job.tools.contains_key(*tool)) {
        faults.push(missing("tool", "tool", tool, "tools"));
    }
    let ends: &[_] = match &reading.taken {
        Taken::Height { point, .. } | Taken::Offset { point, .. } | Taken::Fix { point, .. } => {
            &[("point", point)]
        }
        Taken::Split { from, to, .. }
        | Taken::Span { from, to, .. }
        | Taken::DatumSpan { from, to, .. } => &[("from", from), ("to", to)],
    };
    for (field, id) in ends {
        if !job.points.contains_key(*id) {
            faults.push(missing(field, "point", id, "points"));
        }
    }
    if let [(_, from), (_, to)] = ends
        && from == to
    {
        faults.push(Fault::field("to", What::SamePoint));
    }
    faults.extend(beam(job, &reading.taken));
    faults
}

/// What cannot be in a reading, whatever else the job holds.
#[must_use]
pub fn numbers(reading: &Reading) -> Vec<Fault> {
    let mut faults = Vec::new();
    if let Some(sigma) = reading.sigma_mm {
        faults.extend(spread("sigma_mm", sigma, MAX_SPREAD_MM));
    }
    faults.extend(length(&[Step::Field("origin_mm")], reading.origin_mm));
    match &reading.taken {
        Taken::Fix { xyz_mm, .. } => {
            for (axis, value) in xyz_mm.iter().enumerate() {
                faults.extend(length(&[Step::Field("xyz_mm"), Step::Index(axis)], *value));
            }
            if reading.origin_mm != 0.0 {
                faults.push(Fault::field("origin_mm", What::OriginOfAFix));
            }
        }
        Taken::Height { value_mm, .. }
        | Taken::Offset { value_mm, .. }
        | Taken::Split { value_mm, .. }
        | Taken::Span { value_mm, .. }
        | Taken::DatumSpan { value_mm, .. } => {
            faults.extend(value(&reading.taken, *value_mm, reading.origin_mm));
        }
    }
    if !reading.at.is_empty() && !is_moment(&reading.at) {
        faults.push(Fault::field("at", What::NotAMoment(reading.at.clone())));
    }
    let aside = reading.set_aside.as_ref();
    if aside.is_some_and(|aside| aside.why.trim().is_empty()) {
        let place = [Step::Field("set_aside"), Step::Field("why")];
        faults.push(Fault::new(place, What::NoReason));
    }
    faults
}

/// A number as taken: nothing is read off below 0, and two points are apart.
fn value(taken: &Taken, value_mm: f64, origin_mm: f64) -> Option<Fault> {
    let place = [Step::Field("value_mm")];
    if let Some(fault) = length(&place, value_mm) {
        return Some(fault);
    }
    let left_mm = value_mm - origin_mm;
    let what = match taken {
        Taken::Span { .. } | Taken::DatumSpan { .. } if value_mm <= 0.0 || left_mm <= 0.0 => {
            What::NoDistance {
                kind: taken.kind(),
                value_mm: value_mm.min(left_mm),
            }
        }
        _ if value_mm < 0.0 => What::Negative {
            value_mm,
            remedy: match taken {
                Taken::Height { .. } => {
                    "; when the beam is on the other side of the point, change beam"
                }
                Taken::Offset { .. } => {
                    "; when the point is on the other side of the beam, change side"
                }
                _ => "",
            },
        },
        _ if left_mm < 0.0 => What::BelowOrigin {
            value_mm,
            origin_mm,
        },
        _ => return None,
    };
    Some(Fault::new(place, what))
}

fn beam(job: &Job, taken: &Taken) -> Option<Fault> {
    let (setup, side): (&SetupId, Option<OffsetSide>) = match taken {
        Taken::Height { setup, .. } | Taken::Split { setup, .. } => (setup, None),
        Taken::Offset { setup, side, .. } => (setup, Some(*side)),
        Taken::Span { .. } | Taken::DatumSpan { .. } | Taken::Fix { .. } => return None,
    };
    let Some(known) = job.setups.get(setup) else {
        return Some(missing("setup", "set-up", setup, "setups"));
    };
    if matches!(taken, Taken::Height { .. }) {
        return None;
    }
    let right = match (known.plumb, side) {
        (None, _) => {
            return Some(Fault::field("setup", What::NoPlumbBeam(setup.clone())));
        }
        (Some(Plumb::Lengthwise), Some(OffsetSide::Rear | OffsetSide::Front)) => "right or left",
        (Some(Plumb::Crosswise), Some(OffsetSide::Right | OffsetSide::Left)) => "rear or front",
        _ => return None,
    };
    let what = What::WrongSide {
        setup: setup.clone(),
        right,
    };
    Some(Fault::field("side", what))
}

/// Corrections that cannot be, each with the place of its reading in the list.
///
/// A reading replaces one that stands before it, of the same stage and kind; so no two replace each
/// other. Two readings may replace the same one: two people can do so without knowing.
#[must_use]
pub fn corrections(readings: &[Reading]) -> Vec<(usize, Fault)> {
    let place: HashMap<&ReadingId, usize> = readings
        .iter()
        .enumerate()
        .map(|(index, reading)| (&reading.id, index))
        .collect();
    let fault = |(index, reading): (usize, &Reading)| {
        let id = reading.replaces.as_ref()?;
        let what = match place.get(id).map(|&at| (at, &readings[at])) {
            None => What::ReplacesNothing(id.clone()),
            Some((at, _)) if at >= index => What::ReplacesLater(id.clone()),
            Some((_, replaced)) if replaced.stage != reading.stage => What::ReplacesOtherStage {
                id: id.clone(),
                stage: replaced.stage.clone(),
            },
            Some((_, replaced)) if replaced.taken.kind() != reading.taken.kind() => {
                What::ReplacesOtherKind {
                    id: id.clone(),
                    kind: replaced.taken.kind(),
                }
            }
            Some(_) => return None,
        };
        Some((index, Fault::field("replaces", what)))
    };
    readings.iter().enumerate().filter_map(fault).collect()
}
