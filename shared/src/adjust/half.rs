//! Rows solved half-way: the cheap way to many covariances.
//!
//! With P = L D Lᵀ the covariance of two rows a, b of unknowns is a P⁻¹ bᵀ = z_a · z_b for
//! z = D^(−½) L⁻¹ aᵀ. A row touches few unknowns, and L⁻¹ carries them only along their way to the
//! root of the elimination tree (Davis, *Direct Methods for Sparse Linear Systems* (2006), section
//! 3.2), so z is short. One more reading changes a variance by one product: a rank-one update.

use super::problem::{LinearForm, Observation};
use super::rows::unknowns;
use super::solution::Solution;

/// A row of unknowns, half solved; positions ascend.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Half(Vec<(usize, f64)>);

impl Half {
    /// Covariance of two rows.
    #[must_use]
    pub fn dot(&self, other: &Self) -> f64 {
        let (mut a, mut b) = (self.0.iter().peekable(), other.0.iter().peekable());
        let mut sum = 0.0;
        while let (Some(one), Some(two)) = (a.peek(), b.peek()) {
            match one.0.cmp(&two.0) {
                std::cmp::Ordering::Less => a.next(),
                std::cmp::Ordering::Greater => b.next(),
                std::cmp::Ordering::Equal => {
                    sum += one.1 * two.1;
                    a.next();
                    b.next()
                }
            };
        }
        sum
    }

    /// Variance of the row.
    #[must_use]
    pub fn variance(&self) -> f64 {
        self.0.iter().map(|(_, value)| value * value).sum()
    }
}

/// Variance of `form` once these readings, rows of unit weight, count besides all others.
#[must_use]
pub fn variance_after(form: &Half, readings: &[&Half]) -> f64 {
    // Rows: the readings, then the form; each reading in turn takes its share off the rest.
    let rows: Vec<&Half> = readings.iter().copied().chain([form]).collect();
    let count = rows.len();
    let mut q = vec![vec![0.0; count]; count];
    for a in 0..count {
        for b in a..count {
            q[a][b] = rows[a].dot(rows[b]);
            q[b][a] = q[a][b];
        }
    }
    for added in 0..count - 1 {
        let full = 1.0 + q[added][added];
        let along = q[added].clone();
        for (a, row) in q.iter_mut().enumerate() {
            for (b, entry) in row.iter_mut().enumerate() {
                *entry -= along[a] * along[b] / full;
            }
        }
    }
    q[count - 1][count - 1].max(0.0)
}

impl Solution {
    /// A linear combination, half solved.
    #[must_use]
    pub fn half(&self, form: &LinearForm) -> Half {
        let entries = form
            .0
            .iter()
            .map(|term| (self.position(term), term.factor))
            .collect();
        Half(self.network.pattern.half(&self.state.factor, entries))
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
            let entries = unknowns
                .iter()
                .zip(coefficients)
                .map(|(unknown, c)| (self.network.pattern.position[*unknown], *c))
                .collect();
            Half(self.network.pattern.half(&self.state.factor, entries))
        };
        linear
            .coefficient
            .chunks(unknowns.len().max(1))
            .map(row)
            .collect()
    }

    /// Variance of `form` if one more observation counted; `None` when it predicts nothing here.
    #[must_use]
    pub fn variance_with(&self, form: &LinearForm, observation: &Observation) -> Option<f64> {
        let rows = self.half_sight(observation);
        let rows: Vec<&Half> = rows.iter().collect();
        (!rows.is_empty()).then(|| variance_after(&self.half(form), &rows))
    }
}
