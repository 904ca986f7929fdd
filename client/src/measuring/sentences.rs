//! Sentences from values, in a person's language.
//!
//! Lengths in millimetres come in; the person's unit goes out. This file refuses to know where a
//! sentence stands.

use std::ops::Deref;

use shared::result::{JobResult, Judged};
use shared::speech::{Quantity, Speech, fill, own_tolerances};

use super::answer::{Check, Question};
use super::entry::EntryError;
use super::figures::{Figures, LengthUnit};
use super::task::{BeamSide, Kind};
use super::trend::{Movement, Way};
use crate::text::Words;
use crate::text::measuring::Measuring;

/// What a sentence needs beside its values.
#[derive(Debug, Clone, Copy)]
pub struct Voice {
    /// Words of the shell.
    pub words: &'static Words,
    /// Words of measuring.
    pub measuring: &'static Measuring,
    speech: Speech,
}

/// A voice says whatever screens and reports say alike.
impl Deref for Voice {
    type Target = Speech;

    fn deref(&self) -> &Speech {
        &self.speech
    }
}

impl Voice {
    /// A person's words and numbers.
    #[must_use]
    pub fn of(words: &'static Words, measuring: &'static Measuring, figures: Figures) -> Self {
        Self {
            words,
            measuring,
            speech: Speech::of(figures),
        }
    }

