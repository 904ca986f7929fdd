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
        let length = self.figures.limit(tolerance_mm?);
        Some(fill(self.words.own_tolerance, &[&length]))
    }

    /// What [`own_tolerances`] add to the rule, as a sentence.
    #[must_use]
    pub fn own_rule(self, range_mm: [f64; 2]) -> String {
        let limits = range_mm.map(|mm| self.figures.limit(mm));
        fill(self.words.own_rule, &[&self.between(limits)])
    }

    /// `0.2 mm to 0.5 mm`: the spreads of a sheet; one length where both are the same.
    #[must_use]
    pub fn range(self, range_mm: [f64; 2]) -> String {
        let unit = self.figures.unit_name();
        self.between(range_mm.map(|mm| format!("{} {unit}", self.figures.bare_spread(mm))))
    }

    fn between(self, [least, most]: [String; 2]) -> String {
        match least == most {
            true => least,
            false => fill(self.words.from_to, &[&least, &most]),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::{Figures, Language, LengthUnit};

    #[test]
    fn own_limits_are_said_as_they_judge() {
        let speech = |unit| {
            Speech::of(Figures {
                unit,
                language: Language::English,
            })
        };
        let millimetres = speech(LengthUnit::Millimetre);
        assert_eq!(
            millimetres.own_tolerance(Some(2.0)).as_deref(),
            Some("tolerance ±2.0 mm")
        );
        assert_eq!(millimetres.range([0.2, 0.5]), "0.2 mm to 0.5 mm");
        let inches = speech(LengthUnit::InchFraction);
        let said = inches.own_rule([2.0, 3.0]);
        assert!(
            said.contains("±0.079 in (2.0 mm) to 0.118 in (3.0 mm)."),
            "{said}"
        );
        assert_eq!(inches.range([1.0, 1.0]), "3/64 in");
    }
}
