//! Rows solved half-way: the cheap way to a covariance that is off the pattern.
//!
//! With P = L D Lᵀ the covariance of two rows a, b of unknowns is a P⁻¹ bᵀ = z_a · z_b for
//! z = D^(−½) L⁻¹ aᵀ. A row touches few unknowns, and L⁻¹ carries them only along their way to the
//! root of the elimination tree (Davis, *Direct Methods for Sparse Linear Systems* (2006), section
//! 3.2), so z is short.

use super::dense::product;
use super::problem::{LinearForm, Observation, Sight};
use super::solution::Solution;
use super::sparse::{Entries, Pattern};

/// A row of unknowns, half solved.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Half {
    /// Runs of neighbouring positions, ascending: first position and length.
    runs: Vec<(usize, usize)>,
    /// Values of all runs, one after the other.
    values: Vec<f64>,
}

impl Half {
    pub(super) fn new(
        pattern: &Pattern,
        factor: &Entries,
        entries: impl Iterator<Item = (usize, f64)>,
    ) -> Self {
        let (runs, values) = pattern.half(factor, entries);
        Self { runs, values }
    }

    /// Covariance of two rows.
    #[must_use]
    pub fn dot(&self, other: &Self) -> f64 {
        let (mut a, mut b) = (self.runs.iter(), other.runs.iter());
        let (mut of_a, mut of_b) = (0, 0);
        let (mut one, mut two) = (a.next(), b.next());
        let mut sum = 0.0;
        while let (Some(&(p, p_long)), Some(&(q, q_long))) = (one, two) {
            let (p_end, q_end) = (p + p_long, q + q_long);
            let (from, to) = (p.max(q), p_end.min(q_end));
            if from < to {
                sum += product(
                    &self.values[of_a + from - p..of_a + to - p],
                    &other.values[of_b + from - q..of_b + to - q],
                );
            }
            if p_end <= q_end {
                of_a += p_long;
                one = a.next();
            } else {
                of_b += q_long;
                two = b.next();
            }
        }
        sum
    }

    /// Variance of the row.
    #[must_use]
    pub fn variance(&self) -> f64 {
        product(&self.values, &self.values)
    }
}

impl Solution {
    /// A linear combination, half solved.
    #[must_use]
    pub fn half(&self, form: &LinearForm) -> Half {
        let terms = form.0.iter();
        self.half_of(terms.map(|term| (self.position(term), term.factor)))
    }

    pub(super) fn half_of(&self, entries: impl Iterator<Item = (usize, f64)>) -> Half {
        Half::new(&self.network.pattern, &self.state.factor, entries)
    }

    /// What linear combinations become when this reading counts too: value and variance of each.
    /// Exact to first order while no other reading changes its weight (the update by one row: Plackett,
    /// *Some theorems in least squares*, Biometrika 37 (1950)). `None` for a fix, which is three rows,
    /// and for what predicts nothing here.
    #[must_use]
    pub fn with_one_more(
        &self,
        observation: &Observation,
        forms: &[LinearForm],
    ) -> Option<Vec<(f64, f64)>> {
        if matches!(observation.sight, Sight::Fix { .. }) {
            return None;
        }
        let (linear, unknowns) = self.look(observation)?;
        let position = &self.network.pattern.position;
        let entries = unknowns.iter().zip(&linear.coefficient);
        let row = self.half_of(entries.map(|(unknown, c)| (position[*unknown], *c)));
        let spread = 1.0 + row.variance();
        let update = |form: &LinearForm| {
            let own = self.half(form);
            let shared = own.dot(&row);
            let value = self.value(form) + shared * linear.residual[0] / spread;
            let variance = (own.variance() - shared * shared / spread).max(0.0);
            (value, variance)
        };
        Some(forms.iter().map(update).collect())
    }
}
