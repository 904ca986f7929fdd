//! Which reading to take next, so that nobody chooses the same thing twice.
//!
//! First the other side of the pair just read, then what the engine's list of next readings says,
//! then the nearest unread, trusted points first. Nobody is sent back at once to what they have just
//! read: the same hand at the same place would repeat the same slip. Lengths in millimetres.

use shared::ids::{PointId, ReadingId, SetupId, StageId};
use shared::job::{Job, Reading, Side};
use shared::result::{JobResult, NextReading};

use super::task::{BeamSide, Kind, Task, setup_of};

/// Stage, set-up and kind that stay until somebody changes them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Here {
    /// Current stage.
    pub stage: StageId,
    /// Current set-up.
    pub setup: Option<SetupId>,
    /// Current kind.
    pub kind: Kind,
}

/// Why a task is proposed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// The other half of the pair just read.
    OtherSide,
    /// The engine's list says it settles something.
    Settles,
    /// Nobody has read it, and it is near.
    Unread,
    /// A person chose it.
    Chosen,
    /// It was read a moment ago and taken back.
    TakenBack,
    /// It was in hand when somebody else read it.
    ReadMeanwhile,
}

/// A proposed task and the reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Proposal {
    /// What to read.
    pub task: Task,
    /// Why.
    pub why: Why,
}

/// A proposal that somebody has in hand: it stays, whatever others read meanwhile.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InHand {
    /// For which stage, set-up and kind.
    pub here: Here,
    /// What to read, and why it was proposed.
    pub proposal: Proposal,
    /// Where the point is from the beam.
    pub side: BeamSide,
    /// What stood there when it was taken in hand.
    pub stood: Option<ReadingId>,
}

impl InHand {
    /// The same task, with the reason as it is now; `None` elsewhere, and when a point of it is gone.
    #[must_use]
    pub fn still(&self, job: &Job, here: &Here) -> Option<Proposal> {
        let Proposal { task, why } = &self.proposal;
        let mut points = std::iter::once(&task.point).chain(&task.to);
        if self.here != *here || !points.all(|point| job.points.contains_key(point)) {
            return None;
        }
        let stands = answer_to(job, here, task).map(|reading| &reading.id);
        // Whoever chose what is read already knows that.
        let is_news = *why != Why::Chosen && stands.is_some() && stands != self.stood.as_ref();
        Some(Proposal {
            task: task.clone(),
            why: if is_news { Why::ReadMeanwhile } else { *why },
        })
    }
}

/// The next task; `None` when everything of this kind has been read. What was read `last`, and where
/// others are (`busy`), only when there is nothing else.
#[must_use]
pub fn propose(
    job: &Job,
    result: Option<&JobResult>,
    here: &Here,
    last: Option<&Task>,
    busy: &[PointId],
) -> Option<Proposal> {
    let point = last.map(|task| &task.point);
    let just_read = last.filter(|task| is_read(job, here, task));
    let first = |just_read: Option<&Task>, busy: &[PointId]| {
        let is_again = |task: &Task| just_read.is_some_and(|read| read.is_same(task));
        let is_free = |task: &Task| !is_again(task) && !busy.contains(&task.point);
        other_side(job, here, point)
            .filter(|proposal| is_free(&proposal.task))
            .or_else(|| settling(job, result, here, is_free))
            .or_else(|| nearest_unread(job, here, point, is_free))
    };
    first(just_read, busy)
        .or_else(|| first(None, busy))
        .or_else(|| first(None, &[]))
}

/// Has a counting reading answered this task here?
#[must_use]
pub fn is_read(job: &Job, here: &Here, task: &Task) -> bool {
    answer_to(job, here, task).is_some()
}

/// The last counting reading that answers this task here.
#[must_use]
pub fn answer_to<'a>(job: &'a Job, here: &Here, task: &Task) -> Option<&'a Reading> {
    answers_to(job, here, task).last()
}

