//! A job as a problem for `adjust`: blocks, rows, priors, and the way back.
//!
//! Millimetres and radians. The weak priors are those of the measuring model: rough places, the
//! mirror, tilt, beams. This file refuses to know what a result looks like.

use std::collections::{HashMap, HashSet};

use crate::adjust::{Block, LinearForm, Observation, Problem, Sight, Term};
use crate::geometry::Vec3;
use crate::ids::{FrameId, PointId, SetupId, StageId, ToolId};
use crate::job::{Beam, Job, OffsetSide, Plumb, Point, Side, Taken};
use crate::measure::{DEFAULT_BEAM_SIGMA_MM, DEFAULT_SPAN_SIGMA_MM};

/// Spread of a rough place without a better word, millimetres per axis.
const PLACE_SIGMA_MM: f64 = 300.0;
/// How far damage takes a point from its mirror, millimetres.
const MIRROR_SIGMA_MM: f64 = 30.0;
/// Spread of roll and pitch, radians (1°).
const TILT_SIGMA: f64 = std::f64::consts::PI / 180.0;
/// Spread of a plumb beam's yaw, radians (2°).
const YAW_SIGMA: f64 = 2.0 * TILT_SIGMA;
/// Spread of a beam's height or offset, millimetres.
const BEAM_SIGMA_MM: f64 = 3000.0;
/// A device's frame is free: any turn, anywhere in a shop. Numbers keep the system full rank.
const FRAME_SIGMA: [f64; 6] = [30.0, 30.0, 30.0, 1e6, 1e6, 1e6];
/// No reading is better than this, millimetres: zeros in a file must not stop the solution.
const LEAST_SIGMA_MM: f64 = 1e-3;

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
    index: HashMap<Key, Block>,
    stages: HashMap<StageId, usize>,
    /// Reading (index in the job) of each observation that is one.
    pub(crate) reading_of: HashMap<usize, usize>,
    pub(crate) observation_of: HashMap<usize, usize>,
    pub(crate) trust: Vec<TrustRow>,
    trust_by_point: HashMap<PointId, Vec<usize>>,
    /// Points with a counting reading, per stage.
    pub(crate) read: Vec<HashSet<PointId>>,
}

