//! Sentences from values, in a person's language.
//!
//! Lengths in millimetres come in; the person's unit goes out. This file refuses to know where a
//! sentence stands.

use shared::ids::{PointId, ReadingId};
use shared::job::{Beam, Job, OffsetSide, Reading, Side, Taken};
use shared::result::{JobResult, Judged};

use super::answer::{Check, Quantity};
use super::figures::Figures;
use super::task::{BeamSide, Kind, label, value_of};
use crate::text::Words;
use crate::text::measuring::Measuring;

/// What a sentence needs beside its values.
#[derive(Debug, Clone, Copy)]
pub struct Voice {
    /// Words of the shell.
    pub words: &'static Words,
    /// Words of measuring.
    pub measuring: &'static Measuring,
    /// Numbers.
    pub figures: Figures,
}

impl Voice {
    /// `strut tower · left`.
    #[must_use]
    pub fn point(self, job: &Job, id: &PointId) -> String {
        let side = match job.points.get(id).map(|point| point.side) {
            Some(Side::Left) => self.words.left,
            Some(Side::Right) => self.words.right,
            _ => return label(job, id).to_owned(),
        };
        format!("{} · {side}", label(job, id))
    }

    /// The name of a kind of reading.
    #[must_use]
    pub fn kind(self, kind: Kind) -> &'static str {
        let words = self.measuring;
        match kind {
            Kind::Height => words.height,
            Kind::Offset => words.offset,
            Kind::Split => words.split,
            Kind::Span => words.span,
            Kind::DatumSpan => words.datum_span,
        }
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

