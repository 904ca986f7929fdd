//! Lengths as whole steps, so that two machines that compute them a little differently agree.
//!
//! Two programs may differ in the last digits of a result: the demo car's readings added up in another
//! order move its values by 1.6e-9 mm. Rounding alone does not cure it: among thousands of values one
//! lies on an edge between two steps. So the edges are put where no value is near, in the middle of
//! the widest gap between the values' fractions, and that shift is recorded: whoever computes again
//! rounds with the same one.

use serde::{Deserialize, Serialize};

/// Steps per millimetre: one thousandth of a millimetre is far below every reading.
const STEPS_PER_MM: f64 = 1e3;
/// Shifts per step.
const PARTS: i64 = 1_000_000;

/// Where the edges between steps are.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Grid {
    /// Added to every value before it is rounded down to a thousandth of a millimetre; whole
    /// picometres, 0 to 999 999.
    pub shift_pm: i64,
}

/// Place of a value within its step, 0 to 1.
fn fraction(value_mm: f64) -> f64 {
    (value_mm * STEPS_PER_MM).rem_euclid(1.0)
}

impl Grid {
    /// The grid whose edges are farthest from all values.
    #[must_use]
    pub(super) fn far_from(values_mm: &[f64]) -> Self {
        let finite = values_mm.iter().copied().filter(|value| value.is_finite());
        let mut places: Vec<f64> = finite.map(fraction).collect();
        places.sort_by(f64::total_cmp);
        let Some((first, last)) = places.first().copied().zip(places.last().copied()) else {
            return Self::default();
        };
        // The gap that goes round from the last place to the first.
        let mut widest = (last, first + 1.0 - last);
        for pair in places.windows(2) {
            if pair[1] - pair[0] > widest.1 {
                widest = (pair[0], pair[1] - pair[0]);
            }
        }
        let edge = widest.0 + widest.1 / 2.0;
        let shift = (-edge).rem_euclid(1.0) * PARTS as f64;
        Self {
            shift_pm: (shift.round() as i64).rem_euclid(PARTS),
        }
    }

    /// Is it one that could have been chosen?
    #[must_use]
    pub fn is_sound(&self) -> bool {
        (0..PARTS).contains(&self.shift_pm)
    }

    /// A value as whole steps; `None` when it is not finite or beyond all lengths.
    #[must_use]
    pub(super) fn steps(&self, value_mm: f64) -> Option<i64> {
        let shift = self.shift_pm as f64 / PARTS as f64;
        let steps = (value_mm * STEPS_PER_MM + shift).floor();
        (steps.abs() < 1e12).then_some(steps as i64)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn edges_are_in_the_widest_gap() {
        // Fractions 0.9 and 0.1 leave 0.1 to 0.9 free: the edge is at 0.5.
        assert_eq!(Grid::far_from(&[1.000_9, 2.000_1]).shift_pm, 500_000);
        // Fractions 0.4 and 0.6: the edge is at 0, between two whole steps.
        let grid = Grid::far_from(&[1.000_4, -0.000_4]);
        assert_eq!(grid.shift_pm, 0);
        assert_eq!(grid.steps(1.000_4), Some(1000));
        assert_eq!(grid.steps(-0.000_4), Some(-1));
        assert_eq!(Grid::far_from(&[]), Grid::default());
    }

    #[test]
    fn what_is_no_length_has_no_steps() {
        for value in [f64::NAN, f64::INFINITY, 1e30] {
            assert_eq!(Grid::default().steps(value), None);
        }
        // A value that is none does not spoil the grid of the others.
        assert!(Grid::far_from(&[f64::NAN, 1.0]).is_sound());
    }

    proptest! {
        /// Two thousand values leave a gap of a two-thousandth of a step at least: half of it, less
        /// the shift's own rounding, is 2.4e-7 mm.
        #[test]
        fn small_differences_change_no_step(values in prop::collection::vec(-9_000.0..9_000.0_f64, 1..2000), noise in prop::collection::vec(-2e-7..2e-7_f64, 2000)) {
            let grid = Grid::far_from(&values);
            for (value, noise) in values.iter().zip(noise) {
                prop_assert_eq!(grid.steps(*value), grid.steps(value + noise));
            }
        }
    }
}
