//! What another revision would change in a job: pinned, solved, and set beside the job as it is.
//!
//! Millimetres.

use super::content::pinned;
use super::sheet::Sheet;
use crate::ids::{PointId, StageId};
use crate::job::Job;
use crate::result::{JobResult, Judged};
use crate::solve::solve;
use crate::verdict::Verdict;

/// A smaller change is none that anybody reads.
const SHOWN_MM: f64 = 0.05;

/// What a deviation or quantity is, and what was said of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    /// Deviation from its target; `None` when it is not judged.
    pub deviation_mm: Option<f64>,
    /// Verdict.
    pub verdict: Option<Verdict>,
}

/// One quantity that another revision changes.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// Stage.
    pub stage: StageId,
    /// The quantity.
    pub subject: Subject,
    /// As the job stands.
    pub now: Found,
    /// With the other revision.
    pub then: Found,
}

impl Effect {
    /// Is it more than another number?
    #[must_use]
    pub fn turns(&self) -> bool {
        self.now.verdict != self.then.verdict
    }
}

/// A quantity.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Subject {
    /// A point along an axis (0 x, 1 y, 2 z).
    Point(PointId, usize),
    /// Of a pair, left and right: `right_higher_mm`, `centre_right_mm`, `right_rearward_mm`, `width_mm`.
    Pair(PointId, PointId, &'static str),
}

/// What a revision would change in this job: everything whose verdict turns, or whose deviation moves
/// by more than a twentieth of a millimetre; turned verdicts first, then the largest.
///
/// The job itself is not changed. Each of the two is solved once.
#[must_use]
pub fn effect(job: &Job, newer: &Sheet) -> Vec<Effect> {
    let now = solve(job);
    let with = Job {
        sheet: Some(pinned(newer, job).sheet),
        ..job.clone()
    };
    let then = solve(&with);
    let mut effects = Vec::new();
    for (a, b) in subjects(&now).into_iter().zip(subjects(&then)) {
        debug_assert_eq!(
            (&a.0, &a.1),
            (&b.0, &b.1),
            "the same readings, points and stages"
        );
        let ((stage, subject, now), (.., then)) = (a, b);
        let effect = Effect {
            stage,
            subject,
            now,
            then,
        };
        if effect.turns() || size(&effect) > SHOWN_MM {
            effects.push(effect);
        }
    }
    effects.sort_by(|a, b| b.turns().cmp(&a.turns()).then(size(b).total_cmp(&size(a))));
    effects
}

fn size(effect: &Effect) -> f64 {
    match (effect.now.deviation_mm, effect.then.deviation_mm) {
        (Some(now), Some(then)) => (then - now).abs(),
        (None, None) => 0.0,
        _ => f64::INFINITY,
    }
}

fn subjects(result: &JobResult) -> Vec<(StageId, Subject, Found)> {
    let mut all = Vec::new();
    for stage in &result.stages {
        for (id, point) in &stage.points {
            for axis in 0..3 {
                let found = Found {
                    deviation_mm: point.deviation_mm[axis],
                    verdict: point.verdict[axis],
                };
                all.push((stage.id.clone(), Subject::Point(id.clone(), axis), found));
            }
        }
        for pair in &stage.pairs {
            for (name, judged) in super::history::of_pair(pair) {
                let subject = Subject::Pair(pair.left.clone(), pair.right.clone(), name);
                all.push((stage.id.clone(), subject, found(judged)));
            }
        }
    }
    all
}

fn found(judged: &Judged) -> Found {
    Found {
        deviation_mm: judged
            .value
            .zip(judged.target)
            .map(|(value, target)| value - target),
        verdict: judged.verdict,
    }
}
