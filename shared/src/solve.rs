//! From a job to its result: the one door to the engine.
//!
//! Millimetres and degrees. [`solve`] never fails: contradictory, empty or degenerate readings give
//! a report that says so. [`Solver`] keeps the last solution, so that one more reading on a phone
//! starts from it, and says what a reading should be before it counts. [`Solver::answer`] is quick
//! enough for every keystroke: it solves the stage in hand alone. [`Solver::explain`] solves the rest
//! and adds why, when there is a moment.

mod network;
mod rows;
mod quantities;
mod checks;
mod doubts;
mod explain;
mod hand;
mod foresee;
mod positions;

use std::collections::HashMap;

use crate::adjust::{Solution, adjust};
use crate::ids::StageId;
use crate::job::{Job, Taken};
use crate::result::{FORMAT, Fit, JobResult, Rule};
use hand::{Hand, Whole};
use network::{Built, Key};

pub use explain::say::{member, way};
pub use positions::{Positions, positions};

/// Solves a job from nothing, causes and all.
#[must_use]
pub fn solve(job: &Job) -> JobResult {
    let mut solver = Solver::default();
    let mut result = solver.solve(job);
    solver.explain(job, &mut result);
    result
}

/// What a reading should be, from all others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expectation {
    /// The number to expect, before the tape's origin is subtracted; millimetres.
    pub value_mm: f64,
    /// Standard uncertainty of a reading around it, its own included; millimetres.
    pub sigma_mm: f64,
}

/// A prediction that would not notice a tape read from its 100 mm mark is none.
const LEAST_SLIP_MM: f64 = 100.0;

impl Expectation {
    /// How many spreads a value is away.
    #[must_use]
    pub fn distance(&self, value_mm: f64) -> f64 {
        (value_mm - self.value_mm) / self.sigma_mm
    }

    /// Is a value so far off that a person should look again? (The limit of the test on one
    /// reading, two-sided α = 0.001.)
    #[must_use]
    pub fn contradicts(&self, value_mm: f64) -> bool {
        self.distance(value_mm).abs() > crate::adjust::LIMIT
    }
}

/// Solves one job again and again as readings come in.
#[derive(Debug, Clone, Default)]
pub struct Solver {
    known: HashMap<Key, Vec<f64>>,
    last: Option<(Built, Solution)>,
    whole: Option<Whole>,
    /// Newer than `last`, for one stage.
    hand: Option<Hand>,
}

impl Solver {
    /// Solves the job, starting from the last solution where blocks are the same. Modes, causes,
    /// pulls, changes and next readings stay empty: see [`Self::explain`].
    pub fn solve(&mut self, job: &Job) -> JobResult {
        let built = Built::new(job);
        let start = self.start(&built);
        let solution = adjust(built.problem.clone(), start.as_deref());
        self.known = built
            .blocks()
            .map(|(key, block)| (key.clone(), solution.block(block).to_vec()))
            .collect();
        let result = report(job, &built, &solution);
        self.last = Some((built, solution));
        self.whole = Some(Whole::new(job, &result));
        self.hand = None;
        result
    }

    /// Solves what changed since the last whole solution: the one stage in which readings came or
    /// went, with all others carried over (exact to first order), else the whole job. What other
    /// stages say, and the fit, stay as they were until [`Self::explain`].
    pub fn answer(&mut self, job: &Job) -> JobResult {
        let Some(stage) = self
            .whole
            .as_ref()
            .and_then(|whole| whole.only_changed(job))
        else {
            return self.solve(job);
        };
        let (Some(whole), Some((_, last))) = (&mut self.whole, &self.last) else {
            return self.solve(job);
        };
        let mut built = Built::of_stage(job, stage);
        if !built.problem.carry(whole.carried(last, stage)) {
            return self.solve(job);
        }
        let start = self.start(&built);
        let solution = adjust(built.problem.clone(), start.as_deref());
        let own = built
            .blocks()
            .map(|(key, block)| (key.clone(), solution.block(block).to_vec()));
        self.known.extend(own);
        let hand = Hand {
            stage,
            built,
            solution,
        };
        let result = self.whole.as_ref().map(|whole| whole.with(job, &hand));
        self.hand = Some(hand);
        result.unwrap_or_else(|| self.solve(job))
    }