impl Built {
    pub(crate) fn new(job: &Job) -> Self {
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
        };
        for reading in job.counting_readings() {
            if let Some(&stage) = built.stages.get(&reading.stage) {
                built.read[stage].extend(reading.taken.points().cloned());
            }
        }
        for (id, point) in job.points.iter().filter(|(_, point)| point.trusted) {
            built.point(job, id, point, None);
        }
        for stage in 0..job.stages.len() {
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

    fn add(&mut self, key: Key, stage: Option<usize>, idea: &[f64], spread: &[f64]) -> Block {
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
            if !point.trusted && (self.read[stage].contains(id) || mirror_read) {
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
            for axis in 0..3 {
                self.problem.prior(
                    mirror_form(left, right, axis),
                    designed[axis],
                    MIRROR_SIGMA_MM,
                );
            }
        }
    }

    fn readings(&mut self, job: &Job) {
        let replaced: HashSet<_> = job
            .readings
            .iter()
            .filter_map(|r| r.replaces.as_ref())
            .collect();
        for (index, reading) in job.readings.iter().enumerate() {
            if reading.set_aside.is_some() || replaced.contains(&reading.id) {
                continue;
            }
            let Some(&stage) = self.stages.get(&reading.stage) else {
                continue;
            };
            self.beams(&reading.taken, stage);
            let Some(sight) = self.sight(job, stage, &reading.taken) else {
                continue;
            };
            let value = value(&reading.taken, reading.origin_mm);
            let sigma = sigma(
                job,
                &reading.taken,
                reading.tool.as_ref(),
                reading.sigma_mm,
                value[0],
            );
            let observation = self.problem.observe(Observation {
                sight,
                value,
                sigma,
            });
            self.reading_of.insert(observation, index);
            self.observation_of.insert(index, observation);
        }
        self.place_beams(job);
    }

    fn beams(&mut self, taken: &Taken, stage: usize) {
        match taken {
            Taken::Height { setup, .. } => {
                self.add(
                    Key::Level(setup.clone(), stage),
                    Some(stage),
                    &[0.0],
                    &[BEAM_SIGMA_MM],
                );
            }
            Taken::Offset { setup, .. } | Taken::Split { setup, .. } => {
                let key = Key::Plumb(setup.clone(), stage);
                self.add(key, Some(stage), &[0.0; 2], &[YAW_SIGMA, BEAM_SIGMA_MM]);
            }
            Taken::Fix { frame, .. } => {
                self.add(
                    Key::Frame(frame.clone(), stage),
                    Some(stage),
                    &[0.0; 6],
                    &FRAME_SIGMA,
                );
            }
            Taken::Span { .. } | Taken::DatumSpan { .. } => {}
        }
    }

    /// Starts each beam at the median of what the rough places make of its readings.
    fn place_beams(&mut self, job: &Job) {
        let mut ideas: HashMap<Key, Vec<f64>> = HashMap::new();
        for &index in self.reading_of.values() {
            let reading = &job.readings[index];
            let Some(&stage) = self.stages.get(&reading.stage) else {
                continue;
            };
            let place = |id: &PointId| {
                job.points
                    .get(id)
                    .map(|p| target(job, id).unwrap_or(p.place_mm))
            };
            let value = value(&reading.taken, reading.origin_mm)[0];
            let idea = match &reading.taken {
                Taken::Height {
                    setup, point, beam, ..
                } => {
                    let sign = if *beam == Beam::Above { 1.0 } else { -1.0 };
                    place(point).map(|p| (Key::Level(setup.clone(), stage), p[2] + sign * value))
                }
                Taken::Offset {
                    setup, point, side, ..
                } => {
                    let axis = usize::from(matches!(side, OffsetSide::Left | OffsetSide::Right));
                    place(point).map(|p| {
                        (
                            Key::Plumb(setup.clone(), stage),
                            p[axis] - offset_sign(*side) * value,
                        )
                    })
                }
                _ => None,
            };
            if let Some((key, idea)) = idea {
                ideas.entry(key).or_default().push(idea);
            }
        }
        for (key, mut values) in ideas {
            values.sort_by(f64::total_cmp);
            let median = values[values.len() / 2];
            match (&key, self.index.get(&key)) {
                (Key::Level(..), Some(&block)) => self.problem.begin_at(block, &[median]),
                (Key::Plumb(..), Some(&block)) => self.problem.begin_at(block, &[0.0, median]),
                _ => {}
            }
        }
    }

    /// What a reading sees; `None` when a block it needs is not there.
    fn sight(&self, job: &Job, stage: usize, taken: &Taken) -> Option<Sight> {
        let place = |id: &PointId| self.place(job, id, stage);
        let tilt = self.block(&Key::Tilt(stage))?;
        let axis = |setup: &SetupId| match job.setups.get(setup).and_then(|setup| setup.plumb) {
            Some(Plumb::Crosswise) => [1.0, 0.0, 0.0],
            Some(Plumb::Lengthwise) | None => [0.0, 1.0, 0.0],
        };
        Some(match taken {
            Taken::Height {
                setup, point, beam, ..
            } => Sight::Height {
                point: place(point)?,
                tilt,
                level: self.block(&Key::Level(setup.clone(), stage))?,
                sign: if *beam == Beam::Above { 1.0 } else { -1.0 },
            },
            Taken::Offset {
                setup, point, side, ..
            } => Sight::Offset {
                point: place(point)?,
                tilt,
                plumb: self.block(&Key::Plumb(setup.clone(), stage))?,
                axis: axis(setup),
                sign: offset_sign(*side),
            },
            Taken::Split {
                setup, from, to, ..
            } => Sight::Split {
                from: place(from)?,
                to: place(to)?,
                tilt,
                plumb: self.block(&Key::Plumb(setup.clone(), stage))?,
                axis: axis(setup),
            },
            Taken::Span { from, to, .. } => Sight::Span {
                from: place(from)?,
                to: place(to)?,
            },
            Taken::DatumSpan { from, to, .. } => Sight::DatumSpan {
                from: place(from)?,
                to: place(to)?,
            },
            Taken::Fix { frame, point, .. } => Sight::Fix {
                point: place(point)?,
                frame: self.block(&Key::Frame(frame.clone(), stage))?,
            },
        })
    }

    /// A reading that is not in the job yet, as an observation of this problem.
    pub(crate) fn observation(
        &self,
        job: &Job,
        stage: &StageId,
        taken: &Taken,
        own_sigma: Option<f64>,
    ) -> Option<Observation> {
        let sight = self.sight(job, *self.stages.get(stage)?, taken)?;
        let value = value(taken, 0.0);
        let sigma = sigma(job, taken, None, own_sigma, value[0]);
        Some(Observation {
            sight,
            value,
            sigma,
        })
    }

    fn trust_rows(&mut self, job: &Job) {
        for (id, point) in job.points.iter().filter(|(_, point)| point.trusted) {
            let Some(block) = self.block(&Key::Point(id.clone(), None)) else {
                continue;
            };
            if let (Some(target), Some(sheet)) = (target(job, id), &job.sheet) {
                for (axis, value) in target.into_iter().enumerate() {
                    self.trust_row(
                        vec![id.clone()],
                        axis,
                        one(block, axis),
                        value,
                        sheet.spread_mm,
                    );
                }
                continue;
            }
            if point.side == Side::Centre {
                self.trust_row(
                    vec![id.clone()],
                    1,
                    one(block, 1),
                    0.0,
                    job.settings.build_spread_mm,
                );
            }
            let mirror = point.mirror.as_ref().filter(|_| point.side == Side::Left);
            let Some((mirror, right)) =
                mirror.and_then(|m| Some((m, self.block(&Key::Point(m.clone(), None))?)))
            else {
                continue;
            };
            self.problem.ask_together(block, right);
            for axis in 0..3 {
                let form = mirror_form(block, right, axis);
                self.trust_row(
                    vec![id.clone(), mirror.clone()],
                    axis,
                    form,
                    0.0,
                    job.settings.build_spread_mm,
                );
            }
        }
    }

    fn trust_row(
        &mut self,
        points: Vec<PointId>,
        axis: usize,
        form: LinearForm,
        value: f64,
        sigma: f64,
    ) {
        let sight = Sight::Linear(form);
        let sigma = sigma.max(LEAST_SIGMA_MM);
        let observation = self.problem.observe(Observation {
            sight,
            value: [value, 0.0, 0.0],
            sigma,
        });
        for point in &points {
            self.trust_by_point
                .entry(point.clone())
                .or_default()
                .push(self.trust.len());
        }
        self.trust.push(TrustRow {
            observation,
            points,
            axis,
        });
    }
}

/// The sheet's target of a point.
pub(crate) fn target(job: &Job, id: &PointId) -> Option<Vec3> {
    job.sheet.as_ref()?.points.get(id).copied()
}

/// x_L − x_R, y_L + y_R, z_L − z_R of the sheet; zero where it has not both points.
pub(crate) fn designed_gap(job: &Job, left: &PointId, right: &PointId) -> Vec3 {
    match (target(job, left), target(job, right)) {
        (Some(l), Some(r)) => [l[0] - r[0], l[1] + r[1], l[2] - r[2]],
        _ => [0.0; 3],
    }
}

/// x_L − x_R, y_L + y_R or z_L − z_R: zero for mirror images.
fn mirror_form(left: Block, right: Block, axis: usize) -> LinearForm {
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

fn offset_sign(side: OffsetSide) -> f64 {
    match side {
        OffsetSide::Right | OffsetSide::Rear => 1.0,
        OffsetSide::Left | OffsetSide::Front => -1.0,
    }
}

fn value(taken: &Taken, origin_mm: f64) -> Vec3 {
    match taken {
        Taken::Height { value_mm, .. }
        | Taken::Offset { value_mm, .. }
        | Taken::Split { value_mm, .. }
        | Taken::Span { value_mm, .. }
        | Taken::DatumSpan { value_mm, .. } => [value_mm - origin_mm, 0.0, 0.0],
        Taken::Fix { xyz_mm, .. } => *xyz_mm,
    }
}

/// Own uncertainty over the tool's over the default.
fn sigma(job: &Job, taken: &Taken, tool: Option<&ToolId>, own: Option<f64>, value: f64) -> f64 {
    let of_tool = || {
        let tool = job.tools.get(tool?)?;
        Some(tool.sigma_mm.hypot(tool.per_m_mm * value / 1000.0))
    };
    let default = match taken {
        Taken::Height { .. } | Taken::Offset { .. } | Taken::Split { .. } => DEFAULT_BEAM_SIGMA_MM,
        Taken::Span { .. } | Taken::DatumSpan { .. } | Taken::Fix { .. } => DEFAULT_SPAN_SIGMA_MM,
    };
    own.or_else(of_tool).unwrap_or(default).max(LEAST_SIGMA_MM)
}
