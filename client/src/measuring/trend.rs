//! A pair over the stages: what is left at each, and what really moved.
//!
//! Values only, millimetres. Verdicts and tests are the engine's.

use shared::adjust::sorting::sort_by;
use shared::ids::{PointId, StageId};
use shared::job::{Job, Load, Side};
use shared::result::{JobResult, Judged, PairResult, StageResult};
use shared::verdict::Verdict;

use shared::speech::Quantity;

/// At most this many pairs are watched at once.
pub const MOST_WATCHED: usize = 4;

/// One quantity of one pair over all stages.
#[derive(Debug, Clone, PartialEq)]
pub struct Trend {
    /// Left point.
    pub left: PointId,
    /// Right point.
    pub right: PointId,
    /// Which quantity.
    pub quantity: Quantity,
    /// Half width of the tolerance that judges it, millimetres.
    pub tolerance_mm: f64,
    /// One step per stage, in the job's order.
    pub steps: Vec<Step>,
}

/// One stage of a trend.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The stage.
    pub stage: StageId,
    /// Its label.
    pub label: String,
    /// For a pull: is the chain tight?
    pub load: Option<Load>,
    /// The quantity there.
    pub judged: Judged,
    /// Did either point really move since the stage before? `None` when that was not measured.
    pub real: Option<bool>,
}

/// Where a quantity went, seen from where it should be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Less is left.
    Nearer,
    /// More is left.
    Further,
    /// It went past its place, to the other side.
    Across,
}

/// How a quantity moved between two stages.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Movement {
    /// Signed as the quantity is, millimetres.
    pub by_mm: f64,
    /// Where to.
    pub way: Way,
}

impl Step {
    /// What is left: the value less its target.
    #[must_use]
    pub fn left(&self) -> Option<f64> {
        Some(self.judged.value? - self.judged.target.unwrap_or(0.0))
    }
}

impl Trend {
    /// The step of a stage.
    #[must_use]
    pub fn at(&self, stage: &StageId) -> Option<&Step> {
        self.steps.iter().find(|step| step.stage == *stage)
    }

    /// Movement of the quantity from the last stage before this one in which it was measured.
    #[must_use]
    pub fn moved(&self, stage: &StageId) -> Option<Movement> {
        let at = self.steps.iter().position(|step| step.stage == *stage)?;
        let before = self.steps[..at].iter().rev().find_map(Step::left)?;
        let now = self.steps[at].left()?;
        Some(Movement {
            by_mm: now - before,
            way: match () {
                () if before * now < 0.0 => Way::Across,
                () if now.abs() < before.abs() => Way::Nearer,
                () => Way::Further,
            },
        })
    }

    fn worst(&self) -> f64 {
        let sizes = self
            .steps
            .iter()
            .filter_map(|step| Some(step.left()?.abs()));
        sizes.fold(0.0, f64::max)
    }
}

/// Every quantity that has a verdict in some stage, the furthest off first.
#[must_use]
pub fn trends(job: &Job, result: &JobResult) -> Vec<Trend> {
    let mut trends: Vec<Trend> = job
        .points
        .iter()
        .filter(|(_, point)| point.side == Side::Left)
        .filter_map(|(left, point)| Some((left, point.mirror.as_ref()?)))
        .flat_map(|(left, right)| {
            Quantity::ALL.map(|quantity| trend(job, result, left, right, quantity))
        })
        .filter(|trend| trend.steps.iter().any(|step| step.judged.verdict.is_some()))
        .collect();
    sort_by(&mut trends, |a, b| b.worst().total_cmp(&a.worst()));
    trends
}

fn trend(
    job: &Job,
    result: &JobResult,
    left: &PointId,
    right: &PointId,
    quantity: Quantity,
) -> Trend {
    let steps = job
        .stages
        .iter()
        .zip(&result.stages)
        .map(|(stage, found)| Step {
            stage: stage.id.clone(),
            label: stage.label.clone(),
            load: stage.pulled(),
            judged: pair(found, left)
                .map_or_else(Judged::default, |pair| quantity.of(pair).clone()),
            real: really_moved(result, &stage.id, [left, right], quantity),
        });
    Trend {
        left: left.clone(),
        right: right.clone(),
        quantity,
        tolerance_mm: job.tolerance_of(&[left, right]),
        steps: steps.collect(),
    }
}

fn pair<'a>(stage: &'a StageResult, left: &PointId) -> Option<&'a PairResult> {
    stage.pairs.iter().find(|pair| pair.left == *left)
}

fn really_moved(
    result: &JobResult,
    to: &StageId,
    points: [&PointId; 2],
    quantity: Quantity,
) -> Option<bool> {
    let axis = match quantity {
        Quantity::RightHigher => 2,
        Quantity::CentreRight | Quantity::Width => 1,
        Quantity::RightRearward => 0,
    };
    result
        .changes
        .iter()
        .filter(|change| change.to == *to && points.contains(&&change.point))
        .filter_map(|change| change.real[axis])
        .reduce(|a, b| a || b)
}