/// Every counting reading that answers this task here.
pub fn answers_to<'a, 'b>(
    job: &'a Job,
    here: &'b Here,
    task: &'b Task,
) -> impl Iterator<Item = &'a Reading> + use<'a, 'b> {
    job.counting_readings()
        .filter(|reading| task.is_answered_by(reading, &here.stage, here.setup.as_ref()))
}

fn other_side(job: &Job, here: &Here, last: Option<&PointId>) -> Option<Proposal> {
    if here.kind.has_two_points() {
        return None;
    }
    let mirror = job.points.get(last?)?.mirror.clone()?;
    let task = Task {
        kind: here.kind,
        point: mirror,
        to: None,
    };
    (!is_read(job, here, &task)).then_some(Proposal {
        task,
        why: Why::OtherSide,
    })
}

fn settling(
    job: &Job,
    result: Option<&JobResult>,
    here: &Here,
    is_free: impl Fn(&Task) -> bool,
) -> Option<Proposal> {
    let result = result?;
    // What was read since the result says nothing of what is read next.
    let is_new = |reading: &&Reading| !result.readings.contains_key(&reading.id);
    let new: Vec<&Reading> = job.counting_readings().filter(is_new).collect();
    result
        .next
        .iter()
        .filter(|next| next.stage == here.stage && Kind::named(&next.kind) == Some(here.kind))
        .filter(|next| next.setup.is_none() || next.setup == here.setup)
        .filter(|next| job.points.contains_key(&next.point))
        .filter(|next| !new.iter().any(|reading| is_taken(next, reading)))
        .filter_map(Task::of_next)
        .find(is_free)
        .map(|task| Proposal {
            task,
            why: Why::Settles,
        })
}

/// Is this what was to be read next?
#[must_use]
pub fn is_taken(next: &NextReading, reading: &Reading) -> bool {
    let setup = next.setup.as_ref().or_else(|| setup_of(&reading.taken));
    let is_answered = |task: Task| task.is_answered_by(reading, &next.stage, setup);
    Task::of_next(next).is_some_and(is_answered)
}

fn nearest_unread(
    job: &Job,
    here: &Here,
    last: Option<&PointId>,
    is_free: impl Fn(&Task) -> bool,
) -> Option<Proposal> {
    let from = last
        .and_then(|id| job.points.get(id))
        .map(|point| point.place_mm);
    tasks(job, here.kind)
        .into_iter()
        .filter(|task| is_free(task) && !is_read(job, here, task))
        .min_by(|a, b| rank(job, from, a).total_cmp(&rank(job, from, b)))
        .map(|task| Proposal {
            task,
            why: Why::Unread,
        })
}

/// Every sensible task of a kind: each point, or each pair from left to right.
#[must_use]
pub fn tasks(job: &Job, kind: Kind) -> Vec<Task> {
    job.points
        .iter()
        .filter(|(_, point)| !kind.has_two_points() || point.side == Side::Left)
        .filter_map(|(id, point)| {
            let to = if kind.has_two_points() {
                Some(point.mirror.clone()?)
            } else {
                None
            };
            Some(Task {
                kind,
                point: id.clone(),
                to,
            })
        })
        .collect()
}

/// Smaller is sooner: trusted before others, then near, then in front.
fn rank(job: &Job, from: Option<[f64; 3]>, task: &Task) -> f64 {
    /// Further than any car is long, so that no distance outweighs trust.
    const UNTRUSTED: f64 = 100_000.0;
    let Some(point) = job.points.get(&task.point) else {
        return f64::INFINITY;
    };
    let [x, y, _] = point.place_mm;
    let distance = from.map_or(x, |[from_x, from_y, _]| (x - from_x).hypot(y - from_y));
    if point.trusted {
        distance
    } else {
        UNTRUSTED + distance
    }
}

#[cfg(test)]
mod tests {
    use shared::body::{Body, generic};
    use shared::figures::Language;
    use shared::job::Beam;

    use super::*;

