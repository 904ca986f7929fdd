//! Rows of a problem laid out once, linearised and assembled many times.
//!
//! Rows are in unit weight: (value − predicted) / σ. Observation rows come first (three for a fix),
//! then prior rows, then what other stages carry over. This file refuses to know which rows are trusted.

use super::half::Half;
use super::iterate::State;
use super::problem::{BlockSpec, Problem, Term};
use super::rows::{linear_row, observe, unknowns};
use super::sparse::{Entries, Node, Pattern};
use crate::geometry::Up;

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
    /// What carried rows add to the normal matrix; they have no slots.
    carried: Share,
}

/// A constant part of the normal matrix: positions and slots with their numbers.
#[derive(Debug, Clone, Default)]
struct Share {
    diagonal: Vec<(usize, f64)>,
    lower: Vec<(usize, f64)>,
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
    /// The last tilt that was looked at: neighbouring readings share theirs.
    pub(crate) up: Option<([f64; 2], Up)>,
}

impl Network {
    pub(crate) fn new(problem: &Problem) -> Self {
        let nodes: Vec<Node> = problem.blocks.iter().map(BlockSpec::node).collect();
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
        cliques.extend(problem.priors.iter().map(|(form, _, _)| form.blocks()));
        cliques.extend(problem.carried.iter().map(|(form, _)| form.blocks()));
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
        cliques.dedup();
        let mut network = Self {
            pattern: Pattern::new(&nodes, cliques.iter().map(Vec::as_slice)),
            first_row: vec![0],
            standing: Vec::new(),
            prior_end: 0,
            term: vec![0],
            unknown: Vec::new(),
            slot_start: vec![0],
            slot: Vec::new(),
            carried: Share::default(),
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
        network.lay_carried(problem);
        network
    }

    /// Carried rows are long and never change: their share of the normal matrix is laid once.
    fn lay_carried(&mut self, problem: &Problem) {
        let mut place = vec![usize::MAX; self.pattern.size()];
        let mut positions = Vec::new();
        for (form, _) in &problem.carried {
            for term in &form.0 {
                let unknown = problem.index(term);
                let position = self.pattern.position[unknown];
                if place[position] == usize::MAX {
                    place[position] = positions.len();
                    positions.push(position);
                }
                self.unknown.push(unknown);
            }
            self.term.push(self.unknown.len());
            self.slot_start.push(self.slot.len());
            self.standing.push(1.0);
        }
        let size = positions.len();
        let mut square = vec![0.0; size * size];
        for (form, _) in &problem.carried {
            let at = |term: &Term| place[self.pattern.position[problem.index(term)]];
            let terms: Vec<(usize, f64)> = form.0.iter().map(|t| (at(t), t.factor)).collect();
            for (a, of_a) in &terms {
                let line = &mut square[a * size..(a + 1) * size];
                terms.iter().for_each(|(b, of_b)| line[*b] += of_a * of_b);
            }
        }
        for (a, &position) in positions.iter().enumerate() {
            self.carried.diagonal.push((position, square[a * size + a]));
            for (b, &other) in positions[..a].iter().enumerate() {
                // Two that no row has together add nothing.
                if let Some(slot) = self.pattern.slot(position, other) {
                    self.carried.lower.push((slot, square[a * size + b]));
                }
            }
        }
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
        for (row, (form, value)) in (self.prior_end..).zip(&problem.carried) {
            let unknowns = &self.unknown[self.terms(row)];
            let terms = form.0.iter().zip(unknowns);
            let sum: f64 = terms.map(|(term, unknown)| term.factor * x[*unknown]).sum();
            linear.residual.push(value - sum);
            linear.blind.push(false);
            let factors = form.0.iter().map(|term| term.factor);
            linear.coefficient.extend(factors);
        }
    }

    /// Normal matrix and right-hand side (by position) with a weight per row; carried rows count all
    /// or none. `stiffness`
    /// multiplies the priors in the matrix alone, which shortens steps where little but priors holds.
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
            let (unknowns, residual) = (&self.unknown[terms.clone()], linear.residual[row]);
            let coefficients = &linear.coefficient[terms];
            let carried = row >= self.prior_end;
            let mut slots = self.slot[self.slot_start[row]..].iter();
            for (i, (unknown, c)) in unknowns.iter().zip(coefficients).enumerate() {
                let position = self.pattern.position[*unknown];
                right[position] += w * c * residual;
                if carried {
                    continue;
                }
                let scaled = matrix * c;
                normal.diagonal[position] += scaled * c;
                for (other, slot) in coefficients[i + 1..].iter().zip(&mut slots) {
                    normal.lower[*slot] += scaled * other;
                }
            }
        }
        if weight[self.prior_end..].iter().any(|w| *w != 0.0) {
            for (position, value) in &self.carried.diagonal {
                normal.diagonal[*position] += value;
            }
            for (slot, value) in &self.carried.lower {
                normal.lower[*slot] += value;
            }
        }
        (normal, right)
    }

    /// The right-hand side alone.
    pub(crate) fn right(&self, linear: &Linear, weight: &[f64]) -> Vec<f64> {
        let mut right = vec![0.0; self.pattern.size()];
        for (row, w) in weight.iter().enumerate() {
            let scaled = w * linear.residual[row];
            for i in self.terms(row) {
                right[self.pattern.position[self.unknown[i]]] += scaled * linear.coefficient[i];
            }
        }
        right
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

    /// One row, half solved.
    pub(crate) fn row_half(&self, state: &State, row: usize) -> Half {
        let terms = self.terms(row).map(|i| {
            let position = self.pattern.position[self.unknown[i]];
            (position, state.linear.coefficient[i])
        });
        Half::new(&self.pattern, &state.factor, terms)
    }

    /// One row's derivatives times a vector by position.
    pub(crate) fn row_times(&self, linear: &Linear, row: usize, vector: &[f64]) -> f64 {
        self.terms(row)
            .map(|i| linear.coefficient[i] * vector[self.pattern.position[self.unknown[i]]])
            .sum()
    }
}
