//! The stage in hand: while somebody reads in one stage, only that one is solved again.
//!
//! All other stages stand as rows on the points that stages share ([`crate::adjust::Carried`]), from
//! the last solution of the whole job. This file refuses to know how stages meet.

use std::collections::HashMap;

use indexmap::IndexMap;

use super::network::{Built, is_shared};
use super::{doubts, quantities};
use crate::adjust::sorting::sort_by;
use crate::adjust::{Carried, Solution};
use crate::ids::ReadingId;
use crate::job::{Job, Reading};
use crate::result::{JobResult, ReadingResult};

/// A whole job, solved.
#[derive(Debug, Clone)]
pub(super) struct Whole {
    job: Job,
    /// Without its readings.
    result: JobResult,
    readings: IndexMap<ReadingId, ReadingResult>,
    carried: HashMap<usize, Carried>,
}

/// One stage, solved again since.
#[derive(Debug, Clone)]
pub(super) struct Hand {
    pub(super) stage: usize,
    pub(super) built: Built,
    pub(super) solution: Solution,
}

impl Whole {
    pub(super) fn new(job: &Job, result: &JobResult) -> Self {
        let mut result = result.clone();
        Self {
            job: job.clone(),
            readings: std::mem::take(&mut result.readings),
            result,
            carried: HashMap::new(),
        }
    }

    /// The one stage whose readings are all that differs; `None` when more does, or when no other
    /// stage could be spared.
    pub(super) fn only_changed(&self, job: &Job) -> Option<usize> {
        if job.stages.len() < 2 || !same_but_readings(&self.job, job) {
            return None;
        }
        let (before, now) = between_ends(&self.job.readings, &job.readings);
        let mut stages = job.stages.iter().enumerate().filter(|(_, stage)| {
            let own = |reading: &&Reading| reading.stage == stage.id;
            !before.iter().filter(own).eq(now.iter().filter(own))
        });
        let (stage, _) = stages.next()?;
        stages.next().is_none().then_some(stage)
    }

    pub(super) fn carried(&mut self, solution: &Solution, but: usize) -> &Carried {
        self.carried
            .entry(but)
            .or_insert_with(|| solution.carried(but))
    }

    /// The whole's result with what one stage says now. The fit is the whole's.
    pub(super) fn with(&self, job: &Job, hand: &Hand) -> JobResult {
        let Hand {
            stage,
            built,
            solution,
        } = hand;
        let mut result = self.result.clone();
        let id = &job.stages[*stage].id;
        let mine = |reading: &Reading| reading.stage == *id || is_shared(job, reading);
        if let Some(place) = result.stages.get_mut(*stage) {
            let now = quantities::stage(job, built, solution, *stage);
            let before = std::mem::replace(place, now);
            place.modes = before.modes;
            place.causes = before.causes;
            place.pulls = before.pulls;
        }
        result.suspects.retain(|suspect| {
            let mut readings = job.readings.iter();
            let reading = readings.find(|reading| reading.id == suspect.reading);
            reading.is_some_and(|reading| !mine(reading))
        });
        result
            .suspects
            .extend(doubts::suspects(job, built, solution));
        sort_by(&mut result.suspects, |a, b| b.t.abs().total_cmp(&a.t.abs()));
        result.trust = doubts::trust(job, built, solution);
        let now = doubts::readings(job, built, solution);
        result.readings = job
            .readings
            .iter()
            .filter_map(|reading| {
                let known = if mine(reading) { &now } else { &self.readings };
                Some((reading.id.clone(), known.get(&reading.id)?.clone()))
            })
            .collect();
        result
    }
}

/// Both lists without what they have in common at the beginning and at the end.
fn between_ends<'a>(a: &'a [Reading], b: &'a [Reading]) -> (&'a [Reading], &'a [Reading]) {
    let alike = |(a, b): &(&Reading, &Reading)| a == b;
    let head = a.iter().zip(b).take_while(alike).count();
    let (a, b) = (&a[head..], &b[head..]);
    let tail = a.iter().rev().zip(b.iter().rev()).take_while(alike).count();
    (&a[..a.len() - tail], &b[..b.len() - tail])
}

fn same_but_readings(a: &Job, b: &Job) -> bool {
    a.points == b.points
        && a.stages == b.stages
        && a.setups == b.setups
        && a.tools == b.tools
        && a.sheet == b.sheet
        && a.settings == b.settings
        && a.members == b.members
        && a.card == b.card
}
