//! What the findings are about, worst first; the sentences are made from these elsewhere.
//!
//! Values only, millimetres. Verdicts are the engine's.

use std::collections::BTreeSet;

use shared::adjust::sorting::sort_by;
use shared::finding::{Finding, FindingCode};
use shared::ids::PointId;
use shared::job::Job;
use shared::result::{
    CannotTell, Cause, JobResult, Judged, NextReading, Pull, StageResult, Suspect, TrustTest,
};
use shared::verdict::Verdict;

use shared::speech::Quantity;

/// One thing to know, with the values behind it.
#[derive(Debug, Clone, PartialEq)]
pub enum Concern {
    /// A quantity of a pair with its verdict.
    Pair {
        /// Left point.
        left: PointId,
        /// Right point.
        right: PointId,
        /// Which quantity.
        quantity: Quantity,
        /// Value, spread, verdict.
        judged: Judged,
    },
    /// A coordinate of a point against its target.
    Point {
        /// The point.
        point: PointId,
        /// 0 = length, 1 = width, 2 = height.
        axis: usize,
        /// Deviation.
        deviation_mm: f64,
        /// Spread.
        sigma_mm: f64,
        /// Verdict.
        verdict: Verdict,
        /// The tolerance that judged it, when it is not the rule's.
        tolerance_mm: Option<f64>,
    },
    /// A reading that the others contradict.
    Suspect(Suspect),
    /// A reference that does not fit.
    Bent(TrustTest),
    /// Two people set the same field differently.
    Conflict(Finding),
    /// What explains the damage.
    Cause(Cause),
    /// What to pull.
    Pull(Pull),
    /// What to read next.
    Next(NextReading),
    /// What these readings can never tell.
    CannotTell(CannotTell),
}

impl Concern {
    /// What it is about, however its values and its place in the list change.
    fn subject(&self) -> String {
        match self {
            Self::Pair {
                left,
                right,
                quantity,
                ..
            } => format!("pair {left} {right} {quantity:?}"),
            Self::Point { point, axis, .. } => format!("point {point} {axis}"),
            // Which of a group is tested first may change with every reading.
            Self::Suspect(Suspect { one_of, .. }) | Self::Bent(TrustTest { one_of, .. })
                if one_of.len() > 1 =>
            {
                let mut group = one_of.clone();
                group.sort_unstable();
                format!("doubt {}", group.join(" "))
            }
            Self::Suspect(suspect) => format!("doubt {}", suspect.reading),
            Self::Bent(test) => format!("bent {:?} {}", test.points, test.axis),
            Self::Conflict(finding) => format!("conflict {:?}", finding.subject),
            Self::Cause(cause) => format!("cause {}", cause.member),
            Self::Pull(pull) => format!("pull {} {}", pull.order, pull.member),
            Self::Next(next) => format!(
                "next {:?}",
                (&next.kind, &next.setup, &next.point, &next.to)
            ),
            Self::CannotTell(cannot) => format!("cannot {}", cannot.what),
        }
    }
}

/// Each concern under a name of its own, by which it is known again when the list has changed.
#[must_use]
pub fn named(concerns: Vec<Concern>) -> Vec<(String, Concern)> {
    let mut known = BTreeSet::new();
    let name = |concern: Concern| {
        let mut name = concern.subject();
        while !known.insert(name.clone()) {
            name.push('+');
        }
        (name, concern)
    };
    concerns.into_iter().map(name).collect()
}

/// Everything about one stage, worst first.
#[must_use]
pub fn concerns(
    job: &Job,
    result: &JobResult,
    stage: &StageResult,
    findings: &[Finding],
) -> Vec<Concern> {
    let in_stage = |id: &shared::ids::ReadingId| {
        job.readings
            .iter()
            .any(|r| r.id == *id && r.stage == stage.id)
    };
    let mut list = conflicts(findings);
    list.extend(
        result
            .suspects
            .iter()
            .filter(|s| in_stage(&s.reading))
            .cloned()
            .map(Concern::Suspect),
    );
    list.extend(
        result
            .trust
            .iter()
            .filter(|test| !test.fits)
            .cloned()
            .map(Concern::Bent),
    );
    let judged = judged(stage);
    let of = |wanted: Verdict| {
        judged
            .iter()
            .filter(move |(_, verdict, _)| *verdict == wanted)
            .map(|(concern, ..)| concern.clone())
    };
    list.extend(of(Verdict::Outside));
    list.extend(stage.causes.iter().cloned().map(Concern::Cause));
    list.extend(stage.pulls.iter().cloned().map(Concern::Pull));
    list.extend(of(Verdict::Unproven));
    let next = result
        .next
        .iter()
        .filter(|next| next.stage == stage.id)
        .take(5);
    list.extend(next.cloned().map(Concern::Next));
    list.extend(of(Verdict::Within));
    list.extend(stage.cannot_tell.iter().cloned().map(Concern::CannotTell));
    list
}

/// What two people set differently.
#[must_use]
pub fn conflicts(findings: &[Finding]) -> Vec<Concern> {
    findings
        .iter()
        .filter(|finding| finding.code == FindingCode::Conflict)
        .cloned()
        .map(Concern::Conflict)
        .collect()
}

/// Every judged quantity with its verdict and size, largest first.
fn judged(stage: &StageResult) -> Vec<(Concern, Verdict, f64)> {
    let mut list = Vec::new();
    for pair in &stage.pairs {
        for quantity in Quantity::ALL {
            let judged = quantity.of(pair);
            if let (Some(value), Some(verdict)) = (judged.value, judged.verdict) {
                let size = (value - judged.target.unwrap_or(0.0)).abs();
                let (left, right) = (pair.left.clone(), pair.right.clone());
                list.push((
                    Concern::Pair {
                        left,
                        right,
                        quantity,
                        judged: judged.clone(),
                    },
                    verdict,
                    size,
                ));
            }
        }
    }
    for (id, point) in &stage.points {
        for axis in 0..3 {
            if let (Some(deviation_mm), Some(sigma_mm), Some(verdict)) = (
                point.deviation_mm[axis],
                point.deviation_sigma_mm[axis],
                point.verdict[axis],
            ) {
                let concern = Concern::Point {
                    point: id.clone(),
                    axis,
                    deviation_mm,
                    sigma_mm,
                    verdict,
                    tolerance_mm: point.tolerance_mm,
                };
                list.push((concern, verdict, deviation_mm.abs()));
            }
        }
    }
    sort_by(&mut list, |a, b| b.2.total_cmp(&a.2));
    list
}
