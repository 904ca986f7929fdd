//! Sentences from values, in a person's language and unit: what screens and reports say alike.
//!
//! Lengths in millimetres come in. Labels come out without anything that steers a page. This file
//! refuses to judge, and to know where a sentence stands.

mod en;
mod ends;
mod es;
mod tolerance;
mod unread;

use crate::figures::{Figures, Language};
use crate::ids::{MemberId, PointId, ReadingId};
use crate::job::{Beam, Job, OffsetSide, Reading, Side, Taken};
use crate::plain::plain;
use crate::result::{Axes, Cause, Judged, PairResult, trust_row};
use crate::solve;

pub use tolerance::own_tolerances;
pub use unread::{Unread, UnreadOf, not_judged, not_read_again};

/// Differences that nobody calls a difference, millimetres.
const NOTHING_MM: f64 = 0.25;

macro_rules! words {
    ($($field:ident)+) => {
        /// The words of one language, by what they are for.
        #[derive(Debug)]
        struct Words {
            $($field: &'static str,)+
        }
    };
}

words! {
    left right trusted length height_axis not_measured
    height offset split span datum_span fix above below right_of left_of behind before
    right_higher left_higher middle_right middle_left right_rearward left_rearward level centred even width
    low high rearward forward too_right too_left
    explains explains_one cleared instead instead_impact expected moved turned
    way_forward way_back way_left way_right way_down way_up
    slip_beam_side slip_wrong_side slip_hundred_mark slip_swapped_digits slip_ten slip_hundred slip_thousand slip_inch
    cannot_mash cannot_sag cannot_spread cannot_which_side
    own_tolerance own_rule from_to
    undo
    end_right_higher end_left_higher end_middle_right end_middle_left end_right_rearward end_left_rearward
    end_wider end_narrower
}

/// What is compared between the two sides of a pair.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// z_R − z_L.
    RightHigher,
    /// Middle of the pair, right of the centre plane.
    CentreRight,
    /// x_R − x_L.
    RightRearward,
    /// y_R − y_L.
    Width,
}

impl Quantity {
    /// Every quantity.
    pub const ALL: [Self; 4] = [
        Self::RightHigher,
        Self::CentreRight,
        Self::RightRearward,
        Self::Width,
    ];

    /// The quantity of a pair.
    #[must_use]
    pub fn of(self, pair: &PairResult) -> &Judged {
        match self {
            Self::RightHigher => &pair.right_higher_mm,
            Self::CentreRight => &pair.centre_right_mm,
            Self::RightRearward => &pair.right_rearward_mm,
            Self::Width => &pair.width_mm,
        }
    }
}

/// Puts values in the place of `{}`, in their order.
#[must_use]
pub fn fill(text: &str, values: &[&str]) -> String {
    let mut out = String::with_capacity(text.len() + 32);
    let mut values = values.iter();
    let mut parts = text.split("{}");
    out.push_str(parts.next().unwrap_or_default());
    for part in parts {
        out.push_str(values.next().copied().unwrap_or("{}"));
        out.push_str(part);
    }
    out
}

/// A count in its sentence: the one for 1, or the one for all others, with `{}` for the number.
#[must_use]
pub fn counted(one: &str, many: &str, count: usize) -> String {
    fill(if count == 1 { one } else { many }, &[&count.to_string()])
}

/// Whoever says the sentences, in a language and a unit.
#[derive(Debug, Clone, Copy)]
pub struct Speech {
    /// Numbers.
    pub figures: Figures,
    words: &'static Words,
}

impl Speech {
    /// In a person's language and unit.
    #[must_use]
    pub fn of(figures: Figures) -> Self {
        let words = match figures.language {
            Language::English => &en::WORDS,
            Language::Spanish => &es::WORDS,
        };
        Self { figures, words }
    }

    /// What a point is called, without its side.
    #[must_use]
    pub fn label(self, job: &Job, id: &PointId) -> String {
        let label = job.points.get(id).map(|point| point.label.as_str());
        let label = label.filter(|label| !label.trim().is_empty());
        plain(label.unwrap_or(id.as_str())).into_owned()
    }

    /// `strut tower · left`.
    #[must_use]
    pub fn point(self, job: &Job, id: &PointId) -> String {
        let side = job.points.get(id).map(|point| point.side);
        self.on_side(&self.label(job, id), side)
    }

    /// A label with the side of the car; on the middle, or where nobody knows, the label alone.
    #[must_use]
    pub fn on_side(self, label: &str, side: Option<Side>) -> String {
        let side = match side {
            Some(Side::Left) => self.words.left,
            Some(Side::Right) => self.words.right,
            Some(Side::Centre) | None => return label.to_owned(),
        };
        format!("{label} · {side}")
    }

