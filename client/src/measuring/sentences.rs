//! Sentences from values, in a person's language.
//!
//! Lengths in millimetres come in; the person's unit goes out. This file refuses to know where a
//! sentence stands.

use shared::ids::{MemberId, PointId, ReadingId};
use shared::job::{Beam, Job, OffsetSide, Reading, Side, Taken};
use shared::result::{Axes, Cause, JobResult, Judged};

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

    /// The name of a quantity.
    #[must_use]
    pub fn quantity_name(self, quantity: Quantity) -> &'static str {
        match quantity {
            Quantity::RightHigher => self.measuring.height_axis,
            Quantity::CentreRight => self.words.centre,
            Quantity::RightRearward => self.measuring.length,
            Quantity::Width => self.measuring.width,
        }
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

    /// A member's label.
    #[must_use]
    pub fn member(self, job: &Job, id: &MemberId) -> String {
        shared::solve::member(job, id)
    }

    /// `up 6.4 mm`: a movement along an axis.
    #[must_use]
    pub fn way(self, axis: usize, moved_mm: f64) -> String {
        let words = self.measuring;
        let ways = [
            [words.way_forward, words.way_back],
            [words.way_left, words.way_right],
            [words.way_down, words.way_up],
        ];
        let way = ways[axis.min(2)][usize::from(moved_mm > 0.0)];
        format!("{way} {}", self.figures.size(moved_mm))
    }

    /// Movements along the axes that have one.
    #[must_use]
    pub fn ways(self, moved_mm: &Axes<f64>) -> String {
        let ways = (0..3).filter_map(|axis| Some(self.way(axis, moved_mm[axis]?)));
        ways.collect::<Vec<_>>().join(", ")
    }

    /// `front rail, left moved back 15.7 mm ± 1.5 mm, up 6.4 mm ± 0.7 mm`.
    #[must_use]
    pub fn cause(self, job: &Job, cause: &Cause) -> String {
        let moved = (0..3)
            .filter(|&axis| cause.matters[axis])
            .filter_map(|axis| {
                let (moved, sigma) = cause.move_mm[axis].zip(cause.sigma_mm[axis])?;
                Some(format!(
                    "{} {}",
                    self.way(axis, moved),
                    self.figures.spread(sigma)
                ))
            });
        let turned = cause.turn_deg.iter().flatten().map(|turn| {
            let degrees = self.figures.decimal(turn.abs(), 1);
            self.measuring.turned.replacen("{}", &degrees, 1)
        });
        let parts: Vec<String> = moved.chain(turned).collect();
        let member = self.member(job, &cause.member);
        format!("{member} {} {}", self.measuring.moved, parts.join(", "))
    }

    /// What a cause carries and clears, and what else it could be.
    #[must_use]
    pub fn cause_reasons(self, job: &Job, cause: &Cause) -> Vec<String> {
        let words = self.measuring;
        let names = |ids: &[MemberId]| {
            let names: Vec<String> = ids.iter().map(|id| self.member(job, id)).collect();
            names.join(", ")
        };
        let counted = words
            .explains
            .replacen("{}", &cause.carries.len().to_string(), 1)
            .replacen("{}", &cause.explains.len().to_string(), 1);
        let mut reasons = vec![counted];
        if !cause.clears.is_empty() {
            reasons.push(format!("{} {}", words.cleared, names(&cause.clears)));
        }
        if !cause.instead.is_empty() {
            let sentence = if cause.side_from_impact {
                words.instead_impact
            } else {
                words.instead
            };
            reasons.push(sentence.replacen("{}", &names(&cause.instead), 1));
        }
        let expected: Vec<String> = cause
            .predicts
            .iter()
            .map(|(id, shift)| format!("{} {}", self.point(job, id), self.ways(shift)))
            .collect();
        if !expected.is_empty() {
            reasons.push(format!("{} {}", words.expected, expected.join("; ")));
        }
        reasons
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
    use crate::text::{Language, Speaks};

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
    fn what_is_not_measured_is_never_zero() {
        let say = voice(Language::English).quantity(Quantity::RightHigher, &Judged::default());
        assert_eq!(say, "not measured");
    }
}
