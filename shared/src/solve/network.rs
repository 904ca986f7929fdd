//! A job as a problem for `adjust`: blocks, rows, priors, and the way back.
//!
//! Millimetres and radians. The weak priors are those of the measuring model: rough places, the
//! mirror, tilt, beams. This file refuses to know what a result looks like.

use std::collections::{HashMap, HashSet};

use crate::adjust::{Block, LinearForm, Problem, Term};
use crate::geometry::Vec3;
use crate::ids::{FrameId, PointId, SetupId, StageId};
use crate::job::{Job, Point, Reading, Side, Taken};

/// Spread of a rough place without a better word, millimetres per axis.
const PLACE_SIGMA_MM: f64 = 300.0;
/// How far damage takes a point from its mirror, millimetres.
const MIRROR_SIGMA_MM: f64 = 30.0;
/// Spread of roll and pitch, radians (1°).
const TILT_SIGMA: f64 = std::f64::consts::PI / 180.0;
/// No reading is better than this, millimetres: zeros in a file must not stop the solution.
pub(super) const LEAST_SIGMA_MM: f64 = 1e-3;

/// What a block stands for.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(crate) enum Key {
    /// A point, for the whole job (`None`) or in one stage.
    Point(PointId, Option<usize>),
    Tilt(usize),
    Level(SetupId, usize),
    Plumb(SetupId, usize),
    Frame(FrameId, usize),
}

/// A row of trust.
#[derive(Debug, Clone)]
pub(crate) struct TrustRow {
    pub(crate) observation: usize,
    /// The point, or left and right of a pair.
    pub(crate) points: Vec<PointId>,
    pub(crate) axis: usize,
}

/// The problem of a job.
#[derive(Debug, Clone)]
pub(crate) struct Built {
    pub(crate) problem: Problem,
    keys: Vec<Key>,
    pub(super) index: HashMap<Key, Block>,
    pub(super) stages: HashMap<StageId, usize>,
    /// Reading (index in the job) of each observation that is one.
    pub(crate) reading_of: HashMap<usize, usize>,
    pub(crate) observation_of: HashMap<usize, usize>,
    pub(crate) trust: Vec<TrustRow>,
    pub(super) trust_by_point: HashMap<PointId, Vec<usize>>,
    /// Points with a counting reading, per stage (only of the one stage this is about).
    pub(crate) read: Vec<HashSet<PointId>>,
    /// The one stage this is about; `None` for all.
    only: Option<usize>,
}

impl Built {
    pub(crate) fn new(job: &Job) -> Self {
        Self::of(job, None)
    }

    /// The problem of one stage alone, with every reading that only shared points take part in; all
    /// others must be carried over from a solution of the whole.
    pub(crate) fn of_stage(job: &Job, stage: usize) -> Self {
        Self::of(job, Some(stage))
    }

    fn of(job: &Job, only: Option<usize>) -> Self {
        let mut built = Self {
            problem: Problem::new(),
            keys: Vec::new(),
            index: HashMap::new(),
            stages: job
                .stages
                .iter()
                .enumerate()
                .map(|(i, stage)| (stage.id.clone(), i))
                .collect(),
            reading_of: HashMap::new(),
            observation_of: HashMap::new(),
            trust: Vec::new(),
            trust_by_point: HashMap::new(),
            read: vec![HashSet::new(); job.stages.len()],
            only,
        };
        for reading in job.counting_readings() {
            let Some(&stage) = built.stages.get(&reading.stage) else {
                continue;
            };
            if only.is_some_and(|only| only != stage) {
                continue;
            }
            for point in reading.taken.points() {
                if !built.read[stage].contains(point) {
                    built.read[stage].insert(point.clone());
                }
            }
        }
        for (id, point) in job.points.iter().filter(|(_, point)| point.trusted) {
            built.point(job, id, point, None);
        }
        for stage in (0..job.stages.len()).filter(|&stage| only.is_none_or(|only| only == stage)) {
            built.stage(job, stage);
        }
        built.readings(job);
        built.trust_rows(job);
        built
    }

    pub(crate) fn blocks(&self) -> impl Iterator<Item = (&Key, Block)> {
        self.keys.iter().map(|key| (key, self.index[key]))
    }

    pub(crate) fn first_idea(&self) -> Vec<f64> {
        self.problem.first_idea().to_vec()
    }

    pub(crate) fn set(&self, all: &mut [f64], block: Block, values: &[f64]) {
        self.problem.set(all, block, values);
    }

    pub(crate) fn block(&self, key: &Key) -> Option<Block> {
        self.index.get(key).copied()
    }

    /// The block of a point in a stage, if it takes part there.
    pub(crate) fn place(&self, job: &Job, id: &PointId, stage: usize) -> Option<Block> {
        let own = if job.points.get(id)?.trusted {
            None
        } else {
            Some(stage)
        };
        self.block(&Key::Point(id.clone(), own))
    }