/// Left points of the pairs to watch in a stage: those of its pulls, else of the last stage before
/// it that had pulls.
#[must_use]
pub fn to_watch(job: &Job, result: &JobResult, stage: &StageId) -> Vec<PointId> {
    let at = result.stages.iter().position(|found| found.id == *stage);
    let until = at.map_or(0, |at| at + 1);
    let pulls = result.stages[..until]
        .iter()
        .rev()
        .find(|found| !found.pulls.is_empty())
        .map(|found| &found.pulls);
    let mut watched: Vec<PointId> = Vec::new();
    for point in pulls.into_iter().flatten().flat_map(|pull| &pull.watch) {
        let Some(known) = job.points.get(point) else {
            continue;
        };
        let left = match (known.side, &known.mirror) {
            (Side::Right, Some(mirror)) => mirror.clone(),
            _ => point.clone(),
        };
        if !watched.contains(&left) && watched.len() < MOST_WATCHED {
            watched.push(left);
        }
    }
    watched
}

/// The same quantity of the same pair, if it was measured in the stage.
#[must_use]
pub fn same_in<'a>(
    trends: &'a [Trend],
    before: &Trend,
    stage: Option<&StageId>,
) -> Option<&'a Trend> {
    let stage = stage?;
    let is_same = |trend: &&Trend| {
        (&trend.left, trend.quantity) == (&before.left, before.quantity)
            && trend.at(stage).is_some_and(|step| step.left().is_some())
    };
    trends.iter().find(is_same)
}

/// The quantity of a pair that matters most in a stage: one that was measured there, and of these
/// the one furthest outside in any stage.
#[must_use]
pub fn leading<'a>(
    trends: &'a [Trend],
    left: &PointId,
    stage: Option<&StageId>,
) -> Option<&'a Trend> {
    let rank = |trend: &Trend| {
        let measured = stage
            .and_then(|stage| trend.at(stage))
            .is_some_and(|step| step.left().is_some());
        let outside = trend
            .steps
            .iter()
            .any(|step| step.judged.verdict == Some(Verdict::Outside));
        (measured, outside, trend.worst())
    };
    trends
        .iter()
        .filter(|trend| trend.left == *left)
        .max_by(|a, b| {
            let (a, b) = (rank(a), rank(b));
            (a.0, a.1).cmp(&(b.0, b.1)).then(a.2.total_cmp(&b.2))
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn demo() -> (Job, JobResult) {
        let job = shared::demo::job();
        let result = shared::solve::solve(&job);
        (job, result)
    }

    #[test]
    fn the_demo_is_watched_where_its_rail_was_pulled() {
        let (job, result) = demo();
        let last = job.stages.last().unwrap().id.clone();
        let watched = to_watch(&job, &result, &last);
        assert!((1..=MOST_WATCHED).contains(&watched.len()));
        assert!(
            watched.iter().any(|id| id.as_str() == "rail-front-L"),
            "{watched:?}"
        );
        assert!(watched.iter().all(|id| id.as_str().ends_with("-L")));
    }

    #[test]
    fn a_trend_says_what_is_left_and_what_moved() {
        let (job, result) = demo();
        let trends = trends(&job, &result);
        let height = trends
            .iter()
            .find(|t| t.left.as_str() == "rail-front-L" && t.quantity == Quantity::RightHigher)
            .unwrap();
        let [first, load, released] = height.steps.as_slice() else {
            panic!("three stages")
        };
        assert!(first.left().unwrap() < -10.0 && load.left().unwrap() > -3.0);
        assert_eq!(first.real, None, "nothing came before");
        assert_eq!(load.real, Some(true));
        let moved = height.moved(&load.stage).unwrap();
        assert!((moved.by_mm - (load.left().unwrap() - first.left().unwrap())).abs() < 1e-12);
        assert_eq!(moved.way, Way::Nearer);
        let back = height.moved(&released.stage).unwrap();
        assert!(back.by_mm < 0.0, "it sprang back");
        assert_eq!(back.way, Way::Further);
    }

    #[test]
    fn lengths_not_read_under_load_leave_a_gap() {
        let (job, result) = demo();
        let trends = trends(&job, &result);
        let length = trends
            .iter()
            .find(|t| t.left.as_str() == "rail-front-L" && t.quantity == Quantity::RightRearward)
            .unwrap();
        assert!(length.steps[0].left().is_some() && length.steps[1].left().is_none());
        assert_eq!(length.moved(&length.steps[1].stage), None);
        let leads = |stage: usize| {
            let stage = &job.stages[stage].id;
            leading(&trends, &length.left, Some(stage))
                .unwrap()
                .quantity
        };
        assert_eq!(leads(0), Quantity::RightRearward);
        assert_eq!(leads(1), Quantity::RightHigher, "what was read under load");
    }
}
