//! A cause in one English sentence after the other.

use crate::ids::MemberId;
use crate::job::Job;
use crate::result::Cause;

/// Words for a movement along each axis, against it and along it.
const WAYS: [[&str; 2]; 3] = [
    ["forward", "back"],
    ["to the left", "to the right"],
    ["down", "up"],
];
const ABOUT: [&str; 3] = ["lengthwise", "crosswise", "upright"];

/// `up 6.4 mm`: a movement along an axis in words.
#[must_use]
pub fn way(axis: usize, value_mm: f64) -> String {
    let word = WAYS[axis][usize::from(value_mm > 0.0)];
    format!("{word} {:.1} mm", value_mm.abs())
}

/// What moved, how sure that is, what it explains, what else it could be.
pub(super) fn cause(job: &Job, cause: &Cause) -> String {
    let mut says = format!("{} moved", member(job, &cause.member));
    let mut parts = Vec::new();
    for axis in 0..3 {
        let (Some(value), Some(sigma)) = (cause.move_mm[axis], cause.sigma_mm[axis]) else {
            continue;
        };
        if cause.matters[axis] {
            parts.push(format!("{} (± {sigma:.1})", way(axis, value)));
        }
    }
    for (turn, about) in cause.turn_deg.iter().zip(ABOUT) {
        if let Some(turn) = turn {
            parts.push(format!("turned {:.1}° about the {about} axis", turn.abs()));
        }
    }
    says.push(' ');
    says.push_str(&join(&parts, "and"));
    let explained = cause.explains.len();
    let points = if explained == 1 { "point" } else { "points" };
    says.push_str(&format!(
        ": it carries {} and explains {explained} {points} that stand out.",
        cause.carries.len()
    ));
    if !cause.clears.is_empty() {
        let cleared: Vec<String> = cause.clears.iter().map(|id| member(job, id)).collect();
        says.push_str(&format!(
            " Below it, {} stands where it should.",
            join(&cleared, "and")
        ));
    }
    if !cause.instead.is_empty() {
        let others: Vec<String> = cause.instead.iter().map(|id| member(job, id)).collect();
        let others = join(&others, "or");
        says.push_str(&if cause.side_from_impact {
            format!(
                " The readings alone could also mean {others}; the place of the impact decided."
            )
        } else {
            format!(" The readings could also mean {others}.")
        });
    }
    says
}

/// A member's label, or its id without one.
#[must_use]
pub fn member(job: &Job, id: &MemberId) -> String {
    job.members
        .get(id)
        .map(|member| member.label.clone())
        .filter(|label| !label.is_empty())
        .unwrap_or_else(|| id.to_string())
}

fn join(parts: &[String], last: &str) -> String {
    match parts {
        [] => String::new(),
        [only] => only.clone(),
        [many @ .., end] => format!("{} {last} {end}", many.join(", ")),
    }
}
