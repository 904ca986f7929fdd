//! How far each point moved from one stage to the next, and whether that is real.
//!
//! Millimetres. Both stages stand in one solution, so what they share (the trusted points) drops out
//! of the difference with its full covariance.

use crate::adjust::{LinearForm, Solution, Term};
use crate::damage::is_real;
use crate::ids::PointId;
use crate::job::Job;
use crate::result::Change;
use crate::solve::network::Built;

/// Variance of a movement that counts as measured, over that of its priors.
const MEASURED: f64 = 0.25;

/// A movement along each axis with its standard uncertainty; `None` when not measured.
pub(super) type Moved = [Option<(f64, f64)>; 3];

pub(super) fn all(job: &Job, built: &Built, solution: &Solution) -> Vec<Change> {
    let mut changes = Vec::new();
    for to in 1..job.stages.len() {
        let from = to - 1;
        for id in job.points.keys() {
            let Some(moved) = between(job, built, solution, id, from, to) else {
                continue;
            };
            changes.push(Change {
                from: job.stages[from].id.clone(),
                to: job.stages[to].id.clone(),
                point: id.clone(),
                move_mm: moved.map(|axis| axis.map(|(value, _)| value)),
                sigma_mm: moved.map(|axis| axis.map(|(_, sigma)| sigma)),
                real: moved.map(|axis| axis.map(|(value, sigma)| is_real(value, sigma))),
            });
        }
    }
    changes
}

/// `None` for a trusted point, which does not move, and for one not read in both stages.
pub(super) fn between(
    job: &Job,
    built: &Built,
    solution: &Solution,
    id: &PointId,
    from: usize,
    to: usize,
) -> Option<Moved> {
    let read = |stage: usize| built.read[stage].contains(id);
    if job.points.get(id)?.trusted || !read(from) || !read(to) {
        return None;
    }
    let before = built.place(job, id, from)?;
    let after = built.place(job, id, to)?;
    let moved: Moved = [0, 1, 2].map(|axis| {
        let term = |block, factor| Term {
            block,
            axis,
            factor,
        };
        let form = LinearForm(vec![term(before, -1.0), term(after, 1.0)]);
        let variance = solution.variance(&form);
        (variance <= MEASURED * solution.prior_variance(&form))
            .then(|| (solution.value(&form), variance.sqrt()))
    });
    moved.iter().any(Option::is_some).then_some(moved)
}
