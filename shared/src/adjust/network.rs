//! Rows of a problem laid out once, linearised and assembled many times.
//!
//! Rows are in unit weight: (value − predicted) / σ. Observation rows come first (three for a fix),
//! then prior rows, then what other stages carry over. This file refuses to know which rows are trusted.

use super::problem::{Problem, Term};
use super::rows::{linear_row, observe, unknowns};
use super::sparse::{Entries, Node, Pattern};

/// Layout of all rows on the pattern.
#[derive(Debug, Clone)]
pub(crate) struct Network {
    pub(crate) pattern: Pattern,
    /// First row of each observation; one more entry than observations.
    pub(crate) first_row: Vec<usize>,
    /// Weight of each row while every observation counts: 1, or 0 for a prior that carried rows
    /// stand for.
    pub(crate) standing: Vec<f64>,
    /// Where prior rows end.
    prior_end: usize,
    /// First term of each row; one more entry than rows.
    term: Vec<usize>,
    /// Unknown of each term.
    pub(crate) unknown: Vec<usize>,
    /// For each row, the slots of its pairs of terms (i < j).
    slot_start: Vec<usize>,
    slot: Vec<usize>,
}

/// Residuals and derivatives at one place.
#[derive(Debug, Clone, Default)]
pub(crate) struct Linear {
    /// (value − predicted) / σ per row.
    pub(crate) residual: Vec<f64>,
    /// ∂predicted/∂unknown / σ per term.
    pub(crate) coefficient: Vec<f64>,
    /// Rows that predict nothing here (no direction between coinciding points).
    pub(crate) blind: Vec<bool>,
}

impl Network {
    pub(crate) fn new(problem: &Problem) -> Self {
        let nodes: Vec<Node> = problem
            .blocks
            .iter()
            .map(|block| Node {
                stage: block.stage,
                start: block.start,
                size: block.size,
            })
            .collect();
        let mut cliques: Vec<Vec<usize>> = Vec::new();
        for observation in &problem.observations {
            cliques.push(
                observation
                    .sight
                    .blocks()
                    .iter()
                    .map(|block| block.0)
                    .collect(),
            );
        }
        for (form, _, _) in &problem.priors {
            cliques.push(form.0.iter().map(|term| term.block.0).collect());
        }
        for (form, _) in &problem.carried {
            cliques.push(form.0.iter().map(|term| term.block.0).collect());
        }
        cliques.extend(
            problem
                .asked_together
                .iter()
                .map(|pair| vec![pair[0].0, pair[1].0]),
        );
        for clique in &mut cliques {
            clique.sort_unstable();
            clique.dedup();
        }
        let mut network = Self {
            pattern: Pattern::new(&nodes, cliques.iter().map(Vec::as_slice)),
            first_row: vec![0],
            standing: Vec::new(),
            prior_end: 0,
            term: vec![0],
            unknown: Vec::new(),
            slot_start: vec![0],
            slot: Vec::new(),
        };
        for observation in &problem.observations {
            for _ in 0..observation.sight.rows() {
                network.lay_row(unknowns(problem, observation));
            }
            network.first_row.push(network.rows());
        }
        network.standing = vec![1.0; network.rows()];
        for (form, _, _) in &problem.priors {
            network.lay_row(form.0.iter().map(|term| problem.index(term)).collect());
            let shared = |term: &Term| problem.blocks[term.block.0].stage.is_none();
            let stood_for = !problem.carried.is_empty() && form.0.iter().all(shared);
            network.standing.push(if stood_for { 0.0 } else { 1.0 });
        }
        network.prior_end = network.rows();
        for (form, _) in &problem.carried {
            network.lay_row(form.0.iter().map(|term| problem.index(term)).collect());
            network.standing.push(1.0);
        }
        network
    }

