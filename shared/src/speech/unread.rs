//! What a stage does not say: what was outside and was not read again, and what is not judged in it.
//! Fewer quantities outside are no repair by themselves.

use super::{Quantity, Speech};
use crate::ids::{PointId, StageId};
use crate::job::{Job, Side};
use crate::result::{JobResult, Judged, StageResult};
use crate::verdict::Verdict;

/// What was outside.
#[derive(Debug, Clone, PartialEq)]
pub enum UnreadOf {
    /// A quantity of a pair, by its left point.
    Pair(PointId, Quantity),
    /// A coordinate of a point: 0 = length, 1 = width, 2 = height.
    Point(PointId, usize),
}

/// What was outside when it was last read, in an earlier stage.
#[derive(Debug, Clone, PartialEq)]
pub struct Unread {
    /// What was outside.
    pub of: UnreadOf,
    /// How far.
    pub judged: Judged,
    /// The stage that read it last.
    pub since: StageId,
}

/// What was outside before a stage and says nothing in it; in the order of the stages that read it last,
/// newest first.
#[must_use]
pub fn not_read_again(result: &JobResult, stage: &StageId) -> Vec<Unread> {
    let is_it = |found: &StageResult| found.id == *stage;
    let Some(now) = result.stages.iter().position(is_it) else {
        return Vec::new();
    };
    // Newest first, so that a later reading of the same answers for an earlier one.
    let mut read = Vec::new();
    let mut unread = Vec::new();
    for (at, found) in result.stages[..=now].iter().enumerate().rev() {
        for (of, judged) in quantities(found) {
            if judged.value.is_none() || read.contains(&of) {
                continue;
            }
            read.push(of.clone());
            if at < now && judged.verdict == Some(Verdict::Outside) {
                let since = found.id.clone();
                unread.push(Unread { of, judged, since });
            }
        }
    }
    unread
}

/// Everything that a stage may judge.
fn quantities(stage: &StageResult) -> impl Iterator<Item = (UnreadOf, Judged)> {
    let pairs = stage.pairs.iter().flat_map(|pair| {
        Quantity::ALL.map(|quantity| {
            let of = UnreadOf::Pair(pair.left.clone(), quantity);
            (of, quantity.of(pair).clone())
        })
    });
    let points = stage.points.iter().flat_map(|(id, point)| {
        [0, 1, 2].map(|axis| (UnreadOf::Point(id.clone(), axis), point.judged(axis)))
    });
    pairs.chain(points)
}

impl Speech {
    /// `left higher by 12.0 mm`, or `high 12.0 mm` of a point alone.
    #[must_use]
    pub fn unread(self, unread: &Unread) -> String {
        match &unread.of {
            UnreadOf::Pair(_, quantity) => self.quantity(*quantity, &unread.judged),
            UnreadOf::Point(_, axis) => {
                self.deviation(*axis, unread.judged.value.unwrap_or_default())
            }
        }
    }
}

