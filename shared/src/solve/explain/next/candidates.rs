//! Readings that could be taken in a stage, with the set-up that stands.
//!
//! Millimetres. This file refuses to know what they would settle.

use crate::adjust::sorting::sort_by;
use std::collections::HashSet;

use crate::adjust::{Row, Solution};
use crate::ids::{PointId, SetupId};
use crate::job::{Beam, Job, OffsetSide, Plumb, Side, Taken};
use crate::result::NextReading;
use crate::solve::network::Built;

/// Trusted points that spans are proposed to, per point.
const REFERENCES: usize = 6;
/// Readings proposed when a stage begins.
const FIRST: usize = 8;

/// One reading that could be taken.
#[derive(Debug, Clone)]
pub(super) struct Candidate {
    pub(super) taken: Taken,
    pub(super) row: Row,
    /// The same reading on the other side of the pair, when neither was taken yet.
    pub(super) partner: Option<usize>,
    /// The suspect it repeats, by its index in the job.
    pub(super) suspect: Option<usize>,
}

impl Candidate {
    pub(super) fn ends(&self) -> (PointId, Option<PointId>) {
        let mut points = self.taken.points().cloned();
        let first = points.next().expect("every reading touches a point");
        (first, points.next())
    }
}

pub(super) fn of_stage(
    job: &Job,
    built: &Built,
    solution: &Solution,
    stage: usize,
) -> Vec<Candidate> {
    let id = &job.stages[stage].id;
    let mut candidates: Vec<Candidate> = Vec::new();
    let offer = |candidates: &mut Vec<Candidate>, taken: Taken, suspect: Option<usize>| {
        let row = built
            .observation(job, id, &taken, None)
            .and_then(|observation| solution.sighted(&observation));
        candidates.extend(row.map(|row| Candidate {
            taken,
            row,
            partner: None,
            suspect,
        }));
    };
    for suspect in solution.suspects() {
        for observation in &suspect.one_of {
            let Some(&index) = built.reading_of.get(observation) else {
                continue;
            };
            let reading = &job.readings[index];
            let first = suspect
                .one_of
                .iter()
                .find_map(|o| built.reading_of.get(o))
                .copied();
            if &reading.stage == id {
                offer(&mut candidates, reading.taken.clone(), first);
            }
        }
    }
    let (level, plumb) = setups(job, stage);
    let trusted: Vec<&PointId> = references(job);
    for (point, what) in &job.points {
        if let Some(setup) = &level {
            offer(&mut candidates, height(setup, point), None);
        }
        if let Some(setup) = &plumb {
            offer(&mut candidates, offset(job, setup, point), None);
            if let Some(mirror) = what.mirror.as_ref().filter(|_| what.side == Side::Left) {
                let split = Taken::Split {
                    setup: setup.clone(),
                    from: point.clone(),
                    to: mirror.clone(),
                    value_mm: 0.0,
                };
                offer(&mut candidates, split, None);
            }
        }
        if !what.trusted && built.read[stage].contains(point) {
            for reference in &trusted {
                let span = Taken::Span {
                    from: point.clone(),
                    to: (*reference).clone(),
                    value_mm: 0.0,
                };
                offer(&mut candidates, span, None);
            }
        }
    }
    pair_up(job, stage, &mut candidates);
    candidates
}

/// Two readings of a pair belong together when neither side has one of that kind in the stage.
fn pair_up(job: &Job, stage: usize, candidates: &mut [Candidate]) {
    let id = &job.stages[stage].id;
    let read: HashSet<(&str, &PointId)> = job
        .counting_readings()
        .filter(|reading| &reading.stage == id)
        .flat_map(|reading| {
            let kind = reading.taken.kind();
            reading.taken.points().map(move |point| (kind, point))
        })
        .collect();
    let has = |kind: &str, point: &PointId| read.contains(&(kind, point));
    let single = |taken: &Taken| match taken {
        Taken::Height { point, .. } | Taken::Offset { point, .. } => Some(point.clone()),
        _ => None,
    };
    for index in 0..candidates.len() {
        let kind = candidates[index].taken.kind();
        let Some(point) = single(&candidates[index].taken) else {
            continue;
        };
        let Some(mirror) = job
            .points
            .get(&point)
            .and_then(|point| point.mirror.clone())
        else {
            continue;
        };
        if candidates[index].suspect.is_some() || has(kind, &point) || has(kind, &mirror) {
            continue;
        }
        candidates[index].partner = candidates.iter().position(|other| {
            other.suspect.is_none()
                && other.taken.kind() == kind
                && single(&other.taken).as_ref() == Some(&mirror)
        });
    }
}

/// The set-up of the last height and of the last reading to a plumb beam in the stage.
fn setups(job: &Job, stage: usize) -> (Option<SetupId>, Option<SetupId>) {
    let id = &job.stages[stage].id;
    let (mut level, mut plumb) = (None, None);
    for reading in job
        .counting_readings()
        .filter(|reading| &reading.stage == id)
    {
        match &reading.taken {
            Taken::Height { setup, .. } => level = Some(setup.clone()),
            Taken::Offset { setup, .. } | Taken::Split { setup, .. } => {
                let lengthwise = job
                    .setups
                    .get(setup)
                    .is_some_and(|setup| setup.plumb == Some(Plumb::Lengthwise));
                if lengthwise {
                    plumb = Some(setup.clone());
                }
            }
            Taken::Span { .. } | Taken::DatumSpan { .. } | Taken::Fix { .. } => {}
        }
    }
    (level, plumb)
}

/// Trusted points, the outermost lengthwise first: they tell lengths best.
fn references(job: &Job) -> Vec<&PointId> {
    let mut trusted: Vec<(&PointId, f64)> = job
        .points
        .iter()
        .filter(|(_, point)| point.trusted)
        .map(|(id, point)| (id, point.place_mm[0]))
        .collect();
    sort_by(&mut trusted, |a, b| a.1.total_cmp(&b.1));
    let mut chosen = Vec::new();
    while chosen.len() < REFERENCES && !trusted.is_empty() {
        let index = if chosen.len() % 4 < 2 {
            trusted.len() - 1
        } else {
            0
        };
        chosen.push(trusted.remove(index).0);
    }
    chosen
}

fn height(setup: &SetupId, point: &PointId) -> Taken {
    Taken::Height {
        setup: setup.clone(),
        point: point.clone(),
        beam: Beam::Above,
        value_mm: 0.0,
    }
}

fn offset(job: &Job, setup: &SetupId, point: &PointId) -> Taken {
    let left = job.points.get(point).is_some_and(|p| p.side == Side::Left);
    Taken::Offset {
        setup: setup.clone(),
        point: point.clone(),
        side: if left {
            OffsetSide::Left
        } else {
            OffsetSide::Right
        },
        value_mm: 0.0,
    }
}

/// A stage begins with its references: they give it its frame.
pub(super) fn first_of_stage(job: &Job, stage: usize) -> Vec<NextReading> {
    let setup = job
        .counting_readings()
        .filter_map(|reading| match &reading.taken {
            Taken::Height { setup, .. } => Some(setup),
            _ => None,
        })
        .last()
        .or_else(|| job.setups.keys().next());
    job.points
        .iter()
        .filter(|(_, point)| point.trusted)
        .take(FIRST)
        .map(|(id, _)| NextReading {
            kind: "height".to_owned(),
            stage: job.stages[stage].id.clone(),
            setup: setup.cloned(),
            point: id.clone(),
            to: None,
            settles: Vec::new(),
            sigma_after_mm: None,
            why: "a stage begins with its references: they give it its frame".to_owned(),
        })
        .collect()
}