    /// Fills in what [`Self::solve`] and [`Self::answer`] leave out of their last result: the other
    /// stages, modes, causes, pulls, movements between stages and what to read next. The same job and
    /// its result must be given.
    pub fn explain(&mut self, job: &Job, result: &mut JobResult) {
        if self.hand.is_some() {
            *result = self.solve(job);
        }
        let Some((built, solution)) = &self.last else {
            return;
        };
        if result.stages.len() == job.stages.len() {
            explain::explain(job, built, solution, result);
        }
    }

    /// What this reading should be, from the last solution; `None` when nothing can be expected yet.
    #[must_use]
    pub fn expect(
        &self,
        job: &Job,
        stage: &StageId,
        taken: &Taken,
        sigma_mm: Option<f64>,
    ) -> Option<Expectation> {
        let (_, built, solution) = self.newest(job, stage)?;
        let (observation, correction) = built.checked(job, stage, taken, sigma_mm)?;
        let (value_mm, spread) = solution.predict(&observation)?;
        let (value_mm, sigma) = (value_mm + correction, spread.hypot(observation.sigma));
        (crate::adjust::LIMIT * sigma < LEAST_SLIP_MM).then_some(Expectation {
            value_mm,
            sigma_mm: sigma,
        })
    }

    /// The newest solution that knows a stage, with the stage's place among the job's.
    fn newest(&self, job: &Job, stage: &StageId) -> Option<(usize, &Built, &Solution)> {
        let of = job.stages.iter().position(|known| known.id == *stage)?;
        match (&self.hand, &self.last) {
            (Some(hand), _) if hand.stage == of => Some((of, &hand.built, &hand.solution)),
            (_, Some((built, solution))) => Some((of, built, solution)),
            _ => None,
        }
    }

    fn start(&self, built: &Built) -> Option<Vec<f64>> {
        if self.known.is_empty() {
            return None;
        }
        let mut start = built.first_idea();
        for (key, block) in built.blocks() {
            if let Some(values) = self.known.get(key) {
                built.set(&mut start, block, values);
            }
        }
        Some(start)
    }
}

fn report(job: &Job, built: &Built, solution: &Solution) -> JobResult {
    let settings = job.settings;
    let (chi2, redundancy, rows) = solution.fit();
    let ended = solution.report();
    JobResult {
        format: FORMAT.to_owned(),
        rule: Rule {
            tolerance_mm: settings.tolerance_mm,
            conformity: settings.conformity,
            build_spread_mm: settings.build_spread_mm,
        },
        fit: Fit {
            converged: ended.converged,
            iterations: ended.iterations,
            rows,
            degrees_of_freedom: redundancy,
            chi2,
            p: chi_square_tail(chi2, redundancy),
        },
        stages: (0..job.stages.len())
            .map(|stage| quantities::stage(job, built, solution, stage))
            .collect(),
        suspects: doubts::suspects(job, built, solution),
        trust: doubts::trust(job, built, solution),
        readings: doubts::readings(job, built, solution),
        changes: Vec::new(),
        next: Vec::new(),
    }
}

/// Probability of a chi-square at least this large; the redundancy need not be a whole number.
fn chi_square_tail(chi2: f64, redundancy: f64) -> Option<f64> {
    if redundancy < 1e-3 || !chi2.is_finite() {
        return None;
    }
    statrs::function::gamma::checked_gamma_ur(0.5 * redundancy, 0.5 * chi2.max(1e-300)).ok()
}

#[cfg(test)]
pub(crate) mod tests;