/// How many pairs and single points of the car a stage judges nothing of, and how many there are. A
/// single point counts when something says where it should be: the sheet, or the centre plane.
#[must_use]
pub fn not_judged(job: &Job, stage: &StageResult) -> [usize; 2] {
    let is_judged = |id: &PointId| {
        let found = stage.points.get(id);
        found.is_some_and(|point| point.verdict.iter().any(Option::is_some))
    };
    let pairs = stage.pairs.iter().map(|pair| {
        let quantities = Quantity::ALL.map(|quantity| quantity.of(pair).verdict);
        let points = [&pair.left, &pair.right];
        quantities.iter().any(Option::is_some) || points.into_iter().any(is_judged)
    });
    let has_target = |id: &PointId| {
        let sheet = job.sheet.as_ref();
        sheet.is_some_and(|sheet| sheet.points.contains_key(id))
    };
    let singles = job.points.iter().filter(|(id, point)| {
        point.mirror.is_none() && (point.side == Side::Centre || has_target(id))
    });
    let all: Vec<bool> = pairs.chain(singles.map(|(id, _)| is_judged(id))).collect();
    let without = all.iter().filter(|is_judged| !**is_judged).count();
    [without, all.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(stages: &[(&str, Option<Verdict>)]) -> Vec<Unread> {
        let mut result = crate::solve::solve(&crate::demo::job());
        let template = result.stages[0].clone();
        let pair = template.pairs[0].clone();
        result.stages = stages
            .iter()
            .map(|(id, height)| {
                let mut pair = pair.clone();
                for judged in [
                    &mut pair.right_higher_mm,
                    &mut pair.centre_right_mm,
                    &mut pair.right_rearward_mm,
                    &mut pair.width_mm,
                ] {
                    judged.value = None;
                    judged.verdict = None;
                }
                pair.right_higher_mm.value = height.map(|_| 9.0);
                pair.right_higher_mm.verdict = *height;
                let mut stage = template.clone();
                stage.id = StageId::parse(id).expect("an id");
                stage.pairs = vec![pair];
                stage.points.clear();
                stage
            })
            .collect();
        let last = result.stages.last().expect("a stage").id.clone();
        not_read_again(&result, &last)
    }

    #[test]
    fn what_was_outside_and_is_not_read_again_is_told() {
        let unread = of(&[("a", Some(Verdict::Outside)), ("b", None), ("c", None)]);
        assert_eq!(unread.len(), 1);
        let is_height = |of: &UnreadOf| matches!(of, UnreadOf::Pair(_, Quantity::RightHigher));
        assert!(is_height(&unread[0].of), "{unread:?}");
        assert_eq!(unread[0].since.to_string(), "a");
    }

    #[test]
    fn a_point_that_is_judged_alone_is_told_too() {
        let mut result = crate::solve::solve(&crate::demo::job());
        let (id, point) = result.stages[0].points.get_index(0).expect("a point");
        let (id, mut point) = (id.clone(), point.clone());
        point.deviation_mm = [None, Some(9.0), None];
        point.verdict = [None, Some(Verdict::Outside), None];
        for (at, stage) in result.stages.iter_mut().enumerate() {
            stage.pairs.clear();
            stage.points.clear();
            if at == 0 {
                stage.points.insert(id.clone(), point.clone());
            }
        }
        let last = result.stages.last().expect("a stage").id.clone();
        let unread = not_read_again(&result, &last);
        assert_eq!(unread.len(), 1, "{unread:?}");
        assert_eq!(unread[0].of, UnreadOf::Point(id, 1));
        let says = Speech::of(crate::figures::Figures::default()).unread(&unread[0]);
        assert!(says.ends_with("9.0 mm"), "{says}");
    }

    #[test]
    fn a_later_reading_answers_for_an_earlier_one() {
        let outside = Some(Verdict::Outside);
        for last in [Verdict::Outside, Verdict::Unproven, Verdict::Within] {
            assert_eq!(of(&[("a", outside), ("b", Some(last))]), []);
        }
        assert_eq!(
            of(&[("a", outside), ("b", Some(Verdict::Within)), ("c", None)]),
            []
        );
        assert_eq!(of(&[("a", Some(Verdict::Unproven)), ("b", None)]), []);
    }

    #[test]
    fn what_a_stage_does_not_judge_is_counted() {
        let job = crate::demo::job();
        let all = crate::solve::solve(&job);
        let mirrored = job.points.values().filter(|point| point.mirror.is_some());
        let pairs = mirrored.count() / 2;
        let [first, second] = [0, 1].map(|at| not_judged(&job, &all.stages[at]));
        assert!(first[1] >= pairs, "{first:?} of {pairs} pairs");
        assert_eq!(first[1], second[1]);
        // The pull was read at fewer points.
        assert!(0 < first[0] && first[0] < second[0] && second[0] < second[1]);
        // One reading alone says nothing of any pair.
        let mut one = job.clone();
        one.readings.truncate(1);
        let result = crate::solve::solve(&one);
        let [without, of] = not_judged(&one, &result.stages[0]);
        assert_eq!(without, of);
    }
}
