//! Tolerances that are not the rule's: those that a sheet has for single points.

use super::{Speech, fill};
use crate::result::StageResult;

/// The smallest and the largest tolerance that judged anything in these stages and is not the rule's,
/// millimetres; `None` when the rule's judged all.
#[must_use]
pub fn own_tolerances(stages: &[StageResult]) -> Option<[f64; 2]> {
    let mut range: Option<[f64; 2]> = None;
    for stage in stages {
        let points = stage.points.values().map(|point| point.tolerance_mm);
        let pairs = stage
            .pairs
            .iter()
            .flat_map(|pair| super::Quantity::ALL.map(|quantity| quantity.of(pair).tolerance_mm));
        for own in points.chain(pairs).flatten() {
            let [least, most] = range.unwrap_or([own; 2]);
            range = Some([least.min(own), most.max(own)]);
        }
    }
    range
}

impl Speech {
    /// `tolerance ±2.0 mm`, where it is not the rule's.
    #[must_use]
    pub fn own_tolerance(self, tolerance_mm: Option<f64>) -> Option<String> {
        let length = self.figures.length(tolerance_mm?);
        Some(fill(self.words.own_tolerance, &[&length]))
    }

    /// What [`own_tolerances`] add to the rule, as a sentence.
    #[must_use]
    pub fn own_rule(self, range_mm: [f64; 2]) -> String {
        fill(self.words.own_rule, &[&self.range(range_mm)])
    }

    /// `0.2 mm to 0.5 mm`; one length where both are the same.
    #[must_use]
    pub fn range(self, range_mm: [f64; 2]) -> String {
        let [least, most] = range_mm.map(|mm| self.figures.length(mm));
        match least == most {
            true => least,
            false => fill(self.words.from_to, &[&least, &most]),
        }
    }
}
