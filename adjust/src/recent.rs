//! Steps that come ever closer but slowly, seen together: where they lead to, in a few steps.
//!
//! Anderson's mixing (Walker, Ni, *Anderson Acceleration for Fixed-Point Iterations*, SIAM J. Numer.
//! Anal. 49, 2011). Gauss-Newton leaves out second derivatives; where spans hold an unknown that its
//! prior hardly does, each step then leaves a fixed part of the way, some nine tenths. The differences
//! of the last few steps tell how large these parts are.

use std::collections::VecDeque;

/// So many differences are kept: as many slow directions are seen at once.
const DEPTH: usize = 5;
/// A difference that the newer ones make up but for this part tells nothing more.
const SAME: f64 = 1e-8;

/// The last few places with the steps that were found there.
#[derive(Debug, Clone, Default)]
pub(crate) struct Recent {
    last: Option<(Vec<f64>, Vec<f64>)>,
    /// Differences of neighbouring places and of their steps, newest first.
    differences: VecDeque<(Vec<f64>, Vec<f64>)>,
}

impl Recent {
    /// Forgets everything: the rule that makes steps has changed.
    pub(crate) fn forget(&mut self) {
        self.last = None;
        self.differences.clear();
    }

    /// Takes the step that was found at a place; gives the step to where, as far as the last few tell,
    /// none would be left. `scale` says how much each unknown's part of a step counts. `None` at the
    /// first place.
    pub(crate) fn mix(&mut self, place: &[f64], step: &[f64], scale: &[f64]) -> Option<Vec<f64>> {
        let less = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a - b).collect::<Vec<_>>();
        if let Some((old_place, old_step)) = self.last.replace((place.to_vec(), step.to_vec())) {
            self.differences
                .push_front((less(place, &old_place), less(step, &old_step)));
            self.differences.truncate(DEPTH);
        }
        let product = |a: &[f64], b: &[f64]| -> f64 {
            a.iter()
                .zip(b)
                .zip(scale)
                .map(|((a, b), s)| a * b * s)
                .sum()
        };
        let mut mixed = step.to_vec();
        // Changes of the step, each without what those before it make up, and the way that belongs to
        // each.
        let mut apart: Vec<(Vec<f64>, Vec<f64>, f64)> = Vec::new();
        for (way, change) in &self.differences {
            let whole = product(change, change);
            let mut change = change.clone();
            let mut way: Vec<f64> = way.iter().zip(&change).map(|(w, c)| w + c).collect();
            for (other, its_way, square) in &apart {
                let part = product(&change, other) / square;
                take(&mut change, other, part);
                take(&mut way, its_way, part);
            }
            let square = product(&change, &change);
            if square > SAME * SAME * whole && square > 0.0 {
                take(&mut mixed, &way, product(step, &change) / square);
                apart.push((change, way, square));
            }
        }
        (!apart.is_empty()).then_some(mixed)
    }
}

/// Takes a part of one from another.
fn take(from: &mut [f64], other: &[f64], part: f64) {
    for (from, other) in from.iter_mut().zip(other) {
        *from -= part * other;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_slow_directions_are_gone_in_four_steps() {
        // Each step leaves 0.99, -0.8 and 0.9 of what is missing.
        let left = [0.99, -0.8, 0.9];
        let mut recent = Recent::default();
        let mut place = vec![1.0, -2.0, 3.0];
        for _ in 0..4 {
            let step: Vec<f64> = place.iter().zip(left).map(|(x, l)| (l - 1.0) * x).collect();
            let mixed = recent.mix(&place, &step, &[1.0, 4.0, 0.5]).unwrap_or(step);
            for (place, step) in place.iter_mut().zip(mixed) {
                *place += step;
            }
        }
        assert!(place.iter().all(|x| x.abs() < 1e-9), "{place:?}");
    }

    #[test]
    fn what_tells_nothing_is_left_alone() {
        let mut recent = Recent::default();
        assert_eq!(recent.mix(&[1.0], &[0.5], &[1.0]), None);
        // The same place and step again.
        assert_eq!(recent.mix(&[1.0], &[0.5], &[1.0]), None);
        recent.forget();
        assert_eq!(recent.mix(&[1.5], &[0.25], &[1.0]), None);
    }
}
