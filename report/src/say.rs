//! Sentences from values, in the reader's language and unit.
//!
//! Lengths in millimetres come in. Names of people and points come out without anything that
//! steers a page. This file refuses to judge.

use shared::drawing::pair_of;
use shared::figures::Figures;
use shared::ids::PointId;
use shared::job::{Job, Reading, Stage};
use shared::moment;
use shared::plain::plain;
use shared::result::{Judged, StageResult};
use shared::speech::{Quantity, Speech, fill};

use crate::words::Words;

/// Name of a quantity in results and tables for programs.
pub(crate) fn code(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::RightHigher => "right_higher",
        Quantity::CentreRight => "centre_right",
        Quantity::RightRearward => "right_rearward",
        Quantity::Width => "width",
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
    /// Sentences that the screens say as well.
    pub(crate) fn speech(self) -> Speech {
        Speech::of(self.figures)
    }

    /// What a point is called, without its side.
    fn label(self, id: &PointId) -> String {
        self.speech().label(self.job, id)
    }

    /// `strut tower · left`.
    pub(crate) fn point(self, id: &PointId) -> String {
        self.speech().point(self.job, id)
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

    /// `± 0.8 mm · 97 % chance of being within`.
    pub(crate) fn doubt(self, judged: &Judged) -> String {
        let (sigma_mm, conformity) = (judged.sigma, judged.conformity);
        let sigma = sigma_mm.map(|sigma| self.figures.spread(sigma));
        let chance = conformity.map(|p| fill(self.words.chance, &[&self.figures.percent(p)]));
        let own = self.speech().own_tolerance(judged.tolerance_mm);
        let parts: Vec<String> = sigma.into_iter().chain(chance).chain(own).collect();
        parts.join(" · ")
    }

    /// `height · strut tower · left · 96.0 mm · beam above`.
    pub(crate) fn reading(self, reading: &Reading) -> String {
        self.speech().reading(self.job, reading)
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
            .find(|quantity| what.strip_suffix("_mm") == Some(code(*quantity)));
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
}