    /// The switch's word.
    #[must_use]
    pub fn side(self, side: BeamSide) -> &'static str {
        let words = self.measuring;
        match side {
            BeamSide::Beam(Beam::Above) => words.above,
            BeamSide::Beam(Beam::Below) => words.below,
            BeamSide::Offset(OffsetSide::Right) => words.right_of,
            BeamSide::Offset(OffsetSide::Left) => words.left_of,
            BeamSide::Offset(OffsetSide::Rear) => words.behind,
            BeamSide::Offset(OffsetSide::Front) => words.before,
        }
    }

    /// `right higher by 5.0 mm`, without a verdict.
    #[must_use]
    pub fn quantity(self, quantity: Quantity, judged: &Judged) -> String {
        let words = self.measuring;
        let Some(value) = judged.value else {
            return words.missing.to_owned();
        };
        let off = value - judged.target.unwrap_or(0.0);
        let (more, less, none) = match quantity {
            Quantity::RightHigher => (words.right_higher, words.left_higher, words.level),
            Quantity::CentreRight => (words.middle_right, words.middle_left, words.centred),
            Quantity::RightRearward => (words.right_rearward, words.left_rearward, words.even),
            Quantity::Width => return format!("{} {}", words.width, self.figures.length(value)),
        };
        if off.abs() < 0.25 {
            return none.to_owned();
        }
        format!(
            "{} {}",
            if off > 0.0 { more } else { less },
            self.figures.size(off)
        )
    }

    /// `high by 5.0 mm`, for a point against its target.
    #[must_use]
    pub fn deviation(self, axis: usize, deviation_mm: f64) -> String {
        let words = self.measuring;
        let pair = [
            (words.rearward, words.forward),
            (words.too_right, words.too_left),
            (words.high, words.low),
        ];
        let (more, less) = pair[axis.min(2)];
        format!(
            "{} {}",
            if deviation_mm > 0.0 { more } else { less },
            self.figures.size(deviation_mm)
        )
    }

    /// `± 0.8 mm · 97 % chance of being within`.
    #[must_use]
    pub fn doubt(self, judged: &Judged) -> String {
        let sigma = judged
            .sigma
            .map(|sigma| format!("{} {}", self.measuring.spread, self.figures.spread(sigma)));
        let chance = judged
            .conformity
            .map(|p| format!("{} {}", self.figures.percent(p), self.measuring.chance));
        sigma
            .into_iter()
            .chain(chance)
            .collect::<Vec<_>>()
            .join(" · ")
    }

    /// How well a reading is checked.
    #[must_use]
    pub fn check(self, check: &Check) -> String {
        match check {
            Check::Suspect(suspect) => {
                format!(
                    "{} ({} {})",
                    self.measuring.suspect,
                    self.measuring.error_about,
                    self.figures.size(suspect.error_mm)
                )
            }
            Check::Waits => self.measuring.waits.to_owned(),
            Check::Fits { .. } => self.measuring.fits.to_owned(),
            Check::Unchecked => self.measuring.unchecked.to_owned(),
        }
    }

    /// `height · strut tower · left · 96.0 mm`.
    #[must_use]
    pub fn reading(self, job: &Job, reading: &Reading) -> String {
        let kind = Kind::named(reading.taken.kind()).map_or("3-D", |kind| self.kind(kind));
        let points: Vec<String> = reading
            .taken
            .points()
            .map(|id| self.point(job, id))
            .collect();
        let value = value_of(&reading.taken)
            .map(|value| self.figures.length(value))
            .unwrap_or_default();
        let side = match &reading.taken {
            Taken::Height { beam, .. } => self.side(BeamSide::Beam(*beam)),
            Taken::Offset { side, .. } => self.side(BeamSide::Offset(*side)),
            _ => "",
        };
        let parts = [kind.to_owned(), points.join(" → "), value, side.to_owned()];
        parts
            .into_iter()
            .filter(|part| !part.is_empty())
            .collect::<Vec<_>>()
            .join(" · ")
    }

    /// What a name in a group stands for: a reading, or a row of trust as it is named.
    #[must_use]
    pub fn row(self, job: &Job, name: &str) -> String {
        let reading = ReadingId::parse(name)
            .ok()
            .and_then(|id| job.readings.iter().find(|r| r.id == id));
        if let Some(reading) = reading {
            return self.reading(job, reading);
        }
        let (points, axis) = name.rsplit_once(' ').unwrap_or((name, ""));
        let labels: Vec<String> = points
            .split('/')
            .filter_map(|id| PointId::parse(id).ok())
            .map(|id| self.point(job, &id))
            .collect();
        format!(
            "{} · {} ({})",
            labels.join(" / "),
            self.words.trusted,
            self.axis(axis)
        )
    }

    /// The word of an axis: `x`, `y`, `z`.
    #[must_use]
    pub fn axis(self, axis: &str) -> &'static str {
        match axis {
            "x" => self.measuring.length,
            "y" => self.measuring.width_axis,
            _ => self.measuring.height_axis,
        }
    }

    /// A slip, by its code.
    #[must_use]
    pub fn slip(self, code: &str) -> &'static str {
        let words = self.measuring;
        match code {
            "beam-side" => words.slip_beam_side,
            "wrong-side" => words.slip_wrong_side,
            "hundred-mark" => words.slip_hundred_mark,
            "swapped-digits" => words.slip_swapped_digits,
            "ten" => words.slip_ten,
            "hundred" => words.slip_hundred,
            "thousand" => words.slip_thousand,
            _ => words.slip_inch,
        }
    }

    /// What symmetry cannot see.
    #[must_use]
    pub fn cannot(self, what: &str) -> &'static str {
        let words = self.measuring;
        match what {
            "mash" => words.cannot_mash,
            "sag" => words.cannot_sag,
            "spread" => words.cannot_spread,
            _ => words.cannot_which_side,
        }
    }

    /// The decision rule.
    #[must_use]
    pub fn rule(self, result: &JobResult) -> String {
        let tolerance = self.figures.length(result.rule.tolerance_mm);
        let level = self.figures.percent(result.rule.conformity);
        self.measuring
            .tolerance_line
            .replacen("{}", &tolerance, 1)
            .replacen("{}", &level, 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::Language;

    fn voice(language: Language) -> Voice {
        Voice {
            words: language.words(),
            measuring: language.measuring(),
            figures: Figures {
                language,
                ..Figures::default()
            },
        }
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
    fn what_is_not_measured_is_never_zero() {
        let say = voice(Language::English).quantity(Quantity::RightHigher, &Judged::default());
        assert_eq!(say, "not measured");
    }
}