    /// The name of a kind of reading, by its code in the job file.
    #[must_use]
    pub fn kind(self, code: &str) -> &'static str {
        let words = self.words;
        match code {
            "height" => words.height,
            "offset" => words.offset,
            "split" => words.split,
            "span" => words.span,
            "datum_span" => words.datum_span,
            _ => words.fix,
        }
    }

    /// On which side of the level beam.
    #[must_use]
    pub fn of_level(self, beam: Beam) -> &'static str {
        match beam {
            Beam::Above => self.words.above,
            Beam::Below => self.words.below,
        }
    }

    /// On which side of the plumb beam.
    #[must_use]
    pub fn of_plumb(self, side: OffsetSide) -> &'static str {
        match side {
            OffsetSide::Right => self.words.right_of,
            OffsetSide::Left => self.words.left_of,
            OffsetSide::Rear => self.words.behind,
            OffsetSide::Front => self.words.before,
        }
    }

    /// On which side of the beam a reading was taken; empty where there is no choice.
    #[must_use]
    pub fn beam_side(self, taken: &Taken) -> &'static str {
        match taken {
            Taken::Height { beam, .. } => self.of_level(*beam),
            Taken::Offset { side, .. } => self.of_plumb(*side),
            _ => "",
        }
    }

    /// `right higher by 5.0 mm`, without a verdict.
    #[must_use]
    pub fn quantity(self, quantity: Quantity, judged: &Judged) -> String {
        let words = self.words;
        let Some(value) = judged.value else {
            return words.not_measured.to_owned();
        };
        let off = value - judged.target.unwrap_or(0.0);
        let (more, less, none) = match quantity {
            Quantity::RightHigher => (words.right_higher, words.left_higher, words.level),
            Quantity::CentreRight => (words.middle_right, words.middle_left, words.centred),
            Quantity::RightRearward => (words.right_rearward, words.left_rearward, words.even),
            Quantity::Width => return format!("{} {}", words.width, self.figures.length(value)),
        };
        if off.abs() < NOTHING_MM {
            return none.to_owned();
        }
        let way = if off > 0.0 { more } else { less };
        format!("{way} {}", self.figures.size(off))
    }

    /// `high by 5.0 mm`, for a point against its target.
    #[must_use]
    pub fn deviation(self, axis: usize, deviation_mm: f64) -> String {
        let words = self.words;
        let (more, less) = [
            (words.rearward, words.forward),
            (words.too_right, words.too_left),
            (words.high, words.low),
        ][axis.min(2)];
        let way = if deviation_mm > 0.0 { more } else { less };
        format!("{way} {}", self.figures.size(deviation_mm))
    }

    /// `height · strut tower · left · 96.0 mm · beam above`.
    #[must_use]
    pub fn reading(self, job: &Job, reading: &Reading) -> String {
        let taken = &reading.taken;
        let points: Vec<String> = taken.points().map(|id| self.point(job, id)).collect();
        let value = match taken {
            Taken::Height { value_mm, .. }
            | Taken::Offset { value_mm, .. }
            | Taken::Split { value_mm, .. }
            | Taken::Span { value_mm, .. }
            | Taken::DatumSpan { value_mm, .. } => self.figures.length(*value_mm),
            Taken::Fix { xyz_mm, .. } => {
                let each = xyz_mm.map(|mm| self.figures.length(mm));
                format!("x {}, y {}, z {}", each[0], each[1], each[2])
            }
        };
        let points = points.join(" → ");
        let parts = [
            self.kind(taken.kind()),
            &points,
            &value,
            self.beam_side(taken),
        ];
        let parts: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
        parts.join(" · ")
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
        let (points, axis) = trust_row(name);
        let labels: Vec<String> = points.iter().map(|id| self.point(job, id)).collect();
        let (labels, trusted) = (labels.join(" / "), self.words.trusted);
        format!("{labels} · {trusted} ({})", self.axis(axis))
    }

    /// The word of an axis: `x`, `y`, `z`.
    #[must_use]
    pub fn axis(self, axis: &str) -> &'static str {
        match axis {
            "x" => self.words.length,
            "y" => self.words.width,
            _ => self.words.height_axis,
        }
    }

    /// A slip, by its code.
    #[must_use]
    pub fn slip(self, code: &str) -> &'static str {
        let words = self.words;
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
        let words = self.words;
        match what {
            "mash" => words.cannot_mash,
            "sag" => words.cannot_sag,
            "spread" => words.cannot_spread,
            _ => words.cannot_which_side,
        }
    }

    /// Why a reading was set aside. One tap of *undo* has recorded that word in the language of
    /// whoever tapped; it is said in the reader's. All else is a person's own, and stays.
    #[must_use]
    pub fn why_aside(self, why: &str) -> &str {
        match [&en::WORDS, &es::WORDS].iter().any(|all| all.undo == why) {
            true => self.words.undo,
            false => why,
        }
    }

    /// A member's label.
    #[must_use]
    pub fn member(self, job: &Job, id: &MemberId) -> String {
        plain(&solve::member(job, id)).into_owned()
    }

    /// `up 6.4 mm`: a movement along an axis.
    fn way(self, axis: usize, moved_mm: f64) -> String {
        let words = self.words;
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
                let spread = self.figures.spread(sigma);
                Some(format!("{} {spread}", self.way(axis, moved)))
            });
        let turned = cause.turn_deg.iter().flatten().map(|turn| {
            let degrees = self.figures.decimal(turn.abs(), 1);
            fill(self.words.turned, &[&degrees])
        });
        let parts: Vec<String> = moved.chain(turned).collect();
        let member = self.member(job, &cause.member);
        format!("{member} {} {}", self.words.moved, parts.join(", "))
    }

    /// What a cause carries, explains and clears, and what else it could be.
    #[must_use]
    pub fn cause_reasons(self, job: &Job, cause: &Cause) -> Vec<String> {
        let words = self.words;
        let names = |ids: &[MemberId]| {
            let names: Vec<String> = ids.iter().map(|id| self.member(job, id)).collect();
            names.join(", ")
        };
        let counts = [&cause.carries, &cause.explains].map(|points| points.len().to_string());
        let explains = match cause.carries.len() {
            1 => words.explains_one,
            _ => words.explains,
        };
        let mut reasons = vec![fill(explains, &[&counts[0], &counts[1]])];
        if !cause.clears.is_empty() {
            reasons.push(fill(words.cleared, &[&names(&cause.clears)]));
        }
        if !cause.instead.is_empty() {
            let sentence = if cause.side_from_impact {
                words.instead_impact
            } else {
                words.instead
            };
            reasons.push(fill(sentence, &[&names(&cause.instead)]));
        }
        let expected: Vec<String> = cause
            .predicts
            .iter()
            .map(|(id, shift)| format!("{} {}", self.point(job, id), self.ways(shift)))
            .collect();
        if !expected.is_empty() {
            reasons.push(fill(words.expected, &[&expected.join("; ")]));
        }
        reasons
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_languages_have_the_same_places_for_values() {
        let places = |words: &Words| -> Vec<(String, usize)> {
            let text = format!("{words:#?}");
            let field = |line: &str| {
                let (name, value) = line.trim().split_once(": ")?;
                Some((name.to_owned(), value.matches("{}").count()))
            };
            text.lines().filter_map(field).collect()
        };
        assert!(places(&en::WORDS).len() > 50);
        assert_eq!(places(&en::WORDS), places(&es::WORDS));
    }

    #[test]
    fn what_stands_in_a_value_is_no_place_for_the_next() {
        assert_eq!(fill("{} of {}.", &["{}", "b"]), "{} of b.");
    }

    #[test]
    fn one_is_not_many() {
        let say = |count| counted("{} reading", "{} readings", count);
        assert_eq!(
            [0, 1, 2].map(say),
            ["0 readings", "1 reading", "2 readings"]
        );
    }

    #[test]
    fn undone_is_said_in_the_readers_language_and_nothing_else_is() {
        let [english, spanish] = Language::ALL.map(|language| {
            Speech::of(Figures {
                language,
                ..Figures::default()
            })
        });
        assert_eq!(spanish.why_aside("Undo"), "Deshacer");
        assert_eq!(english.why_aside("Deshacer"), "Undo");
        assert_eq!(english.why_aside("Undo"), "Undo");
        assert_eq!(spanish.why_aside("tape slipped"), "tape slipped");
    }

    #[test]
    fn every_kind_of_reading_has_a_name_of_its_own() {
        let speech = Speech::of(Figures::default());
        let kinds = ["height", "offset", "split", "span", "datum_span", "fix"];
        let names: std::collections::BTreeSet<_> = kinds.map(|kind| speech.kind(kind)).into();
        assert_eq!(names.len(), kinds.len());
    }

    #[test]
    fn a_label_steers_no_page() {
        let mut job = crate::demo::job();
        let id = job.points.keys().next().cloned().unwrap();
        job.points[&id].label = "tower\u{202e}x".into();
        let said = Speech::of(Figures::default()).point(&job, &id);
        assert!(!said.contains('\u{202e}'), "{said}");
    }
}