    /// The name of a kind of reading.
    #[must_use]
    pub fn kind(self, kind: Kind) -> &'static str {
        self.speech.kind(kind.name())
    }

    /// The switch's word.
    #[must_use]
    pub fn side(self, side: BeamSide) -> &'static str {
        match side {
            BeamSide::Beam(beam) => self.of_level(beam),
            BeamSide::Offset(side) => self.of_plumb(side),
        }
    }

    /// The words for the car's front, left and right.
    #[must_use]
    pub fn sides(self) -> [&'static str; 3] {
        let words = self.words;
        [words.zone_front, words.left, words.right]
    }

    /// How to hold the tape.
    #[must_use]
    pub fn how(self, kind: Kind) -> &'static str {
        let words = self.measuring;
        match kind {
            Kind::Height => words.how_height,
            Kind::Offset => words.how_offset,
            Kind::Split => words.how_split,
            Kind::Span => words.how_span,
            Kind::DatumSpan => words.how_datum_span,
        }
    }

    /// The name of a quantity.
    #[must_use]
    pub fn quantity_name(self, quantity: Quantity) -> &'static str {
        match quantity {
            Quantity::RightHigher => self.measuring.height_axis,
            Quantity::CentreRight => self.words.centre,
            Quantity::RightRearward => self.measuring.length,
            Quantity::Width => self.measuring.width_axis,
        }
    }

    /// `± 0.8 mm · 97 % chance of being within`, and a tolerance that is not the rule's.
    #[must_use]
    pub fn doubt(self, judged: &Judged) -> String {
        let sigma = judged
            .sigma
            .map(|sigma| format!("{} {}", self.measuring.spread, self.figures.spread(sigma)));
        let chance = judged
            .conformity
            .map(|p| format!("{} {}", self.figures.percent(p), self.measuring.chance));
        let own = self.own_tolerance(judged.tolerance_mm);
        sigma
            .into_iter()
            .chain(chance)
            .chain(own)
            .collect::<Vec<_>>()
            .join(" · ")
    }

    /// How well a reading is checked.
    #[must_use]
    pub fn check(self, check: &Check) -> String {
        match check {
            Check::Suspect(suspect) => {
                let says = match suspect.one_of.len() {
                    0 | 1 => self.measuring.suspect.to_owned(),
                    many => fill(self.measuring.suspect_one_of, &[&many.to_string()]),
                };
                let size = self.figures.size(suspect.error_mm);
                format!("{says} ({} {size})", self.measuring.error_about)
            }
            Check::Waits => self.measuring.waits.to_owned(),
            Check::Fits { .. } => self.measuring.fits.to_owned(),
            Check::Unchecked => self.measuring.unchecked.to_owned(),
        }
    }

    /// `3.0 mm nearer`: how far a quantity went, and where to.
    #[must_use]
    pub fn movement(self, moved: &Movement) -> String {
        let way = match moved.way {
            Way::Nearer => self.measuring.nearer,
            Way::Further => self.measuring.further,
            Way::Across => self.measuring.across,
        };
        format!("{} {way}", self.figures.size(moved.by_mm))
    }

    /// Is a movement more than its spread?
    #[must_use]
    pub fn reality(self, real: bool) -> &'static str {
        if real {
            self.measuring.real_move
        } else {
            self.measuring.noise_move
        }
    }

    /// Why what was typed is no reading.
    #[must_use]
    pub fn not_taken(self, error: EntryError) -> String {
        let words = self.measuring;
        match (error, self.figures.unit) {
            (EntryError::Empty, _) => words.entry_empty.to_owned(),
            (EntryError::TooLong, _) => words.entry_too_long.to_owned(),
            (EntryError::NotANumber, unit) => {
                let like = match unit {
                    LengthUnit::Millimetre => self.figures.decimal(412.5, 1),
                    LengthUnit::InchDecimal => self.figures.decimal(16.25, 2),
                    LengthUnit::InchFraction => "16 3/8".to_owned(),
                };
                words.entry_not_a_number.replacen("{}", &like, 1)
            }
        }
    }

    /// A number that is far from what the rest suggest, and the question.
    #[must_use]
    pub fn far(self, question: &Question) -> String {
        let words = self.measuring;
        let text = if question.more_mm < 0.0 {
            words.far_less
        } else {
            words.far_off
        };
        let figures = [question.more_mm, question.expected_mm].map(|mm| self.figures.size(mm));
        fill(text, &figures.each_ref().map(String::as_str))
    }

    /// The decision rule.
    #[must_use]
    pub fn rule(self, result: &JobResult) -> String {
        let tolerance = self.figures.limit(result.rule.tolerance_mm);
        let level = self.figures.level(result.rule.conformity);
        let rule = self
            .measuring
            .tolerance_line
            .replacen("{}", &tolerance, 1)
            .replacen("{}", &level, 1);
        self.with_own(rule, own_tolerances(&result.stages))
    }

    /// The rule, and what the sheet's own tolerances add to it.
    #[must_use]
    pub fn with_own(self, rule: String, own_mm: Option<[f64; 2]>) -> String {
        match own_mm {
            Some(range) => format!("{rule} {}", self.own_rule(range)),
            None => rule,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Language, Speaks};

    fn voice(language: Language) -> Voice {
        let figures = Figures {
            language,
            ..Figures::default()
        };
        Voice::of(language.words(), language.measuring(), figures)
    }

    #[test]
    fn a_difference_is_said_by_the_side_that_has_more() {
        let judged = |value| Judged {
            value: Some(value),
            ..Judged::default()
        };
        let say = |value| voice(Language::English).quantity(Quantity::RightHigher, &judged(value));
        assert_eq!(say(5.0), "right higher by 5.0 mm");
        assert_eq!(say(-5.0), "left higher by 5.0 mm");
        assert_eq!(say(0.1), "level");
        let spanish = voice(Language::Spanish).quantity(Quantity::CentreRight, &judged(-2.5));
        assert_eq!(spanish, "centro a la izquierda en 2,5 mm");
    }

    #[test]
    fn a_cause_is_said_in_both_languages_with_its_spread() {
        let job = shared::demo::job();
        let result = shared::solve::solve(&job);
        let cause = &result.stages[0].causes[0];
        let english = voice(Language::English).cause(&job, cause);
        assert!(
            english.starts_with("front rail, left moved back "),
            "{english}"
        );
        assert!(
            english.contains("up ") && english.contains("± "),
            "{english}"
        );
        let spanish = voice(Language::Spanish).cause(&job, cause);
        assert!(spanish.contains("hacia atrás"), "{spanish}");
        let reasons = voice(Language::English).cause_reasons(&job, cause);
        assert!(
            reasons
                .iter()
                .any(|reason| reason.contains("place of the impact")),
            "{reasons:?}"
        );
    }

    #[test]
    fn what_a_tap_of_undo_records_is_said_in_the_readers_language() {
        for taps in Language::ALL {
            for reads in Language::ALL {
                let recorded = taps.measuring().undo;
                assert_eq!(voice(reads).why_aside(recorded), reads.measuring().undo);
            }
        }
    }

    #[test]
    fn the_rule_is_said_in_inches_without_another_limit() {
        let job = shared::demo::job();
        let result = shared::solve::solve(&job);
        let figures = Figures {
            unit: LengthUnit::InchFraction,
            language: Language::English,
        };
        let language = Language::English;
        let voice = Voice::of(language.words(), language.measuring(), figures);
        assert_eq!(
            voice.rule(&result),
            "Within means: inside ±0.118 in (3.0 mm) with at least 95 % probability."
        );
    }

    #[test]
    fn a_number_is_asked_for_in_the_persons_unit() {
        let say = |unit, language: Language| {
            let figures = Figures { unit, language };
            Voice::of(language.words(), language.measuring(), figures)
                .not_taken(EntryError::NotANumber)
        };
        let decimal = say(LengthUnit::InchDecimal, Language::Spanish);
        assert!(decimal.ends_with("16,25."), "{decimal}");
        let fraction = say(LengthUnit::InchFraction, Language::English);
        assert!(fraction.ends_with("16 3/8."), "{fraction}");
    }

    #[test]
    fn what_is_not_measured_is_never_zero() {
        let say = voice(Language::English).quantity(Quantity::RightHigher, &Judged::default());
        assert_eq!(say, "not measured");
    }
}