    fn lay_row(&mut self, unknowns: Vec<usize>) {
        for (i, a) in unknowns.iter().enumerate() {
            for b in &unknowns[i + 1..] {
                let slot = self
                    .pattern
                    .slot(self.pattern.position[*a], self.pattern.position[*b]);
                self.slot
                    .push(slot.expect("the unknowns of one row are a clique of the pattern"));
            }
        }
        self.slot_start.push(self.slot.len());
        self.unknown.extend(unknowns);
        self.term.push(self.unknown.len());
    }

    /// All rows, priors included.
    pub(crate) fn rows(&self) -> usize {
        self.term.len() - 1
    }

    /// Rows of observations.
    pub(crate) fn observation_rows(&self) -> usize {
        self.first_row.last().copied().unwrap_or(0)
    }

    /// Rows of priors.
    pub(crate) fn prior_rows(&self) -> std::ops::Range<usize> {
        self.observation_rows()..self.prior_end
    }

    pub(crate) fn terms(&self, row: usize) -> std::ops::Range<usize> {
        self.term[row]..self.term[row + 1]
    }

    /// Fills `linear` at `x`.
    pub(crate) fn linearise(&self, problem: &Problem, x: &[f64], linear: &mut Linear) {
        linear.residual.clear();
        linear.coefficient.clear();
        linear.blind.clear();
        for observation in &problem.observations {
            observe(problem, observation, x, linear);
        }
        for (form, value, sigma) in &problem.priors {
            linear_row(problem, &form.0, *value, *sigma, x, linear);
        }
        for (form, value) in &problem.carried {
            linear_row(problem, &form.0, *value, 1.0, x, linear);
        }
    }

    /// Normal matrix and right-hand side (by position) with a weight per row. `stiffness` multiplies
    /// the priors in the matrix alone, which shortens steps where little but priors holds.
    pub(crate) fn assemble(
        &self,
        linear: &Linear,
        weight: &[f64],
        stiffness: f64,
    ) -> (Entries, Vec<f64>) {
        let mut normal = self.pattern.zeros();
        let mut right = vec![0.0; self.pattern.size()];
        for (row, &w) in weight.iter().enumerate() {
            if w == 0.0 {
                continue;
            }
            let matrix = if row < self.observation_rows() {
                w
            } else {
                w * stiffness
            };
            let terms = self.terms(row);
            let mut slot = self.slot_start[row];
            for i in terms.clone() {
                let scaled = matrix * linear.coefficient[i];
                let position = self.pattern.position[self.unknown[i]];
                normal.diagonal[position] += scaled * linear.coefficient[i];
                right[position] += w * linear.coefficient[i] * linear.residual[row];
                for j in i + 1..terms.end {
                    normal.lower[self.slot[slot]] += scaled * linear.coefficient[j];
                    slot += 1;
                }
            }
        }
        (normal, right)
    }

    /// a·Q·aᵀ of one row from the inverse on the pattern.
    pub(crate) fn row_variance(&self, linear: &Linear, inverse: &Entries, row: usize) -> f64 {
        let terms = self.terms(row);
        let mut slot = self.slot_start[row];
        let mut sum = 0.0;
        for i in terms.clone() {
            let c = linear.coefficient[i];
            sum += c * c * inverse.diagonal[self.pattern.position[self.unknown[i]]];
            for j in i + 1..terms.end {
                sum += 2.0 * c * linear.coefficient[j] * inverse.lower[self.slot[slot]];
                slot += 1;
            }
        }
        sum
    }

    /// One row's derivatives as a vector by position.
    pub(crate) fn spread_row(&self, linear: &Linear, row: usize) -> Vec<f64> {
        let mut vector = vec![0.0; self.pattern.size()];
        for i in self.terms(row) {
            vector[self.pattern.position[self.unknown[i]]] += linear.coefficient[i];
        }
        vector
    }

    /// One row's derivatives times a vector by position.
    pub(crate) fn row_times(&self, linear: &Linear, row: usize, vector: &[f64]) -> f64 {
        self.terms(row)
            .map(|i| linear.coefficient[i] * vector[self.pattern.position[self.unknown[i]]])
            .sum()
    }
}
