//! What the book answers to a reading at once: the pair's difference, and what checks it.
//!
//! Values only, millimetres; the words are in `text`. Verdicts are the engine's, never made here.

use shared::ids::{PointId, ReadingId};
use shared::job::{Job, Reading};
use shared::result::{JobResult, Judged, PairResult, StageResult, Suspect};
use shared::speech::Quantity;

use super::task::Kind;

/// A reading is checked when an error of this size would be noticed, millimetres.
const NOTICED_MM: f64 = 30.0;

/// What a kind of reading is about.
#[must_use]
pub fn read_by(kind: Kind) -> Quantity {
    match kind {
        Kind::Height => Quantity::RightHigher,
        Kind::Offset | Kind::Split => Quantity::CentreRight,
        Kind::Span | Kind::DatumSpan => Quantity::Width,
    }
}

/// How well other readings check this one.
#[derive(Debug, Clone, PartialEq)]
pub enum Check {
    /// The others contradict it.
    Suspect(Suspect),
    /// It cannot be told from a suspect.
    Waits,
    /// Others check it, and it fits.
    Fits {
        /// Reading minus what the solution predicts.
        residual_mm: f64,
        /// Smallest error the check would catch.
        catches_mm: f64,
    },
    /// No other reading would notice an error in it.
    Unchecked,
}

/// A reading that waits for a word, because it is far from what the rest suggest.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// The reading.
    pub reading: Reading,
    /// What the rest suggest.
    pub expected_mm: f64,
    /// The reading less that.
    pub more_mm: f64,
}

/// The answer to one reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// The pair it belongs to, left first.
    pub pair: Option<(PointId, PointId)>,
    /// What is compared, and its value where the readings give one.
    pub judged: Option<(Quantity, Judged)>,
    /// The half of the pair that nobody has read this way.
    pub unread_half: Option<PointId>,
    /// How well it is checked; `None` until the book has solved it.
    pub check: Option<Check>,
}

/// Answers one reading; while the result does not know it, from what was foreseen.
#[must_use]
pub fn answer(
    job: &Job,
    result: Option<&JobResult>,
    foreseen: Option<&PairResult>,
    reading: &Reading,
) -> Answer {
    let kind = Kind::named(reading.taken.kind());
    let pair = pair_of(job, reading);
    let judged = kind
        .zip(pair.as_ref())
        .zip(result)
        .and_then(|((kind, (left, _)), result)| {
            let quantity = read_by(kind);
            let of_pair = |pair: &&PairResult| pair.left == *left;
            let found = match result.readings.contains_key(&reading.id) {
                true => stage(result, reading)?.pairs.iter().find(of_pair)?,
                false => foreseen.filter(of_pair)?,
            };
            Some((quantity, quantity.of(found).clone()))
        });
    Answer {
        unread_half: unread_half(job, reading),
        check: result.and_then(|result| check(result, &reading.id)),
        pair,
        judged,
    }
}

fn stage<'a>(result: &'a JobResult, reading: &Reading) -> Option<&'a StageResult> {
    result.stages.iter().find(|stage| stage.id == reading.stage)
}

/// The pair that a reading is about, left first: a point and its mirror, or both ends.
#[must_use]
pub fn pair_of(job: &Job, reading: &Reading) -> Option<(PointId, PointId)> {
    let mut ids = reading.taken.points();
    let first = ids.next()?;
    let mirror = job.points.get(first)?.mirror.as_ref()?;
    if ids.next().is_some_and(|second| second != mirror) {
        return None;
    }
    let left_first = job.points[first].side != shared::job::Side::Right;
    Some(if left_first {
        (first.clone(), mirror.clone())
    } else {
        (mirror.clone(), first.clone())
    })
}

fn unread_half(job: &Job, reading: &Reading) -> Option<PointId> {
    let mut ids = reading.taken.points();
    let first = ids.next()?;
    if ids.next().is_some() {
        return None;
    }
    let mirror = job.points.get(first)?.mirror.clone()?;
    let read = job.counting_readings().any(|other| {
        other.stage == reading.stage
            && other.taken.kind() == reading.taken.kind()
            && other.taken.points().any(|id| *id == mirror)
    });
    (!read).then_some(mirror)
}

/// How well others check a reading; `None` while the book has not solved it.
#[must_use]
pub fn check(result: &JobResult, id: &ReadingId) -> Option<Check> {
    if let Some(suspect) = result.suspects.iter().find(|s| s.reading == *id) {
        return Some(Check::Suspect(suspect.clone()));
    }
    let found = result.readings.get(id)?;
    Some(match (found.used, found.catches_mm) {
        (false, _) => Check::Waits,
        (true, Some(catches_mm)) if catches_mm <= NOTICED_MM => Check::Fits {
            residual_mm: found.residual_mm,
            catches_mm,
        },
        (true, _) => Check::Unchecked,
    })
}
