//! What is known when nothing is observed.
//!
//! Weak priors couple few blocks: a network of their own, far smaller than the readings', answers
//! what a quantity's spread would be without any reading.

use super::problem::{BlockSpec, LinearForm, Problem};
use super::sparse::{Entries, Node, Pattern};

/// The priors alone, solved.
#[derive(Debug, Clone)]
pub(crate) struct Prior {
    pattern: Pattern,
    factor: Entries,
    inverse: Entries,
    /// Root of each position's elimination tree: only unknowns of one tree depend on each other.
    root: Vec<usize>,
}

impl Prior {
    pub(crate) fn new(problem: &Problem) -> Self {
        let nodes: Vec<Node> = problem.blocks.iter().map(BlockSpec::node).collect();
        let cliques: Vec<Vec<usize>> = problem
            .priors
            .iter()
            .map(|(form, _, _)| form.blocks())
            .filter(|clique| clique.len() > 1)
            .collect();
        let pattern = Pattern::new(&nodes, cliques.iter().map(Vec::as_slice));
        let mut factor = pattern.zeros();
        for (form, _, sigma) in &problem.priors {
            let terms: Vec<(usize, f64)> = form
                .0
                .iter()
                .map(|term| (pattern.position[problem.index(term)], term.factor / sigma))
                .collect();
            for (index, (position, c)) in terms.iter().enumerate() {
                factor.diagonal[*position] += c * c;
                for (other, d) in &terms[index + 1..] {
                    let slot = pattern.slot(*position, *other);
                    factor.lower[slot.expect("one form is a clique of the pattern")] += c * d;
                }
            }
        }
        pattern.factor(&mut factor);
        let inverse = pattern.inverse(&factor);
        let mut root: Vec<usize> = (0..pattern.size()).collect();
        for position in (0..root.len()).rev() {
            if let Some((parent, _)) = pattern.below(position).next() {
                root[position] = root[parent];
            }
        }
        Self {
            pattern,
            factor,
            inverse,
            root,
        }
    }

    /// Variance of a linear combination. Unknowns that are apart in the pattern of all readings
    /// count as independent.
    pub(crate) fn variance(&self, problem: &Problem, full: &Pattern, form: &LinearForm) -> f64 {
        let mut sum = 0.0;
        for a in &form.0 {
            for b in &form.0 {
                let (p, q) = (problem.index(a), problem.index(b));
                sum += a.factor * b.factor * self.covariance(full, p, q);
            }
        }
        sum.max(0.0)
    }

    fn covariance(&self, full: &Pattern, p: usize, q: usize) -> f64 {
        let (own, other) = (self.pattern.position[p], self.pattern.position[q]);
        if own == other {
            return self.inverse.diagonal[own];
        }
        let apart = self.root[own] != self.root[other];
        if apart || full.slot(full.position[p], full.position[q]).is_none() {
            return 0.0;
        }
        if let Some(slot) = self.pattern.slot(own, other) {
            return self.inverse.lower[slot];
        }
        // Coupled by way of others.
        let mut vector = vec![0.0; self.pattern.size()];
        vector[own] = 1.0;
        self.pattern.solve(&self.factor, &mut vector);
        vector[other]
    }
}
