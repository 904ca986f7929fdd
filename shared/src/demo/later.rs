//! What happened to the demo car after its readings: which stage was signed off, and what somebody
//! corrected then. It is no part of the demo's job file; a server that makes the demo shop does it.

use super::words::Words;
use super::{JONAS, job_in};
use crate::figures::Language;
use crate::ids::{ReadingId, StageId};
use crate::job::Taken;

/// The stage that was signed off: how the car came.
const SIGNED: &str = "as-received";

/// A reading that was set aside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Correction {
    /// The reading.
    pub reading: ReadingId,
    /// Why, as somebody wrote it.
    pub why: String,
    /// Who decided.
    pub by: &'static str,
}

/// The stage that was signed off.
#[must_use]
pub fn signed_stage() -> StageId {
    StageId::parse(SIGNED).expect("the demo's names have no spaces")
}

/// What was set aside in that stage afterwards: one of several diagonals to well checked points, so
/// that nothing is judged otherwise without it.
#[must_use]
pub fn correction(language: Language) -> Option<Correction> {
    let job = job_in(language);
    let which = |taken: &Taken| {
        matches!(taken, Taken::Span { from, to, .. }
            if from.as_str() == "floor-R" && to.as_str() == "sill-rear-L")
    };
    let mut readings = job.readings.iter();
    let found = readings.find(|one| one.stage.as_str() == SIGNED && which(&one.taken))?;
    Some(Correction {
        reading: found.id.clone(),
        why: Words::of(language).over_the_hanger.to_owned(),
        by: JONAS,
    })
}
