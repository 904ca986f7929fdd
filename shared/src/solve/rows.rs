//! Readings and trust as rows of the problem.
//!
//! Millimetres. This file refuses to know what a result looks like.

use std::collections::{HashMap, HashSet};

use super::checks::Middles;
use super::network::{Built, Key, LEAST_SIGMA_MM, TrustRow, mirror_form, one, target};
use crate::adjust::sorting::sort_by;
use crate::adjust::{LinearForm, Observation, Sight};
use crate::geometry::Vec3;
use crate::ids::{PointId, SetupId, StageId, ToolId};
use crate::job::{Beam, Job, OffsetSide, Plumb, Reading, Side, Taken};
use crate::measure::{DEFAULT_BEAM_SIGMA_MM, DEFAULT_SPAN_SIGMA_MM};

/// Spread of a plumb beam's yaw, radians (2°).
const YAW_SIGMA: f64 = std::f64::consts::PI / 90.0;
/// Spread of a beam's height or offset, millimetres.
const BEAM_SIGMA_MM: f64 = 3000.0;
/// A device's frame is free: any turn, anywhere in a shop. Numbers keep the system full rank.
const FRAME_SIGMA: [f64; 6] = [30.0, 30.0, 30.0, 1e6, 1e6, 1e6];

impl Built {
    pub(super) fn readings(&mut self, job: &Job) {
        let replaced: HashSet<_> = job
            .readings
            .iter()
            .filter_map(|r| r.replaces.as_ref())
            .collect();
        let middles = self.middles(job);
        for (index, reading) in job.readings.iter().enumerate() {
            if reading.set_aside.is_some() || replaced.contains(&reading.id) {
                continue;
            }
            let Some(&stage) = self.stages.get(&reading.stage) else {
                continue;
            };
            if !self.takes(job, reading, stage) {
                continue;
            }
            self.beams(&reading.taken, stage);
            let Some(sight) = self.sight(job, stage, &reading.taken) else {
                continue;
            };
            let mut value = value(&reading.taken, reading.origin_mm);
            let sigma = sigma(
                job,
                &reading.taken,
                reading.tool.as_ref(),
                reading.sigma_mm,
                value[0],
            );
            let (correction, spread) = middles.effect(job, &reading.taken, stage);
            value[0] -= correction;
            let sigma = sigma.hypot(spread);
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
            sort_by(&mut values, f64::total_cmp);
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
        let tilt = || self.block(&Key::Tilt(stage));
        let axis = |setup: &SetupId| match job.setups.get(setup).and_then(|setup| setup.plumb) {
            Some(Plumb::Crosswise) => [1.0, 0.0, 0.0],
            Some(Plumb::Lengthwise) | None => [0.0, 1.0, 0.0],
        };
        Some(match taken {
            Taken::Height {
                setup, point, beam, ..
            } => Sight::Height {
                point: place(point)?,
                tilt: tilt()?,
                level: self.block(&Key::Level(setup.clone(), stage))?,
                sign: if *beam == Beam::Above { 1.0 } else { -1.0 },
            },
            Taken::Offset {
                setup, point, side, ..
            } => Sight::Offset {
                point: place(point)?,
                tilt: tilt()?,
                plumb: self.block(&Key::Plumb(setup.clone(), stage))?,
                axis: axis(setup),
                sign: offset_sign(*side),
            },
            Taken::Split {
                setup, from, to, ..
            } => Sight::Split {
                from: place(from)?,
                to: place(to)?,
                tilt: tilt()?,
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

    /// The same as a reading counts: with what the checks of its laser do. The correction, which is
    /// subtracted from the value already, beside it.
    pub(super) fn checked(
        &self,
        job: &Job,
        stage: &StageId,
        taken: &Taken,
        own_sigma: Option<f64>,
    ) -> Option<(Observation, f64)> {
        let mut observation = self.observation(job, stage, taken, own_sigma)?;
        let (correction, spread) = self
            .middles(job)
            .effect(job, taken, *self.stages.get(stage)?);
        observation.value[0] -= correction;
        observation.sigma = observation.sigma.hypot(spread);
        Some((observation, correction))
    }

    fn middles(&self, job: &Job) -> Middles {
        let stage_of = |reading: &Reading| self.stages.get(&reading.stage).copied();
        let readings = job.readings.iter();
        Middles::of(
            job,
            readings.filter_map(|reading| Some((reading, stage_of(reading)?))),
        )
    }

    pub(super) fn trust_rows(&mut self, job: &Job) {
        for (id, point) in job.points.iter().filter(|(_, point)| point.trusted) {
            let Some(block) = self.block(&Key::Point(id.clone(), None)) else {
                continue;
            };
            if let (Some(target), Some(sheet)) = (target(job, id), &job.sheet) {
                let spread = sheet.spread_of(id);
                for (axis, value) in target.into_iter().enumerate() {
                    let form = one(block, axis);
                    self.trust_row(vec![id.clone()], axis, form, value, spread[axis]);
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
