//! The solved network: values, covariances of any linear combination, tests per observation.
//!
//! Lengths in millimetres, angles in radians. This file refuses to know what a quantity means.

use super::iterate::State;
use super::network::{Linear, Network, observe};
use super::problem::{Block, LinearForm, Observation, Problem};
use super::sparse::Entries;
use super::suspects::{NO_REDUNDANCY, Suspect};

/// How the iteration ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Report {
    /// Did the step become small?
    pub converged: bool,
    /// Iterations of the final solution.
    pub iterations: u32,
}

/// One observation in the solution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tested {
    /// Value minus prediction, in the observation's unit (largest row of a fix).
    pub residual: f64,
    /// Baarda's w; `None` without redundancy or when the observation does not count.
    pub w: Option<f64>,
    /// Redundancy number, 0 to 1 (mean over the rows of a fix).
    pub redundancy: f64,
}

/// A solved problem.
#[derive(Debug, Clone)]
pub struct Solution {
    pub(crate) problem: Problem,
    pub(crate) network: Network,
    pub(crate) state: State,
    pub(crate) inverse: Entries,
    pub(crate) prior_inverse: Entries,
    pub(crate) used: Vec<bool>,
    pub(crate) suspects: Vec<Suspect>,
    pub(crate) report: Report,
}

impl Solution {
    /// How the iteration ended.
    #[must_use]
    pub fn report(&self) -> Report {
        self.report
    }

    /// All unknowns, in the order of the blocks; a start for a later solution of the same shape.
    #[must_use]
    pub fn unknowns(&self) -> &[f64] {
        &self.state.x
    }

    /// The values of one block.
    #[must_use]
    pub fn block(&self, block: Block) -> &[f64] {
        let spec = &self.problem.blocks[block.0];
        &self.state.x[spec.start..spec.start + spec.size]
    }

    /// Suspects, worst first.
    #[must_use]
    pub fn suspects(&self) -> &[Suspect] {
        &self.suspects
    }

    /// Does this observation take part in the reported solution?
    #[must_use]
    pub fn uses(&self, observation: usize) -> bool {
        self.used[observation]
    }

    /// Value of a linear combination.
    #[must_use]
    pub fn value(&self, form: &LinearForm) -> f64 {
        form.0
            .iter()
            .map(|term| term.factor * self.state.x[self.problem.index(term)])
            .sum()
    }

    /// Variance of a linear combination.
    #[must_use]
    pub fn variance(&self, form: &LinearForm) -> f64 {
        self.quadratic(form, &self.inverse, Some(&self.state.factor))
    }

    /// Variance of a linear combination when nothing is observed.
    #[must_use]
    pub fn prior_variance(&self, form: &LinearForm) -> f64 {
        self.quadratic(form, &self.prior_inverse, None)
    }

    /// Covariance matrix of linear combinations, row by row.
    #[must_use]
    pub fn covariance(&self, forms: &[LinearForm]) -> Vec<Vec<f64>> {
        let vectors: Vec<Vec<f64>> = forms.iter().map(|form| self.solved(form)).collect();
        let entry = |form: &LinearForm, vector: &[f64]| -> f64 {
            form.0
                .iter()
                .map(|term| term.factor * vector[self.position(term)])
                .sum()
        };
        forms
            .iter()
            .map(|form| vectors.iter().map(|vector| entry(form, vector)).collect())
            .collect()
    }

    /// Variance of `form` if these counting observations did not count: what the others alone know.
    #[must_use]
    pub fn variance_without(&self, form: &LinearForm, observations: &[usize]) -> f64 {
        let mut variance = self.variance(form);
        let mut removed: Vec<(Vec<f64>, f64)> = Vec::new();
        for &observation in observations.iter().filter(|&&o| self.used[o]) {
            for row in self.network.first_row[observation]..self.network.first_row[observation + 1]
            {
                // Q grows by (Q a)(Q a)ᵀ / (1 − a Q aᵀ) when a row of unit weight goes.
                let mut vector = self.network.spread_row(&self.state.linear, row);
                self.network.pattern.solve(&self.state.factor, &mut vector);
                for (gone, left) in &removed {
                    let share = self.network.row_times(&self.state.linear, row, gone) / left;
                    for (v, g) in vector.iter_mut().zip(gone) {
                        *v += share * g;
                    }
                }
                let left = 1.0 - self.network.row_times(&self.state.linear, row, &vector);
                if left < NO_REDUNDANCY {
                    return f64::INFINITY;
                }
                let along: f64 = form
                    .0
                    .iter()
                    .map(|term| term.factor * vector[self.position(term)])
                    .sum();
                variance += along * along / left;
                removed.push((vector, left));
            }
        }
        variance
    }

    /// Variance of `form` if one more observation counted, by a rank-one update per row; `None`
    /// when the observation predicts nothing here.
    #[must_use]
    pub fn variance_with(&self, form: &LinearForm, observation: &Observation) -> Option<f64> {
        let (linear, unknowns) = self.look(observation)?;
        let mut variance = self.variance(form);
        let rows = observation.sight.rows();
        let width = unknowns.len();
        let mut added: Vec<(Vec<f64>, f64)> = Vec::new();
        for row in 0..rows {
            let coefficients = &linear.coefficient[row * width..(row + 1) * width];
            let times = |vector: &[f64]| -> f64 {
                unknowns
                    .iter()
                    .zip(coefficients)
                    .map(|(u, c)| c * vector[self.network.pattern.position[*u]])
                    .sum()
            };
            let mut vector = vec![0.0; self.network.pattern.size()];
            for (unknown, c) in unknowns.iter().zip(coefficients) {
                vector[self.network.pattern.position[*unknown]] += c;
            }
            self.network.pattern.solve(&self.state.factor, &mut vector);
            for (known, full) in &added {
                let share = times(known) / full;
                for (v, k) in vector.iter_mut().zip(known) {
                    *v -= share * k;
                }
            }
            let full = 1.0 + times(&vector);
            let along: f64 = form
                .0
                .iter()
                .map(|term| term.factor * vector[self.position(term)])
                .sum();
            variance -= along * along / full;
            added.push((vector, full));
        }
        Some(variance.max(0.0))
    }

