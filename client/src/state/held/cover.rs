//! What the list of cars shows of a book.

use serde::{Deserialize, Serialize};
use shared::job::Job;
use shared::result::{JobResult, StageResult};
use shared::verdict::Verdict;

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
    /// Label of the stage in work.
    pub stage: String,
    /// Quantities outside, unproven, within.
    pub counts: [usize; 3],
    /// Changes that the server does not have.
    pub unshared: usize,
    /// RFC 3339 time of the last change seen here.
    pub at: String,
    /// Is the book on this phone?
    #[serde(default)]
    pub here: bool,
}

impl Held {
    /// What the list of cars shows; `at` is the RFC 3339 time of the change.
    #[must_use]
    pub fn cover(&self, id: &str, job: &Job, result: Option<&JobResult>, at: String) -> Cover {
        Cover {
            id: id.to_owned(),
            number: job.card.number.clone(),
            vehicle: job.card.vehicle.clone(),
            stage: job
                .stages
                .last()
                .map(|stage| stage.label.clone())
                .unwrap_or_default(),
            counts: result.map(counts).unwrap_or_default(),
            unshared: self.unshared(),
            at,
            here: true,
        }
    }
}

/// Quantities outside, unproven, within in one stage.
#[must_use]
pub fn stage_counts(stage: &StageResult) -> [usize; 3] {
    let mut counts = [0; 3];
    let pairs = stage.pairs.iter().flat_map(|pair| {
        [
            &pair.right_higher_mm,
            &pair.centre_right_mm,
            &pair.right_rearward_mm,
            &pair.width_mm,
        ]
        .map(|judged| judged.verdict)
    });
    let points = stage.points.values().flat_map(|point| point.verdict);
    for verdict in pairs.chain(points).flatten() {
        counts[match verdict {
            Verdict::Outside => 0,
            Verdict::Unproven => 1,
            Verdict::Within => 2,
        }] += 1;
    }
    counts
}

/// Quantities outside, unproven, within in the latest stage with any.
#[must_use]
pub fn counts(result: &JobResult) -> [usize; 3] {
    let all = result.stages.iter().rev().map(stage_counts);
    all.into_iter()
        .find(|counts| counts.iter().sum::<usize>() > 0)
        .unwrap_or_default()
}
