//! Rows solved half-way: the cheap way to many covariances.
//!
//! With P = L D Lᵀ the covariance of two rows a, b of unknowns is a P⁻¹ bᵀ = z_a · z_b for
//! z = D^(−½) L⁻¹ aᵀ. A row touches few unknowns, and L⁻¹ carries them only along their way to the
//! root of the elimination tree (Davis, *Direct Methods for Sparse Linear Systems* (2006), section
//! 3.2), so z is short. One more reading changes a variance by one product: a rank-one update.

use super::dense::product;
use super::problem::{LinearForm, Observation};
use super::rows::unknowns;
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

/// A reading that could be taken, as a row of unit weight, with the variance of what it predicts.
#[derive(Debug, Clone, PartialEq)]
pub struct Sighted {
    half: Half,
    variance: f64,
}

impl Sighted {
    /// From the reading's row.
    #[must_use]
    pub fn new(half: Half) -> Self {
        let variance = half.variance();
        Self { half, variance }
    }
}

/// Variance of `form`, now `variance`, once these readings count besides all others.
#[must_use]
pub fn variance_after(
    form: &Half,
    variance: f64,
    reading: &Sighted,
    then: Option<&Sighted>,
) -> f64 {
    // Each reading in turn takes its share off the rest.
    let (full, along) = (1.0 + reading.variance, reading.half.dot(form));
    let mut after = variance - along * along / full;
    if let Some(then) = then {
        let between = reading.half.dot(&then.half);
        let own = then.variance - between * between / full;
        let along = then.half.dot(form) - between * along / full;
        after -= along * along / (1.0 + own);
    }
    after.max(0.0)
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

    /// What a reading would see, as rows of unit weight half solved (three for a fix); empty when
    /// it predicts nothing here.
    #[must_use]
    pub fn half_sight(&self, observation: &Observation) -> Vec<Half> {
        let Some((linear, _)) = self.look(observation) else {
            return Vec::new();
        };
        let unknowns = unknowns(&self.problem, observation);
        let row = |coefficients: &[f64]| {
            let entries = unknowns.iter().zip(coefficients);
            let position = &self.network.pattern.position;
            self.half_of(entries.map(|(unknown, c)| (position[*unknown], *c)))
        };
        linear
            .coefficient
            .chunks(unknowns.len().max(1))
            .map(row)
            .collect()
    }
}
