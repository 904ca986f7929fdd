//! Covariances of many rows at once.
//!
//! A row touches few unknowns, and what the factor reaches from there is little beside the whole (one
//! stage and what all stages share). The inverse among those, every entry of it, comes column by
//! column from the last (Takahashi, Fagan and Chin (1973), without leaving out what is off the
//! pattern); any two rows then cost a few products. One more reading changes a variance by one product:
//! a rank-one update. This file refuses to know what a row means.

use super::dense::combine;
use super::problem::{LinearForm, Observation};
use super::rows::unknowns;
use super::solution::Solution;

/// A row of unknowns by position.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Row(Vec<(usize, f64)>);

/// Rows with their covariance.
#[derive(Debug, Clone)]
pub struct Joint {
    /// Number of unknowns that the rows reach.
    size: usize,
    /// Their covariance, line by line.
    square: Vec<f64>,
    rows: Vec<Row>,
    variance: Vec<f64>,
}

/// One row with its covariance with every unknown.
#[derive(Debug, Clone)]
pub struct Along {
    variance: f64,
    line: Vec<f64>,
}

impl Solution {
    /// A linear combination as a row.
    #[must_use]
    pub fn row(&self, form: &LinearForm) -> Row {
        let terms = form.0.iter();
        Row(terms
            .map(|term| (self.position(term), term.factor))
            .collect())
    }

    /// What a reading would see, as a row of unit weight (the first of a fix); `None` when it predicts
    /// nothing here.
    #[must_use]
    pub fn sighted(&self, observation: &Observation) -> Option<Row> {
        let (linear, _) = self.look(observation)?;
        let unknowns = unknowns(&self.problem, observation).into_iter();
        let row = unknowns.zip(linear.coefficient);
        Some(Row(row
            .map(|(unknown, c)| (self.network.pattern.position[unknown], c))
            .collect()))
    }

    /// The covariance of these rows, in their order.
    #[must_use]
    pub fn joint(&self, mut rows: Vec<Row>) -> Joint {
        let (pattern, factor) = (&self.network.pattern, &self.state.factor);
        let mut reached = vec![false; pattern.size()];
        for (position, _) in rows.iter().flat_map(|row| &row.0) {
            reached[*position] = true;
        }
        let mut positions = Vec::new();
        let mut place = vec![0; pattern.size()];
        for position in 0..pattern.size() {
            if reached[position] {
                place[position] = positions.len();
                positions.push(position);
                pattern
                    .below(position)
                    .for_each(|(row, _)| reached[row] = true);
            }
        }
        let size = positions.len();
        let mut square = vec![0.0; size * size];
        let (mut found, mut parts) = (Vec::new(), Vec::new());
        for (own, &position) in positions.iter().enumerate().rev() {
            let lower = pattern.below(position);
            parts.clear();
            parts.extend(
                lower.map(|(row, slot)| (-factor.lower[slot], place[row] * size + own + 1)),
            );
            found.clear();
            found.resize(size - own - 1, 0.0);
            combine(&mut found, &square, &parts);
            let mut diagonal = 1.0 / factor.diagonal[position];
            for (row, slot) in pattern.below(position) {
                diagonal -= factor.lower[slot] * found[place[row] - own - 1];
            }
            square[own * size + own] = diagonal;
            for (other, entry) in (own + 1..size).zip(&found) {
                square[own * size + other] = *entry;
                square[other * size + own] = *entry;
            }
        }
        for (position, _) in rows.iter_mut().flat_map(|row| &mut row.0) {
            *position = place[*position];
        }
        let mut joint = Joint {
            size,
            square,
            rows,
            variance: Vec::new(),
        };
        joint.variance = (0..joint.rows.len())
            .map(|row| joint.covariance(row, row).max(0.0))
            .collect();
        joint
    }
}

impl Joint {
    /// Covariance of two rows, by their index.
    #[must_use]
    pub fn covariance(&self, a: usize, b: usize) -> f64 {
        let mut sum = 0.0;
        for (one, factor) in &self.rows[a].0 {
            let line = &self.square[one * self.size..(one + 1) * self.size];
            sum += factor * times(&self.rows[b], line);
        }
        sum
    }

    /// A row with its covariance with every unknown.
    #[must_use]
    pub fn along(&self, row: usize) -> Along {
        let parts = self.rows[row].0.iter();
        let parts: Vec<(f64, usize)> = parts.map(|(k, c)| (*c, k * self.size)).collect();
        let mut line = vec![0.0; self.size];
        combine(&mut line, &self.square, &parts);
        Along {
            variance: self.variance[row],
            line,
        }
    }

    /// Variance of a row once a reading, a row of unit weight, counts besides all others, and then
    /// maybe a second one.
    #[must_use]
    pub fn variance_after(&self, form: &Along, reading: usize, then: Option<usize>) -> f64 {
        // Each reading in turn takes its share off the rest.
        let full = 1.0 + self.variance[reading];
        let along = times(&self.rows[reading], &form.line);
        let mut after = form.variance - along * along / full;
        if let Some(then) = then {
            let between = self.covariance(reading, then);
            let own = self.variance[then] - between * between / full;
            let along = times(&self.rows[then], &form.line) - between * along / full;
            after -= along * along / (1.0 + own);
        }
        after.max(0.0)
    }
}

/// A row times one number for each unknown.
fn times(row: &Row, line: &[f64]) -> f64 {
    row.0.iter().map(|(k, c)| c * line[*k]).sum()
}
