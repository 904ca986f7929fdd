//! What was measured on a body over time: a series per quantity, and what differs between visits.
//!
//! Millimetres. Pair quantities do not depend on a frame and can always be compared; the place of a
//! single point only between jobs that were solved on the same sheet. This file refuses to know which
//! jobs belong to one body.

use std::collections::HashSet;

use indexmap::IndexMap;

use crate::adjust::LIMIT;
use crate::ids::{PointId, StageId};
use crate::job::{Job, Sheet};
use crate::moment::millis;
use crate::result::{JobResult, Judged, PairResult};
use crate::verdict::normal_cdf;

/// One job of the body, with its result.
#[derive(Debug, Clone, Copy)]
pub struct Visit<'a> {
    /// The job.
    pub job: &'a Job,
    /// What its readings say.
    pub result: &'a JobResult,
}

/// What is plotted over time.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// Of a pair, left and right: `right_higher_mm`, `centre_right_mm`, `right_rearward_mm`, `width_mm`.
    Pair(PointId, PointId, &'static str),
    /// A point along an axis (0 x, 1 y, 2 z), in the frame of the sheet that all jobs share.
    Point(PointId, usize),
}

/// One value.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// Which visit, as they were given.
    pub visit: usize,
    /// Stage of that job.
    pub stage: StageId,
    /// When the stage's first reading was taken, milliseconds since 1970; `None` when none says.
    pub at_ms: Option<i64>,
    /// Value.
    pub value_mm: f64,
    /// Standard uncertainty.
    pub sigma_mm: f64,
}

/// The values of one quantity, oldest first.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// The quantity.
    pub quantity: Quantity,
    /// Its values.
    pub samples: Vec<Sample>,
}

/// A quantity that was left otherwise than it came back.
#[derive(Debug, Clone, PartialEq)]
pub struct Between {
    /// The quantity.
    pub quantity: Quantity,
    /// The last value of the earlier visit.
    pub from: Sample,
    /// The first value of the next visit.
    pub to: Sample,
    /// Later minus earlier.
    pub change_mm: f64,
    /// Standard uncertainty of the change.
    pub sigma_mm: f64,
    /// Probability of a change at least this large when nothing moved.
    pub p: f64,
}

/// The history of a body.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct History {
    /// Every quantity that was measured, pairs first.
    pub series: Vec<Series>,
    /// What differs between visits beyond the limit of every test (two-sided α = 0.001), most striking
    /// first. Stages of one visit are the work on the car and are not compared here.
    pub between: Vec<Between>,
}

/// The history of one body, or of bodies of one kind, from its solved jobs.
///
/// Visits stand in the order of their first reading; those without any time stand last, as given.
#[must_use]
pub fn history(visits: &[Visit<'_>]) -> History {
    let mut order: Vec<(usize, Option<i64>)> = (0..visits.len())
        .map(|visit| {
            let stages = visits[visit].job.stages.iter();
            let first = stages
                .filter_map(|stage| begun(visits[visit].job, &stage.id))
                .min();
            (visit, first)
        })
        .collect();
    order.sort_by_key(|(_, at)| at.unwrap_or(i64::MAX));
    let same_sheet = share_a_sheet(visits);
    let mut all: IndexMap<Quantity, Vec<Sample>> = IndexMap::new();
    for (visit, _) in &order {
        gather(&mut all, *visit, &visits[*visit], same_sheet);
    }
    // Pairs first, otherwise as they were met.
    let (pairs, points): (Vec<_>, Vec<_>) = all
        .into_iter()
        .partition(|(quantity, _)| matches!(quantity, Quantity::Pair(..)));
    let series: Vec<Series> = pairs
        .into_iter()
        .chain(points)
        .map(|(quantity, samples)| Series { quantity, samples })
        .collect();
    let mut between: Vec<Between> = series.iter().flat_map(differing).collect();
    let t = |between: &Between| (between.change_mm / between.sigma_mm).abs();
    between.sort_by(|a, b| t(b).total_cmp(&t(a)));
    History { series, between }
}

/// The four quantities of a pair by their names.
pub(super) fn of_pair(pair: &PairResult) -> [(&'static str, &Judged); 4] {
    [
        ("right_higher_mm", &pair.right_higher_mm),
        ("centre_right_mm", &pair.centre_right_mm),
        ("right_rearward_mm", &pair.right_rearward_mm),
        ("width_mm", &pair.width_mm),
    ]
}

/// The first reading of a stage.
fn begun(job: &Job, stage: &StageId) -> Option<i64> {
    let readings = job
        .readings
        .iter()
        .filter(|reading| reading.stage == *stage);
    readings.filter_map(|reading| millis(&reading.at)).min()
}

fn share_a_sheet(visits: &[Visit<'_>]) -> bool {
    let name = |sheet: &Sheet| (sheet.name.clone(), sheet.revision, sheet.digest.clone());
    let names: HashSet<_> = visits
        .iter()
        .map(|visit| visit.job.sheet.as_ref().map(name))
        .collect();
    names.len() == 1 && !names.contains(&None)
}

fn gather(
    all: &mut IndexMap<Quantity, Vec<Sample>>,
    visit: usize,
    of: &Visit<'_>,
    same_sheet: bool,
) {
    for stage in &of.result.stages {
        let at_ms = begun(of.job, &stage.id);
        let mut add = |quantity, value_mm: f64, sigma_mm: f64| {
            let sample = Sample {
                visit,
                stage: stage.id.clone(),
                at_ms,
                value_mm,
                sigma_mm,
            };
            all.entry(quantity).or_default().push(sample);
        };
        for pair in &stage.pairs {
            for (name, judged) in of_pair(pair) {
                if let Some((value, sigma)) = judged.value.zip(judged.sigma) {
                    let ids = (pair.left.clone(), pair.right.clone());
                    add(Quantity::Pair(ids.0, ids.1, name), value, sigma);
                }
            }
        }
        for (id, point) in stage.points.iter().filter(|_| same_sheet) {
            for axis in (0..3).filter(|axis| point.measured[*axis]) {
                let quantity = Quantity::Point(id.clone(), axis);
                add(quantity, point.xyz_mm[axis], point.sigma_mm[axis]);
            }
        }
    }
}

/// Where the next visit begins otherwise than the last one ended.
fn differing(series: &Series) -> impl Iterator<Item = Between> + '_ {
    series.samples.windows(2).filter_map(|two| {
        let [from, to] = two else { return None };
        let (change_mm, sigma_mm) = (
            to.value_mm - from.value_mm,
            // Two jobs are solved apart, so their errors have nothing in common.
            to.sigma_mm.hypot(from.sigma_mm),
        );
        let t = (change_mm / sigma_mm).abs();
        (from.visit != to.visit && t > LIMIT).then(|| Between {
            quantity: series.quantity.clone(),
            from: from.clone(),
            to: to.clone(),
            change_mm,
            sigma_mm,
            p: 2.0 * normal_cdf(-t),
        })
    })
}
