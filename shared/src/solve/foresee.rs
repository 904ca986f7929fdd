//! What a reading makes of its pair, before anything is solved again.
//!
//! One more row changes a solution by a product (to first order), so whoever entered the number has
//! the pair's difference in the same moment; the solution that follows has the last word. This file
//! refuses to guess: where that first order would not hold, nothing is foreseen.

use super::Solver;
use super::network::{Built, one};
use super::quantities::{Found, MEASURED, Quantity, judged_pair, pair_quantities};
use crate::adjust::{LinearForm, Solution};
use crate::ids::PointId;
use crate::job::{Job, Reading};
use crate::result::PairResult;

/// What first order leaves out of a distance, at most; millimetres.
const CURVED_MM: f64 = 0.02;

impl Solver {
    /// The quantities of a pair with this reading taken too. `job` is as it was solved, without the
    /// reading. `None` when the reading corrects another, contradicts the rest, moves the points of a
    /// distance too far for first order, or has no part in the last solution.
    #[must_use]
    pub fn foresee(
        &self,
        job: &Job,
        reading: &Reading,
        left: &PointId,
        right: &PointId,
    ) -> Option<PairResult> {
        if reading.replaces.is_some() || reading.set_aside.is_some() || reading.tool.is_some() {
            return None;
        }
        let expected = self.expect(job, &reading.stage, &reading.taken, reading.sigma_mm);
        let (stage, built, solution) = self.newest(job, &reading.stage)?;
        let (mut observation, correction) =
            built.checked(job, &reading.stage, &reading.taken, reading.sigma_mm)?;
        observation.value[0] -= reading.origin_mm;
        let as_read = observation.value[0] + correction;
        if expected.is_some_and(|expected| expected.contradicts(as_read)) {
            return None;
        }
        let quantities = pair_quantities(job, built, stage, left, right)?;
        let ends = ends(job, built, stage, reading)?;
        let pairs = quantities.iter().map(|quantity| &quantity.form);
        let forms: Vec<LinearForm> = pairs.chain(&ends).cloned().collect();
        let mut told = solution.with_one_more(&observation, &forms)?;
        let moved = told.split_off(quantities.len());
        if curved_mm(solution, &ends, &moved) > CURVED_MM {
            return None;
        }
        let mut told = told.into_iter();
        let found = quantities.map(|quantity: Quantity| {
            let (value, variance) = told.next().unwrap_or_default();
            // With trust on the very quantity, what the readings alone know is not followed here.
            let is_measured = quantity.measured(solution)
                || (quantity.trust.is_empty()
                    && variance <= MEASURED * solution.prior_variance(&quantity.form));
            Found {
                quantity,
                is_measured,
                value,
                variance,
            }
        });
        Some(judged_pair(job, left, right, Some(found)))
    }
}

/// The places of both ends of a distance, axis by axis; empty for what sees one point.
fn ends(job: &Job, built: &Built, stage: usize, reading: &Reading) -> Option<Vec<LinearForm>> {
    let points: Vec<_> = reading.taken.points().collect();
    if points.len() < 2 {
        return Some(Vec::new());
    }
    let blocks = points.into_iter().map(|id| built.place(job, id, stage));
    let blocks: Option<Vec<_>> = blocks.collect();
    let forms = blocks?.into_iter();
    let forms = forms.flat_map(|block| [0, 1, 2].map(|axis| one(block, axis)));
    Some(forms.collect())
}

/// Half the square of how far both ends move against each other, over their distance: the sagitta.
fn curved_mm(solution: &Solution, ends: &[LinearForm], moved: &[(f64, f64)]) -> f64 {
    let Some((from, to)) = ends.split_at_checked(3).filter(|_| ends.len() >= 6) else {
        return 0.0;
    };
    let (mut square, mut distance) = (0.0, 0.0);
    for axis in 0..3 {
        let before = solution.value(&to[axis]) - solution.value(&from[axis]);
        let after = moved[axis + 3].0 - moved[axis].0;
        square += (after - before).powi(2);
        distance += before.powi(2);
    }
    0.5 * square / distance.sqrt().max(1.0)
}
