//! What to pull in a stage, with what this job's own pulls lost when they were let go.
//!
//! Millimetres. This file refuses to know in which order metal is pulled.

use super::Names;
use super::changes::{Moved, Moves};
use crate::damage::pulls::{Sprung, order, overpull, springback, watch};
use crate::damage::{Found, Structure};
use crate::job::{Job, Load};
use crate::result::Pull;

/// Per axis, what every pull before this stage's end gained under load and lost when let go.
pub(super) fn sprung(job: &Job, moves: &Moves, stage: usize) -> [Vec<Sprung>; 3] {
    let mut all: [Vec<Sprung>; 3] = Default::default();
    for released in 2..=stage {
        let load = released - 1;
        let held = job.stages[load].pulled() == Some(Load::Under);
        if !held || job.stages[released].pulled() == Some(Load::Under) {
            continue;
        }
        for point in 0..job.points.len() {
            let pulled = moves.into(load, point);
            let Some((pulled, back)) = pulled.zip(moves.into(released, point)) else {
                continue;
            };
            gather(&mut all, point, pulled, back);
        }
    }
    all
}

fn gather(all: &mut [Vec<Sprung>; 3], point: usize, pulled: &Moved, back: &Moved) {
    for (axis, sprung) in all.iter_mut().enumerate() {
        if let Some(((pulled, pulled_sigma), (back, back_sigma))) = pulled[axis].zip(back[axis]) {
            sprung.push(Sprung {
                point,
                pulled,
                pulled_sigma,
                back,
                back_sigma,
            });
        }
    }
}

pub(super) fn of_stage(
    names: &Names,
    structure: &Structure,
    found: &[Found],
    sprung: &[Vec<Sprung>; 3],
) -> Vec<Pull> {
    let mut pulls = Vec::new();
    for (index, cause) in order(structure, found).into_iter().enumerate() {
        let cause = &found[cause];
        let needed = [0, 1, 2].map(|axis| {
            cause.moved[axis]
                .filter(|_| cause.matters[axis])
                .map(|(value, _)| -value)
        });
        let share = |axis: usize| {
            let carried = structure.carries(cause.member);
            let own: Vec<Sprung> = sprung[axis]
                .iter()
                .filter(|one| carried.contains(&one.point))
                .copied()
                .collect();
            springback(&own).or_else(|| springback(&sprung[axis]))
        };
        pulls.push(Pull {
            member: names.member_id(cause.member).clone(),
            move_mm: needed,
            overpull_mm: [0, 1, 2].map(|axis| Some(overpull(needed[axis]?, share(axis)?))),
            watch: watch(structure, cause)
                .into_iter()
                .map(|point| names.point_id(point).clone())
                .collect(),
            order: u32::try_from(index + 1).unwrap_or(u32::MAX),
        });
    }
    pulls
}
