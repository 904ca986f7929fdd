//! Gauss-Newton with backtracking for fixed weights, and the robust start.
//!
//! The start must not let one 100 mm misread drag weak unknowns away: it begins with weights that
//! grow like a median's (pseudo-Huber), and then lowers the influence of far rows step by step
//! (graduated non-convexity with the Geman-McClure function: Yang, Antonante, Tzoumas, Carlone,
//! *Graduated Non-Convexity for Robust Spatial Perception*, IEEE RA-L 5, 2020).

use super::network::{Linear, Network};
use super::problem::Problem;
use super::recent::Recent;
use super::sparse::Entries;

/// Converged when the step, in units of each unknown's own spread, is below this.
pub(crate) const SMALL_STEP: f64 = 1e-6;
/// Near enough to test rows and go on.
pub(crate) const ROUGH_STEP: f64 = 1e-2;
/// After a step below this the matrix stays as it is: what it would change is of second order, and the
/// place where no step is left does not depend on it.
const NEAR_STEP: f64 = 1e-3;
/// Iterations with fixed weights before giving up.
const MAX_ITERATIONS: u32 = 60;
/// Plain Gauss-Newton for this many iterations; nearly all jobs need no more.
const FIRST_ORDER: u32 = 7;
/// From a step below this on, the steps are seen together, and the priors stay as stiff as they are.
const MIXING_STEP: f64 = 0.1;
/// The largest step that they may lead to, so seen.
const MIXED_STEP: f64 = 1.0;
/// Most that priors are stiffened for a step.
const MAX_STIFFNESS: f64 = 1e4;
/// Rounds of the pseudo-Huber stage.
const MEDIAN_ROUNDS: u32 = 12;
/// Where the pseudo-Huber weight starts to fall, in σ.
const MEDIAN_BEND: f64 = 1.5;
/// Where the Geman-McClure function lets go in the end, in σ.
const LETTING_GO: f64 = 3.0;
/// Factor between two rounds of the graduated stage.
const GRADUATION: f64 = 4.0;

/// State of the iteration.
#[derive(Debug, Clone)]
pub(crate) struct State {
    /// Unknowns.
    pub(crate) x: Vec<f64>,
    /// Rows at `x`.
    pub(crate) linear: Linear,
    /// Factor at `x`.
    pub(crate) factor: Entries,
    /// Did the last run reach its stopping rule?
    pub(crate) converged: bool,
    /// Iterations of the last run.
    pub(crate) iterations: u32,
    /// How much the priors are stiffened for a step, 1 or more.
    stiffness: f64,
    /// What belongs to `factor` while nothing has moved since.
    kept: Option<Kept>,
    /// The last steps with the same weights and stiffness.
    recent: Recent,
}

/// The equations that a factor solves, so that the next step need not make both again.
#[derive(Debug, Clone)]
struct Kept {
    weight: Vec<f64>,
    stiffness: f64,
    diagonal: Vec<f64>,
    right: Vec<f64>,
    /// Has nothing moved since?
    here: bool,
    /// Has little moved since, so that the matrix is still good for a step?
    near: bool,
}

impl State {
    pub(crate) fn new(problem: &Problem, network: &Network, x: Vec<f64>) -> Self {
        let mut linear = Linear::default();
        network.linearise(problem, &x, &mut linear);
        Self {
            x,
            linear,
            factor: Entries::default(),
            converged: false,
            iterations: 0,
            stiffness: 1.0,
            kept: None,
            recent: Recent::default(),
        }
    }

    /// Solves with fixed weights, from where it stands.
    pub(crate) fn settle(
        &mut self,
        problem: &Problem,
        network: &Network,
        weight: &[f64],
        enough: f64,
    ) {
        self.converged = false;
        self.stiffness = 1.0;
        for iteration in 1..=MAX_ITERATIONS {
            self.iterations = iteration;
            let largest = self.step(problem, network, weight);
            if largest < enough {
                self.converged = true;
                break;
            }
        }
        // The factor belongs to the last linearisation.
        self.equations(network, seeing(&self.linear, weight), 1.0);
    }

    /// Makes the normal equations where it stands, and their factor.
    fn equations(&mut self, network: &Network, weight: Vec<f64>, stiffness: f64) {
        let (normal, right) = network.assemble(&self.linear, &weight, stiffness);
        self.kept = Some(Kept {
            weight,
            stiffness,
            diagonal: normal.diagonal.clone(),
            right,
            here: true,
            near: true,
        });
        self.factor = normal;
        network.pattern.factor(&mut self.factor);
    }

