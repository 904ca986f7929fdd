//! The solved network: values, covariances of any linear combination, tests per observation.
//!
//! Lengths in millimetres, angles in radians. This file refuses to know what a quantity means.

use super::iterate::State;
use super::network::{Linear, Network};
use super::prior::Prior;
use super::problem::{Block, LinearForm, Observation, Problem, Sight, Term};
use super::rows::observe;
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
    pub(crate) prior: Prior,
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
        self.bilinear(form, form).max(0.0)
    }

    /// Variance of a linear combination when nothing is observed.
    #[must_use]
    pub fn prior_variance(&self, form: &LinearForm) -> f64 {
        let full = &self.network.pattern;
        self.prior.variance(&self.problem, full, form)
    }

    /// Covariance matrix of linear combinations, row by row.
    #[must_use]
    pub fn covariance(&self, forms: &[LinearForm]) -> Vec<Vec<f64>> {
        let joint = self.joint(forms.iter().map(|form| self.row(form)).collect());
        let rows = 0..forms.len();
        let line = |a| rows.clone().map(|b| joint.covariance(a, b)).collect();
        rows.clone().map(line).collect()
    }

    /// Variance of `form` if these counting observations, each a linear combination, did not count:
    /// what the others alone know.
    #[must_use]
    pub fn variance_without(&self, form: &LinearForm, observations: &[usize]) -> f64 {
        let rows: Vec<LinearForm> = observations
            .iter()
            .filter(|&&observation| self.used[observation])
            .filter_map(|&observation| self.in_unit_weight(observation))
            .collect();
        // Q grows by (Q aᵀ)(Q aᵀ)ᵀ / (1 − a Q aᵀ) when a row a of unit weight goes; one row after the
        // other, every product kept up to date.
        let mut forms: Vec<&LinearForm> = rows.iter().collect();
        forms.push(form);
        let count = forms.len();
        let mut q = vec![vec![0.0; count]; count];
        for a in 0..count {
            for b in a..count {
                q[a][b] = self.bilinear(forms[a], forms[b]);
                q[b][a] = q[a][b];
            }
        }
        for gone in 0..count - 1 {
            let left = 1.0 - q[gone][gone];
            if left < NO_REDUNDANCY {
                return f64::INFINITY;
            }
            let along = q[gone].clone();
            for (a, row) in q.iter_mut().enumerate() {
                for (b, entry) in row.iter_mut().enumerate() {
                    *entry += along[a] * along[b] / left;
                }
            }
        }
        q[count - 1][count - 1]
    }

    /// A linear observation as a row of unit weight; `None` for one that is not linear.
    fn in_unit_weight(&self, observation: usize) -> Option<LinearForm> {
        let Observation {
            sight: Sight::Linear(form),
            sigma,
            ..
        } = &self.problem.observations[observation]
        else {
            return None;
        };
        let scaled = form.0.iter().map(|term| Term {
            factor: term.factor / sigma,
            ..*term
        });
        Some(LinearForm(scaled.collect()))
    }

    /// Covariance of two linear combinations, from the inverse's entries where they are at hand.
    fn bilinear(&self, a: &LinearForm, b: &LinearForm) -> f64 {
        let mut sum = 0.0;
        for one in &a.0 {
            for other in &b.0 {
                let (p, q) = (self.position(one), self.position(other));
                let entry = if p == q {
                    self.inverse.diagonal[p]
                } else if let Some(slot) = self.network.pattern.slot(p, q) {
                    self.inverse.lower[slot]
                } else {
                    return self.half(a).dot(&self.half(b));
                };
                sum += one.factor * other.factor * entry;
            }
        }
        sum
    }

    /// What an observation should read, and the spread of that prediction (its own σ apart).
    #[must_use]
    pub fn predict(&self, observation: &Observation) -> Option<(f64, f64)> {
        let (linear, unknowns) = self.look(observation)?;
        let position = &self.network.pattern.position;
        let entries = unknowns.iter().zip(&linear.coefficient);
        let row = self.half_of(entries.map(|(unknown, c)| (position[*unknown], *c)));
        let predicted = observation.value[0] - linear.residual[0] * observation.sigma;
        Some((predicted, observation.sigma * row.variance().sqrt()))
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

    pub(super) fn look(&self, observation: &Observation) -> Option<(Linear, Vec<usize>)> {
        let mut linear = Linear::default();
        observe(&self.problem, observation, &self.state.x, &mut linear);
        let unknowns = super::rows::unknowns(&self.problem, observation);
        let finite = linear
            .coefficient
            .iter()
            .chain(&linear.residual)
            .all(|v| v.is_finite());
        (finite && !linear.blind[0]).then_some((linear, unknowns))
    }

    pub(super) fn position(&self, term: &Term) -> usize {
        self.network.pattern.position[self.problem.index(term)]
    }
}
