//! Sentences from values, in the reader's language and unit.
//!
//! Lengths in millimetres come in. Names of people and points come out without anything that
//! steers a page. This file refuses to judge.

use shared::drawing::pair_of;
use shared::figures::Figures;
use shared::ids::{MemberId, PointId, ReadingId};
use shared::job::{Beam, Job, OffsetSide, Reading, Stage, Taken};
use shared::moment;
use shared::plain::plain;
use shared::result::{Axes, Cause, Judged, PairResult, StageResult};

use crate::words::{Words, fill};

/// A quantity of a pair.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Quantity {
    RightHigher,
    CentreRight,
    RightRearward,
    Width,
}

impl Quantity {
    pub(crate) const ALL: [Self; 4] = [
        Self::RightHigher,
        Self::CentreRight,
        Self::RightRearward,
        Self::Width,
    ];

    pub(crate) fn of(self, pair: &PairResult) -> &Judged {
        match self {
            Self::RightHigher => &pair.right_higher_mm,
            Self::CentreRight => &pair.centre_right_mm,
            Self::RightRearward => &pair.right_rearward_mm,
            Self::Width => &pair.width_mm,
        }
    }

    /// Name in results and tables for programs.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::RightHigher => "right_higher",
            Self::CentreRight => "centre_right",
            Self::RightRearward => "right_rearward",
            Self::Width => "width",
        }
    }
}

/// What a sentence needs beside its values.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Say<'a> {
    pub(crate) job: &'a Job,
    pub(crate) words: &'static Words,
    pub(crate) figures: Figures,
}

/// A text as it may stand on a page.
pub(crate) fn safe(text: &str) -> String {
    plain(text).into_owned()
}

/// A time to the minute, `2026-03-02 09:15 UTC`; the text itself when it is none.
pub(crate) fn time(text: &str) -> String {
    moment::millis(text).map_or_else(|| safe(text), time_of)
}

pub(crate) fn time_of(at_ms: i64) -> String {
    let text = moment::utc(at_ms);
    match (text.get(..10), text.get(11..16)) {
        (Some(day), Some(minute)) => format!("{day} {minute} UTC"),
        _ => text,
    }
}

