//! How far each point moved from one stage to the next, and whether that is real.
//!
//! Millimetres. Both stages stand in one solution, so what they share (the trusted points) drops out
//! of the difference with its full covariance.

use crate::adjust::{Block, Half, LinearForm, Solution, Term};
use crate::damage::is_real;
use crate::ids::PointId;
use crate::job::{Job, Point};
use crate::result::Change;
use crate::solve::network::{Built, one};

/// Variance of a movement that counts as measured, over that of its priors.
const MEASURED: f64 = 0.25;

/// A movement along each axis with its standard uncertainty; `None` when not measured.
pub(super) type Moved = [Option<(f64, f64)>; 3];

/// The movement of every point (by its place in the job) into every stage but the first.
pub(super) struct Moves(Vec<Vec<Option<Moved>>>);

impl Moves {
    pub(super) fn new(job: &Job, built: &Built, solution: &Solution) -> Self {
        let mut moves = vec![Vec::new()];
        if job.stages.len() < 2 {
            return Self(moves);
        }
        let mut before: Vec<Option<Place>> = Vec::new();
        for stage in 0..job.stages.len() {
            let now = places(job, built, solution, stage);
            if stage > 0 {
                let pairs = before.iter().zip(&now);
                moves.push(
                    pairs
                        .map(|(from, to)| moved(solution, from.as_ref()?, to.as_ref()?))
                        .collect(),
                );
            }
            before = now;
        }
        Self(moves)
    }

    /// `None` for a trusted point, which does not move, and for one not read in both stages.
    pub(super) fn into(&self, stage: usize, point: usize) -> Option<&Moved> {
        self.0.get(stage)?.get(point)?.as_ref()
    }

    /// Every movement that was measured, stage by stage.
    pub(super) fn told(&self, job: &Job) -> Vec<Change> {
        let mut changes = Vec::new();
        for to in 1..job.stages.len() {
            for (point, id) in job.points.keys().enumerate() {
                let Some(moved) = self.into(to, point) else {
                    continue;
                };
                changes.push(Change {
                    from: job.stages[to - 1].id.clone(),
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
}

/// A point's block in a stage, its axes half solved.
struct Place {
    block: Block,
    axes: [Half; 3],
}

/// Where each point that can move was read in a stage.
fn places(job: &Job, built: &Built, solution: &Solution, stage: usize) -> Vec<Option<Place>> {
    let place = |(id, point): (&PointId, &Point)| {
        if point.trusted || !built.read[stage].contains(id) {
            return None;
        }
        let block = built.place(job, id, stage)?;
        let axes = [0, 1, 2].map(|axis| solution.half(&one(block, axis)));
        Some(Place { block, axes })
    };
    job.points.iter().map(place).collect()
}

fn moved(solution: &Solution, from: &Place, to: &Place) -> Option<Moved> {
    let moved: Moved = [0, 1, 2].map(|axis| {
        let term = |block, factor| Term {
            block,
            axis,
            factor,
        };
        let form = LinearForm(vec![term(from.block, -1.0), term(to.block, 1.0)]);
        let (a, b) = (&from.axes[axis], &to.axes[axis]);
        let variance = (a.variance() + b.variance() - 2.0 * a.dot(b)).max(0.0);
        (variance <= MEASURED * solution.prior_variance(&form))
            .then(|| (solution.value(&form), variance.sqrt()))
    });
    moved.iter().any(Option::is_some).then_some(moved)
}
