//! Where the points of a stage are, with the covariance of all of them.
//!
//! Millimetres. This file refuses to know what the positions are for.

use super::network::{Built, one};
use crate::adjust::{LinearForm, adjust};
use crate::geometry::Vec3;
use crate::ids::{PointId, StageId};
use crate::job::Job;

/// Positions in one stage.
#[derive(Debug, Clone, PartialEq)]
pub struct Positions {
    /// The points.
    pub points: Vec<PointId>,
    /// Where each is.
    pub xyz_mm: Vec<Vec3>,
    /// Covariance, x, y, z of the first point first; mm².
    pub covariance: Vec<Vec<f64>>,
}

/// Solves a job and gives the positions of those of `points` that were read: in the stage, or for a
/// trusted point in any. `None` when there is no such stage, or the solution does not converge.
#[must_use]
pub fn positions(job: &Job, stage: &StageId, points: &[PointId]) -> Option<Positions> {
    let built = Built::new(job);
    let at = *built.stages.get(stage)?;
    let solution = adjust(built.problem.clone(), None);
    if !solution.report().converged {
        return None;
    }
    let mut found = Positions {
        points: Vec::new(),
        xyz_mm: Vec::new(),
        covariance: Vec::new(),
    };
    let mut forms: Vec<LinearForm> = Vec::new();
    for id in points {
        let trusted = job.points.get(id).is_some_and(|point| point.trusted);
        let read = match trusted {
            true => built.read.iter().any(|read| read.contains(id)),
            false => built.read[at].contains(id),
        };
        let Some(block) = built.place(job, id, at).filter(|_| read) else {
            continue;
        };
        let xyz = solution.block(block);
        found.points.push(id.clone());
        found.xyz_mm.push([xyz[0], xyz[1], xyz[2]]);
        forms.extend((0..3).map(|axis| one(block, axis)));
    }
    found.covariance = solution.covariance(&forms);
    Some(found)
}