impl Say<'_> {
    /// What a point is called, without its side.
    pub(crate) fn label(self, id: &PointId) -> String {
        match self.job.points.get(id) {
            Some(point) if !point.label.is_empty() => safe(&point.label),
            _ => safe(id.as_str()),
        }
    }

    /// `strut tower · left`.
    pub(crate) fn point(self, id: &PointId) -> String {
        let side = self.job.points.get(id).map(|point| point.side);
        match side.and_then(|side| self.words.side(side)) {
            Some(side) => format!("{} · {side}", self.label(id)),
            None => self.label(id),
        }
    }

    /// A pair, by what its left point is called.
    pub(crate) fn pair(self, left: &PointId, right: &PointId) -> String {
        let (a, b) = (self.label(left), self.label(right));
        if a == b { a } else { format!("{a} / {b}") }
    }

    pub(crate) fn stage(self, stage: &Stage) -> String {
        if stage.label.is_empty() {
            safe(stage.id.as_str())
        } else {
            safe(&stage.label)
        }
    }

    pub(crate) fn stage_of(self, id: &shared::ids::StageId) -> String {
        let known = self.job.stages.iter().find(|stage| stage.id == *id);
        known.map_or_else(|| safe(id.as_str()), |stage| self.stage(stage))
    }

    pub(crate) fn quantity_name(self, quantity: Quantity) -> &'static str {
        match quantity {
            Quantity::RightHigher => self.words.height_axis,
            Quantity::CentreRight => self.words.centre,
            Quantity::RightRearward => self.words.length,
            Quantity::Width => self.words.width,
        }
    }

    /// `right higher by 5.0 mm`, without a verdict.
    pub(crate) fn quantity(self, quantity: Quantity, judged: &Judged) -> String {
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
        if off.abs() < 0.25 {
            return none.to_owned();
        }
        let way = if off > 0.0 { more } else { less };
        format!("{way} {}", self.figures.size(off))
    }

    /// `high by 5.0 mm`, for a point against its target.
    pub(crate) fn deviation(self, axis: usize, deviation_mm: f64) -> String {
        let words = self.words;
        let (more, less) = [
            (words.rearward, words.forward),
            (words.too_right, words.too_left),
            (words.high, words.low),
        ][axis.min(2)];
        let way = if deviation_mm > 0.0 { more } else { less };
        format!("{way} {}", self.figures.size(deviation_mm))
    }

    /// `± 0.8 mm · 97 % chance of being within`.
    pub(crate) fn doubt(self, sigma_mm: Option<f64>, conformity: Option<f64>) -> String {
        let sigma = sigma_mm.map(|sigma| self.figures.spread(sigma));
        let chance = conformity.map(|p| fill(self.words.chance, &[&self.figures.percent(p)]));
        let parts: Vec<String> = sigma.into_iter().chain(chance).collect();
        parts.join(" · ")
    }

    pub(crate) fn kind(self, taken: &Taken) -> &'static str {
        let words = self.words;
        match taken {
            Taken::Height { .. } => words.height,
            Taken::Offset { .. } => words.offset,
            Taken::Split { .. } => words.split,
            Taken::Span { .. } => words.span,
            Taken::DatumSpan { .. } => words.datum_span,
            Taken::Fix { .. } => words.fix,
        }
    }

    /// On which side of the beam; empty where there is no choice.
    pub(crate) fn side(self, taken: &Taken) -> &'static str {
        let words = self.words;
        match taken {
            Taken::Height { beam, .. } => match beam {
                Beam::Above => words.above,
                Beam::Below => words.below,
            },
            Taken::Offset { side, .. } => match side {
                OffsetSide::Right => words.right_of,
                OffsetSide::Left => words.left_of,
                OffsetSide::Rear => words.behind,
                OffsetSide::Front => words.before,
            },
            _ => "",
        }
    }

    /// `height · strut tower · left · 96.0 mm · beam above`.
    pub(crate) fn reading(self, reading: &Reading) -> String {
        let points: Vec<String> = reading.taken.points().map(|id| self.point(id)).collect();
        let value = match &reading.taken {
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
        let parts = [
            self.kind(&reading.taken),
            &points.join(" → "),
            &value,
            self.side(&reading.taken),
        ];
        let parts: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
        parts.join(" · ")
    }

    /// Stage, who and when, and the number by which the book knows a reading.
    pub(crate) fn origin(self, reading: &Reading) -> String {
        let by = (!reading.by.is_empty()).then(|| fill(self.words.by, &[&safe(&reading.by)]));
        let at = (!reading.at.is_empty()).then(|| time(&reading.at));
        let parts: Vec<String> = std::iter::once(self.stage_of(&reading.stage))
            .chain(by)
            .chain(at)
            .chain([safe(reading.id.as_str())])
            .collect();
        parts.join(" · ")
    }

    /// What a name in a group stands for: a reading, or a row of trust as it is named.
    pub(crate) fn row(self, name: &str) -> String {
        let reading = ReadingId::parse(name)
            .ok()
            .and_then(|id| self.job.readings.iter().find(|r| r.id == id));
        if let Some(reading) = reading {
            return self.reading(reading);
        }
        let (points, axis) = name.rsplit_once(' ').unwrap_or((name, ""));
        let labels: Vec<String> = points
            .split('/')
            .filter_map(|id| PointId::parse(id).ok())
            .map(|id| self.point(&id))
            .collect();
        let (labels, trusted) = (labels.join(" / "), self.words.trusted);
        format!("{labels} · {trusted} ({axis})")
    }

    /// A quantity as a result names it, `left/right right_higher_mm` or `point z`.
    pub(crate) fn named(self, name: &str, stage: Option<&StageResult>) -> String {
        let (points, what) = name.rsplit_once(' ').unwrap_or((name, ""));
        let mut ids = points
            .split('/')
            .filter_map(|id| PointId::parse(id).ok())
            .peekable();
        let Some(first) = ids.next() else {
            return safe(name);
        };
        let quantity = Quantity::ALL
            .into_iter()
            .find(|quantity| what.strip_suffix("_mm") == Some(quantity.name()));
        match (quantity, stage.and_then(|stage| pair_of(stage, &first))) {
            (Some(quantity), Some(pair)) => {
                let label = self.pair(&pair.left, &pair.right);
                format!("{label} ({})", self.quantity_name(quantity))
            }
            (Some(quantity), None) => {
                format!("{} ({})", self.label(&first), self.quantity_name(quantity))
            }
            (None, _) => format!("{} ({})", self.point(&first), safe(what)),
        }
    }

    pub(crate) fn member(self, id: &MemberId) -> String {
        safe(&shared::solve::member(self.job, id))
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

    fn ways(self, moved_mm: &Axes<f64>) -> String {
        let ways = (0..3).filter_map(|axis| Some(self.way(axis, moved_mm[axis]?)));
        ways.collect::<Vec<_>>().join(", ")
    }

    /// `front rail, left moved back 15.7 mm ± 1.5 mm, up 6.4 mm ± 0.7 mm`.
    pub(crate) fn cause(self, cause: &Cause) -> String {
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
        let member = self.member(&cause.member);
        format!("{member} {} {}", self.words.moved, parts.join(", "))
    }

    /// What a cause carries, explains and clears, and what else it could be.
    pub(crate) fn cause_reasons(self, cause: &Cause) -> Vec<String> {
        let words = self.words;
        let names = |ids: &[MemberId]| {
            let names: Vec<String> = ids.iter().map(|id| self.member(id)).collect();
            names.join(", ")
        };
        let counts = [&cause.carries, &cause.explains].map(|points| points.len().to_string());
        let mut reasons = vec![fill(words.explains, &[&counts[0], &counts[1]])];
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
            .map(|(id, shift)| format!("{} {}", self.point(id), self.ways(shift)))
            .collect();
        if !expected.is_empty() {
            reasons.push(fill(words.expected, &[&expected.join("; ")]));
        }
        reasons
    }
}