    #[test]
    fn what_is_in_hand_stays_until_it_is_for_elsewhere_or_its_point_is_gone() {
        let (points, _) = generic(Body::Unitised, Language::English);
        let mut job = Job {
            points,
            ..Job::default()
        };
        let id = |text: &str| StageId::parse(text).unwrap();
        let here = Here {
            stage: id("as-received"),
            setup: None,
            kind: Kind::Span,
        };
        let proposal = propose(&job, None, &here, None, &[]).unwrap();
        let held = InHand {
            here: here.clone(),
            proposal: proposal.clone(),
            side: BeamSide::Beam(Beam::Above),
            stood: None,
        };
        assert_eq!(held.still(&job, &here), Some(proposal.clone()));
        let elsewhere = Here {
            stage: id("pull-1"),
            ..here.clone()
        };
        assert_eq!(held.still(&job, &elsewhere), None);
        job.points.shift_remove(&proposal.task.to.unwrap());
        assert_eq!(held.still(&job, &here), None);
    }

    #[test]
    fn only_what_came_after_it_was_taken_in_hand_was_read_meanwhile() {
        let job = shared::demo::job();
        let reading = job.counting_readings().last().unwrap();
        let here = Here {
            stage: reading.stage.clone(),
            setup: setup_of(&reading.taken).cloned(),
            kind: Kind::named(reading.taken.kind()).unwrap(),
        };
        let task = Task::of(reading).unwrap();
        let held = |stood| InHand {
            here: here.clone(),
            proposal: Proposal {
                task: task.clone(),
                why: Why::Settles,
            },
            side: BeamSide::Beam(Beam::Above),
            stood,
        };
        let why = |held: InHand| held.still(&job, &here).unwrap().why;
        let stands = answer_to(&job, &here, &task).unwrap().id.clone();
        assert_eq!(why(held(Some(stands))), Why::Settles);
        assert_eq!(why(held(None)), Why::ReadMeanwhile);
    }

    #[test]
    fn nobody_is_sent_back_at_once_to_what_they_have_just_read() {
        let mut job = shared::demo::job();
        let reading = job.counting_readings().next().unwrap().clone();
        let here = Here {
            stage: reading.stage.clone(),
            setup: setup_of(&reading.taken).cloned(),
            kind: Kind::named(reading.taken.kind()).unwrap(),
        };
        let last = Task::of(&reading).unwrap();
        let next = |point: &PointId| NextReading {
            stage: here.stage.clone(),
            setup: here.setup.clone(),
            kind: here.kind.name().to_owned(),
            point: point.clone(),
            to: None,
            settles: vec![],
            sigma_after_mm: None,
            why: String::new(),
        };
        let other = job
            .points
            .keys()
            .find(|id| **id != last.point)
            .unwrap()
            .clone();
        let mut result = shared::solve::solve(&job);
        result.next = vec![next(&last.point), next(&other)];
        let first = |job: &Job, result: &JobResult, last: Option<&Task>| {
            propose(job, Some(result), &here, last, &[])
                .unwrap()
                .task
                .point
        };
        assert_eq!(first(&job, &result, None), last.point);
        assert_eq!(first(&job, &result, Some(&last)), other);
        // Better than nothing, and what was taken back is not read.
        result.next.truncate(1);
        job.points.retain(|id, _| *id == last.point);
        assert_eq!(first(&job, &result, Some(&last)), last.point);
    }

    #[test]
    fn where_somebody_is_only_when_there_is_nothing_else() {
        let (points, _) = generic(Body::Unitised, Language::English);
        let mut job = Job {
            points,
            ..Job::default()
        };
        let here = Here {
            stage: StageId::parse("as-received").unwrap(),
            setup: None,
            kind: Kind::Height,
        };
        let first = |job: &Job, busy: &[PointId]| propose(job, None, &here, None, busy).unwrap();
        let point = first(&job, &[]).task.point;
        let next = first(&job, std::slice::from_ref(&point)).task.point;
        assert_ne!(next, point);
        job.points.retain(|id, _| *id == point);
        assert_eq!(first(&job, std::slice::from_ref(&point)).task.point, point);
    }
}
