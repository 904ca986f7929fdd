//! A cause as the result tells it.
//!
//! Millimetres, degrees. This file refuses to know how a cause is chosen.

use super::{Names, say};
use crate::damage::{Blow, Found, Structure};
use crate::job::{Job, Zone};
use crate::result::Cause;

/// Where the car was hit, as far as it has a side or a direction.
pub(super) fn blow(job: &Job) -> Option<Blow> {
    let impact = job.card.impact.as_ref()?;
    let side = match impact.zone {
        Zone::FrontLeft | Zone::Left | Zone::RearLeft => -1,
        Zone::FrontRight | Zone::Right | Zone::RearRight => 1,
        Zone::Front | Zone::Rear | Zone::Roof | Zone::Underbody => 0,
    };
    Some(Blow::new(side, impact.direction_deg))
}

pub(super) fn told(job: &Job, names: &Names, structure: &Structure, found: &Found) -> Cause {
    let members = |numbers: &[usize]| {
        numbers
            .iter()
            .map(|&member| names.member_id(member).clone())
            .collect()
    };
    let points = |numbers: &[usize]| {
        numbers
            .iter()
            .map(|&point| names.point_id(point).clone())
            .collect()
    };
    let mut cause = Cause {
        member: names.member_id(found.member).clone(),
        move_mm: found.moved.map(|moved| moved.map(|(value, _)| value)),
        sigma_mm: found.moved.map(|moved| moved.map(|(_, sigma)| sigma)),
        matters: found.matters,
        turn_deg: found.turned.map(|turn| turn.map(f64::to_degrees)),
        carries: points(structure.carries(found.member)),
        explains: points(&found.explains),
        predicts: found
            .predicts
            .iter()
            .map(|(point, shift)| (names.point_id(*point).clone(), *shift))
            .collect(),
        side_from_impact: found.side_from_impact,
        instead: members(&found.instead),
        clears: members(&found.clears),
        says: String::new(),
    };
    cause.says = say::cause(job, &cause);
    cause
}