    /// Does a reading belong here?
    pub(super) fn takes(&self, job: &Job, reading: &Reading, stage: usize) -> bool {
        self.only.is_none_or(|only| only == stage) || is_shared(job, reading)
    }

    /// Trust rows that speak of one of these points along an axis.
    pub(crate) fn trust_on(&self, points: &[&PointId], axis: usize) -> Vec<usize> {
        let mut rows: Vec<usize> = points
            .iter()
            .filter_map(|point| self.trust_by_point.get(*point))
            .flatten()
            .filter(|&&row| self.trust[row].axis == axis)
            .map(|&row| self.trust[row].observation)
            .collect();
        rows.sort_unstable();
        rows.dedup();
        rows
    }

    pub(super) fn add(
        &mut self,
        key: Key,
        stage: Option<usize>,
        idea: &[f64],
        spread: &[f64],
    ) -> Block {
        if let Some(block) = self.index.get(&key) {
            return *block;
        }
        let block = self.problem.block(stage, idea, spread);
        self.keys.push(key.clone());
        self.index.insert(key, block);
        block
    }

    fn point(&mut self, job: &Job, id: &PointId, point: &Point, stage: Option<usize>) -> Block {
        let idea = target(job, id).unwrap_or(point.place_mm);
        let sigma = point
            .place_sigma_mm
            .unwrap_or(PLACE_SIGMA_MM)
            .max(LEAST_SIGMA_MM);
        self.add(Key::Point(id.clone(), stage), stage, &idea, &[sigma; 3])
    }

    /// Points of a stage with their mirror priors.
    fn stage(&mut self, job: &Job, stage: usize) {
        self.add(Key::Tilt(stage), Some(stage), &[0.0; 2], &[TILT_SIGMA; 2]);
        for (id, point) in &job.points {
            let mirror_read = point
                .mirror
                .as_ref()
                .is_some_and(|mirror| self.read[stage].contains(mirror));
            // In the last stage every point takes part, so that it is known what reading it would tell.
            let last = stage + 1 == job.stages.len();
            if !point.trusted && (last || self.read[stage].contains(id) || mirror_read) {
                self.point(job, id, point, Some(stage));
            }
        }
        for (id, point) in job
            .points
            .iter()
            .filter(|(_, point)| point.side == Side::Left)
        {
            let Some((mirror, other)) = point
                .mirror
                .as_ref()
                .and_then(|m| Some((m, job.points.get(m)?)))
            else {
                continue;
            };
            let (Some(left), Some(right)) =
                (self.place(job, id, stage), self.place(job, mirror, stage))
            else {
                continue;
            };
            self.problem.ask_together(left, right);
            if point.trusted && other.trusted {
                continue;
            }
            let designed = designed_gap(job, id, mirror);
            for (axis, gap) in designed.into_iter().enumerate() {
                self.problem
                    .prior(mirror_form(left, right, axis), gap, MIRROR_SIGMA_MM);
            }
        }
    }
}

/// Do only points take part that all stages share, and no beam or frame?
pub(super) fn is_shared(job: &Job, reading: &Reading) -> bool {
    let between_points = matches!(reading.taken, Taken::Span { .. } | Taken::DatumSpan { .. });
    let trusted = |id: &PointId| job.points.get(id).is_some_and(|point| point.trusted);
    between_points && reading.taken.points().all(trusted)
}

/// The sheet's target of a point.
pub(crate) fn target(job: &Job, id: &PointId) -> Option<Vec3> {
    job.sheet.as_ref()?.points.get(id).copied()
}

/// Spread of the sheet's target of a point along an axis, millimetres; 0 without a sheet. A point that
/// the sheet does not know counts as one of its others.
pub(crate) fn target_spread(job: &Job, id: &PointId, axis: usize) -> f64 {
    let sheet = job.sheet.as_ref();
    sheet.map_or(0.0, |sheet| sheet.spread_of(id)[axis])
}

/// x_L − x_R, y_L + y_R, z_L − z_R of the sheet; zero where it has not both points.
pub(crate) fn designed_gap(job: &Job, left: &PointId, right: &PointId) -> Vec3 {
    match (target(job, left), target(job, right)) {
        (Some(l), Some(r)) => [l[0] - r[0], l[1] + r[1], l[2] - r[2]],
        _ => [0.0; 3],
    }
}

/// x_L − x_R, y_L + y_R or z_L − z_R: zero for mirror images.
pub(super) fn mirror_form(left: Block, right: Block, axis: usize) -> LinearForm {
    let other = if axis == 1 { 1.0 } else { -1.0 };
    LinearForm(vec![
        Term {
            block: left,
            axis,
            factor: 1.0,
        },
        Term {
            block: right,
            axis,
            factor: other,
        },
    ])
}

pub(crate) fn one(block: Block, axis: usize) -> LinearForm {
    LinearForm(vec![Term {
        block,
        axis,
        factor: 1.0,
    }])
}
