//! What the list of cars shows of a book.

use serde::{Deserialize, Serialize};
use shared::job::Job;
use shared::proof::statement::Counts;
use shared::result::{JobResult, StageResult};

use super::Held;

/// What the list of cars shows of a book.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Cover {
    /// Document id.
    pub id: String,
    /// The shop's number.
    pub number: String,
    /// The vehicle.
    pub vehicle: String,
    /// Label of the latest stage that has verdicts, else of the latest.
    pub stage: String,
    /// Its quantities outside, unproven, within.
    pub counts: [usize; 3],
    /// Changes that the server does not have.
    pub unshared: usize,
    /// RFC 3339 time of the last change seen here.
    pub at: String,
    /// Is the book on this phone?
    #[serde(default)]
    pub here: bool,
}

impl Cover {
    /// Says which stage is told, and what its verdicts are.
    pub fn tell(&mut self, stage: String, counts: [usize; 3]) {
        (self.stage, self.counts) = (stage, counts);
    }
}

impl Held {
    /// What the list of cars shows; `at` is the RFC 3339 time of the change.
    #[must_use]
    pub fn cover(&self, id: &str, job: &Job, result: Option<&JobResult>, at: String) -> Cover {
        let (stage, counts) = telling(job, result);
        Cover {
            id: id.to_owned(),
            number: job.card.number.clone(),
            vehicle: job.card.vehicle.clone(),
            stage,
            counts,
            unshared: self.unshared(),
            at,
            here: true,
        }
    }
}

/// Quantities outside, unproven, within in one stage.
#[must_use]
pub fn stage_counts(stage: &StageResult) -> [usize; 3] {
    let counts = Counts::of(stage);
    in_order(counts.outside, counts.unproven, counts.within)
}

/// Outside, unproven, within, in the order of the list.
#[must_use]
pub fn in_order(outside: u64, unproven: u64, within: u64) -> [usize; 3] {
    [outside, unproven, within].map(|count| usize::try_from(count).unwrap_or(usize::MAX))
}

/// The latest stage that has verdicts, else the latest: its label, and its counts as
/// [`stage_counts`] has them.
#[must_use]
pub fn telling(job: &Job, result: Option<&JobResult>) -> (String, [usize; 3]) {
    let stages = result
        .into_iter()
        .flat_map(|result| result.stages.iter().rev());
    let told = stages
        .map(|stage| (&stage.id, stage_counts(stage)))
        .find(|(_, counts)| *counts != [0; 3]);
    let label = match &told {
        Some((id, _)) => job.stages.iter().find(|stage| stage.id == **id),
        None => job.stages.last(),
    };
    let label = label.map(|stage| stage.label.clone()).unwrap_or_default();
    (label, told.map(|(_, counts)| counts).unwrap_or_default())
}