    /// One Gauss-Newton step along which the cost falls; returns its largest part in units of the
    /// unknowns' own spread (conditional, so never larger than the full spread).
    fn step(&mut self, problem: &Problem, network: &Network, weight: &[f64]) -> f64 {
        let seeing = seeing(&self.linear, weight);
        let same = |kept: &Kept| kept.stiffness == self.stiffness && kept.weight == seeing;
        let same = self.kept.as_ref().filter(|kept| same(kept));
        let good = same.is_some_and(|kept| kept.near);
        if same.is_none() {
            self.recent.forget();
        }
        if !good {
            self.equations(network, seeing, self.stiffness);
        }
        let Some(mut kept) = self.kept.take() else {
            return f64::INFINITY;
        };
        if !kept.here {
            kept.right = network.right(&self.linear, &kept.weight);
        }
        let (seeing, right) = (&kept.weight, &kept.right);
        let mut step = right.clone();
        network.pattern.solve(&self.factor, &mut step);
        let largest = step
            .iter()
            .zip(&kept.diagonal)
            .map(|(s, d)| s.abs() * d.sqrt())
            .fold(0.0, f64::max);
        if !largest.is_finite() {
            return f64::INFINITY;
        }
        let before = cost(&self.linear, seeing);
        let falls = |after: f64| after <= before * (1.0 + 1e-12) + 1e-12;
        if largest < MIXING_STEP
            && let Some(reached) = self.mix(problem, network, &step, &kept, falls)
        {
            kept.here = false;
            kept.near = largest.max(reached) < NEAR_STEP;
            self.kept = Some(kept);
            return largest;
        }
        let slope = -2.0 * step.iter().zip(right).map(|(s, r)| s * r).sum::<f64>();
        let start = self.x.clone();
        let mut share = 1.0;
        for attempt in 0..12 {
            for (unknown, value) in self.x.iter_mut().enumerate() {
                *value = start[unknown] + share * step[network.pattern.position[unknown]];
            }
            network.linearise(problem, &self.x, &mut self.linear);
            let after = cost(&self.linear, seeing);
            // The parabola through slope and both costs says where the cost is least. Where priors
            // alone hold an unknown, a residual of a few σ bends the cost more than the prior does
            // (second derivatives, which Gauss-Newton leaves out): steps overshoot again and again.
            // Stiffening the priors by that much makes the next step fit.
            let bend = (after - before) / (share * share) - slope / share;
            let best = if bend > 0.0 {
                -0.5 * slope / bend
            } else {
                share
            };
            if attempt == 0 && largest > MIXING_STEP && self.iterations > FIRST_ORDER {
                self.stiffness = (self.stiffness / best.clamp(0.05, 4.0)).clamp(1.0, MAX_STIFFNESS);
            }
            if falls(after) && (attempt > 0 || best > 0.8 * share || largest < 1e-4) {
                kept.here = false;
                kept.near = largest < NEAR_STEP;
                self.kept = Some(kept);
                return largest;
            }
            share = best.clamp(0.1 * share, 0.7 * share);
        }
        self.x = start;
        network.linearise(problem, &self.x, &mut self.linear);
        // No step helps: rounding is all that is left, or the place is a ridge.
        if largest < 1e-3 { 0.0 } else { largest }
    }

    /// Goes to where the last steps lead, seen together, if the cost falls along the way; returns the
    /// largest part of the step that it took.
    fn mix(
        &mut self,
        problem: &Problem,
        network: &Network,
        step: &[f64],
        kept: &Kept,
        falls: impl Fn(f64) -> bool,
    ) -> Option<f64> {
        let position = &network.pattern.position;
        let by_unknown = |values: &[f64]| position.iter().map(|p| values[*p]).collect::<Vec<_>>();
        let (step, scale) = (by_unknown(step), by_unknown(&kept.diagonal));
        let mixed = self.recent.mix(&self.x, &step, &scale)?;
        let sizes = mixed.iter().zip(&scale).map(|(s, d)| s.abs() * d.sqrt());
        let reached = sizes.fold(0.0, f64::max);
        if reached > MIXED_STEP {
            return None;
        }
        let start = self.x.clone();
        for (value, step) in self.x.iter_mut().zip(mixed) {
            *value += step;
        }
        network.linearise(problem, &self.x, &mut self.linear);
        if falls(cost(&self.linear, &kept.weight)) {
            return Some(reached);
        }
        self.x = start;
        network.linearise(problem, &self.x, &mut self.linear);
        None
    }

    /// Robust solution; leaves the state near it.
    pub(crate) fn start_robustly(&mut self, problem: &Problem, network: &Network) {
        let observed = network.observation_rows();
        let mut weight = network.standing.clone();
        for _ in 0..MEDIAN_ROUNDS {
            reweigh(network, &self.linear, &mut weight, |square| {
                1.0 / (1.0 + square / (MEDIAN_BEND * MEDIAN_BEND)).sqrt()
            });
            if self.step(problem, network, &weight) < 1e-2 {
                break;
            }
        }
        let far = self.linear.residual[..observed]
            .iter()
            .fold(0.0_f64, |most, r| most.max(r * r));
        let mut graduation = (2.0 * far / (LETTING_GO * LETTING_GO)).min(1e6);
        while graduation > 1.0 {
            let reach = graduation * LETTING_GO * LETTING_GO;
            reweigh(network, &self.linear, &mut weight, |square| {
                (reach / (reach + square)).powi(2)
            });
            self.step(problem, network, &weight);
            graduation /= GRADUATION;
        }
        let reach = LETTING_GO * LETTING_GO;
        for _ in 0..4 {
            reweigh(network, &self.linear, &mut weight, |square| {
                (reach / (reach + square)).powi(2)
            });
            if self.step(problem, network, &weight) < 1e-2 {
                break;
            }
        }
    }
}

/// Sets the weight of each observation from the square of its residual; a fix is one observation.
fn reweigh(network: &Network, linear: &Linear, weight: &mut [f64], rule: impl Fn(f64) -> f64) {
    for pair in network.first_row.windows(2) {
        let rows = pair[0]..pair[1];
        let square: f64 = linear.residual[rows.clone()].iter().map(|r| r * r).sum();
        weight[rows].fill(rule(square));
    }
}

/// Weights without the rows that predict nothing here.
fn seeing(linear: &Linear, weight: &[f64]) -> Vec<f64> {
    weight
        .iter()
        .zip(&linear.blind)
        .map(|(w, blind)| if *blind { 0.0 } else { *w })
        .collect()
}

fn cost(linear: &Linear, weight: &[f64]) -> f64 {
    linear
        .residual
        .iter()
        .zip(weight)
        .map(|(r, w)| w * r * r)
        .sum()
}
