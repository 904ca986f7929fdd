//! What a laser's checks do to the readings taken with it.
//!
//! Millimetres; distances in metres where a slope is per metre. A level beam that climbs is corrected
//! where somebody said how the laser stood. Otherwise the slope widens the reading by what it can do
//! across the points of its set-up: the beam's height takes up what they share. A plumb beam's lean
//! always widens, because nobody writes down which way the laser faced.

use std::collections::HashMap;

use super::network::target;
use crate::geometry::Vec3;
use crate::ids::{PointId, SetupId};
use crate::job::{Beam, Job, Reading, Setup, Taken, Tool};

/// The middle of the points read from each set-up in each stage (by index).
pub(super) struct Middles(HashMap<(SetupId, usize), (Vec3, f64)>);

impl Middles {
    pub(super) fn of<'a>(job: &Job, readings: impl Iterator<Item = (&'a Reading, usize)>) -> Self {
        let mut middles: HashMap<(SetupId, usize), (Vec3, f64)> = HashMap::new();
        for (reading, stage) in readings {
            let Some(setup) = reading.taken.setup() else {
                continue;
            };
            // Without a checked tool there is nothing to correct or to widen.
            if job
                .setups
                .get(setup)
                .is_none_or(|setup| setup.tool.is_none())
            {
                continue;
            }
            for point in reading.taken.points() {
                let Some(place) = place(job, point) else {
                    continue;
                };
                let (sum, count) = middles.entry((setup.clone(), stage)).or_default();
                for axis in 0..3 {
                    sum[axis] += place[axis];
                }
                *count += 1.0;
            }
        }
        for (sum, count) in middles.values_mut() {
            *sum = sum.map(|axis| axis / *count);
        }
        Self(middles)
    }

    /// Correction to subtract from a value, and the spread that comes on top of its own.
    pub(super) fn effect(&self, job: &Job, taken: &Taken, stage: usize) -> (f64, f64) {
        let none = (0.0, 0.0);
        let Some(setup_id) = taken.setup() else {
            return none;
        };
        let Some(setup) = job.setups.get(setup_id) else {
            return none;
        };
        let Some(tool) = setup.tool.as_ref().and_then(|tool| job.tools.get(tool)) else {
            return none;
        };
        let middle = self
            .0
            .get(&(setup_id.clone(), stage))
            .map(|(middle, _)| *middle);
        match taken {
            Taken::Height { point, beam, .. } => level(job, tool, setup, point, *beam, middle),
            Taken::Offset { point, .. } => (0.0, lean(job, tool, point, middle)),
            Taken::Split { from, to, .. } => {
                let (a, b) = (lean(job, tool, from, middle), lean(job, tool, to, middle));
                (0.0, a.max(b))
            }
            Taken::Span { .. } | Taken::DatumSpan { .. } | Taken::Fix { .. } => none,
        }
    }
}

fn level(
    job: &Job,
    tool: &Tool,
    setup: &Setup,
    point: &PointId,
    beam: Beam,
    middle: Option<Vec3>,
) -> (f64, f64) {
    let (Some(check), Some(place)) = (&tool.level_check, place(job, point)) else {
        return (0.0, 0.0);
    };
    let slope = check.slope();
    let away_m = |x: f64, y: f64| (place[0] - x).hypot(place[1] - y) / 1000.0;
    if let Some([x, y]) = setup.stands_mm {
        let away = away_m(x, y);
        // A beam that stands too high makes the tape below it read too long.
        let sign = if beam == Beam::Above { 1.0 } else { -1.0 };
        return (sign * slope.climbs_mm(away), away * slope.sigma_mm_per_m);
    }
    let spread = middle.map_or(0.0, |middle| slope.spread_mm(away_m(middle[0], middle[1])));
    (0.0, spread)
}

fn lean(job: &Job, tool: &Tool, point: &PointId, middle: Option<Vec3>) -> f64 {
    let Some(check) = &tool.plumb_check else {
        return 0.0;
    };
    let above = place(job, point)
        .zip(middle)
        .map(|(place, middle)| place[2] - middle[2]);
    check.slope().spread_mm(above.unwrap_or(0.0) / 1000.0)
}

fn place(job: &Job, point: &PointId) -> Option<Vec3> {
    let rough = job.points.get(point)?.place_mm;
    Some(target(job, point).unwrap_or(rough))
}
