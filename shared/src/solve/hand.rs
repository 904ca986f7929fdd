//! The stage in hand: while somebody reads in one stage, only that one is solved again.
//!
//! All other stages stand as rows on the points that stages share ([`crate::adjust::Carried`]), from
//! the last solution of the whole job. This file refuses to know how stages meet.

use std::collections::HashMap;

use super::network::{Built, is_shared};
use super::{doubts, quantities};
use crate::adjust::{Carried, Solution};
use crate::ids::ReadingId;
use crate::job::{Job, Reading};
use crate::result::JobResult;

/// A whole job, solved.
#[derive(Debug, Clone)]
pub(super) struct Whole {
    job: Job,
    result: JobResult,
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
        Self {
            job: job.clone(),
            result: result.clone(),
            carried: HashMap::new(),
        }
    }

    /// The one stage whose readings are all that differs; `None` when more does, or when no other
    /// stage could be spared.
    pub(super) fn only_changed(&self, job: &Job) -> Option<usize> {
        if job.stages.len() < 2 || !same_but_readings(&self.job, job) {
            return None;
        }
        let mut stages = job.stages.iter().enumerate().filter(|(_, stage)| {
            let own = |readings: &[Reading]| -> Vec<usize> {
                let of = |(index, reading): (usize, &Reading)| {
                    (reading.stage == stage.id).then_some(index)
                };
                readings.iter().enumerate().filter_map(of).collect()
            };
            let (before, now) = (own(&self.job.readings), own(&job.readings));
            let same = |(a, b): (&usize, &usize)| self.job.readings[*a] == job.readings[*b];
            before.len() != now.len() || !before.iter().zip(&now).all(same)
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
        if let Some(place) = result.stages.get_mut(*stage) {
            let now = quantities::stage(job, built, solution, *stage);
            let before = std::mem::replace(place, now);
            place.modes = before.modes;
            place.causes = before.causes;
            place.pulls = before.pulls;
        }
        let id = &job.stages[*stage].id;
        let mine: HashMap<_, bool> = job
            .readings
            .iter()
            .map(|reading| (&reading.id, reading.stage == *id || is_shared(job, reading)))
            .collect();
        let elsewhere = |id: &ReadingId| mine.get(id) == Some(&false);
        result
            .suspects
            .retain(|suspect| elsewhere(&suspect.reading));
        result
            .suspects
            .extend(doubts::suspects(job, built, solution));
        result
            .suspects
            .sort_by(|a, b| b.t.abs().total_cmp(&a.t.abs()));
        result.trust = doubts::trust(job, built, solution);
        let now = doubts::readings(job, built, solution);
        let before = std::mem::take(&mut result.readings);
        result.readings = job
            .readings
            .iter()
            .filter_map(|reading| {
                let known = if mine[&reading.id] { &now } else { &before };
                Some((reading.id.clone(), known.get(&reading.id)?.clone()))
            })
            .collect();
        result
    }
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