    /// What an observation should read, and the spread of that prediction (its own σ apart).
    #[must_use]
    pub fn predict(&self, observation: &Observation) -> Option<(f64, f64)> {
        let (linear, unknowns) = self.look(observation)?;
        let mut vector = vec![0.0; self.network.pattern.size()];
        for (unknown, c) in unknowns.iter().zip(&linear.coefficient) {
            vector[self.network.pattern.position[*unknown]] += c;
        }
        let row = vector.clone();
        self.network.pattern.solve(&self.state.factor, &mut vector);
        let q: f64 = row.iter().zip(&vector).map(|(a, b)| a * b).sum();
        let predicted = observation.value[0] - linear.residual[0] * observation.sigma;
        Some((predicted, observation.sigma * q.max(0.0).sqrt()))
    }

    /// How a quantity would move if a suspect counted.
    #[must_use]
    pub fn pulled_by(&self, suspect: &Suspect, form: &LinearForm) -> f64 {
        form.0
            .iter()
            .map(|term| term.factor * suspect.pull[self.position(term)])
            .sum()
    }

    /// Residual, test value and redundancy of one observation.
    #[must_use]
    pub fn tested(&self, observation: usize) -> Tested {
        let sigma = self.problem.observations[observation].sigma;
        let rows = self.network.first_row[observation]..self.network.first_row[observation + 1];
        let count = rows.len() as f64;
        let mut tested = Tested {
            residual: 0.0,
            w: None,
            redundancy: 0.0,
        };
        for row in rows {
            let residual = self.state.linear.residual[row];
            if residual.abs() * sigma >= tested.residual.abs() {
                tested.residual = residual * sigma;
            }
            if !self.used[observation] || self.state.linear.blind[row] {
                continue;
            }
            let q = self
                .network
                .row_variance(&self.state.linear, &self.inverse, row);
            let r = (1.0 - q).clamp(0.0, 1.0);
            tested.redundancy += r / count;
            if r > NO_REDUNDANCY {
                let w = residual / r.sqrt();
                if tested.w.is_none_or(|most| w.abs() > most.abs()) {
                    tested.w = Some(w);
                }
            }
        }
        tested
    }

    /// Weighted sum of squared residuals and sum of redundancies over the counting observations,
    /// and their number of rows.
    #[must_use]
    pub fn fit(&self) -> (f64, f64, usize) {
        let mut fit = (0.0, 0.0, 0);
        for observation in (0..self.used.len()).filter(|&o| self.used[o]) {
            for row in self.network.first_row[observation]..self.network.first_row[observation + 1]
            {
                let q = self
                    .network
                    .row_variance(&self.state.linear, &self.inverse, row);
                fit.0 += self.state.linear.residual[row].powi(2);
                fit.1 += (1.0 - q).clamp(0.0, 1.0);
                fit.2 += 1;
            }
        }
        fit
    }

    fn look(&self, observation: &Observation) -> Option<(Linear, Vec<usize>)> {
        let mut linear = Linear::default();
        observe(&self.problem, observation, &self.state.x, &mut linear);
        let unknowns = super::network::unknowns(&self.problem, observation);
        let finite = linear
            .coefficient
            .iter()
            .chain(&linear.residual)
            .all(|v| v.is_finite());
        (finite && !linear.blind[0]).then_some((linear, unknowns))
    }

    fn position(&self, term: &super::Term) -> usize {
        self.network.pattern.position[self.problem.index(term)]
    }

    fn solved(&self, form: &LinearForm) -> Vec<f64> {
        let mut vector = vec![0.0; self.network.pattern.size()];
        for term in &form.0 {
            vector[self.position(term)] += term.factor;
        }
        self.network.pattern.solve(&self.state.factor, &mut vector);
        vector
    }

    /// gᵀ Z g from the inverse's entries on the pattern; where one is not at hand, a full solution
    /// (or, without a factor, no covariance: priors couple only what is in the pattern).
    fn quadratic(&self, form: &LinearForm, inverse: &Entries, factor: Option<&Entries>) -> f64 {
        let mut sum = 0.0;
        for (i, a) in form.0.iter().enumerate() {
            let p = self.position(a);
            sum += a.factor * a.factor * inverse.diagonal[p];
            for b in &form.0[i + 1..] {
                let q = self.position(b);
                let shared = if p == q {
                    inverse.diagonal[p]
                } else if let Some(slot) = self.network.pattern.slot(p, q) {
                    inverse.lower[slot]
                } else if factor.is_some() {
                    let vector = self.solved(form);
                    return form
                        .0
                        .iter()
                        .map(|t| t.factor * vector[self.position(t)])
                        .sum::<f64>()
                        .max(0.0);
                } else {
                    0.0
                };
                sum += 2.0 * a.factor * b.factor * shared;
            }
        }
        sum.max(0.0)
    }
}
