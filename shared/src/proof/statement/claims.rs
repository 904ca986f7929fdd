//! What a sign-off claims of a stage, and how somebody else computes it again.
//!
//! Only what was measured and what was judged is claimed: positions, deviations and pair quantities
//! with their spreads, in thousandths of a millimetre on the claim's own [`Grid`], and the verdicts.
//! Claims are made from a solution from nothing (`solve::solve`), never from one that went on from an
//! earlier solution.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::tool_check::{ToolCheck, used_in};
use crate::ids::{ReadingId, StageId};
use crate::job::Job;
use crate::proof::Digest;
use crate::proof::canonical::{self, Difference};
use crate::proof::grid::Grid;
use crate::result::{JobResult, Judged, StageResult};
use crate::speech::own_tolerances;
use crate::verdict::Verdict;

/// What follows from a document's content, for one stage.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Claims {
    /// The stage.
    pub stage: StageId,
    /// The grid on which the result was rounded.
    pub grid: Grid,
    /// Digest of the rounded result, see [`digest_of_result`].
    pub result: Digest,
    /// The decision rule.
    pub rule: RuleClaim,
    /// Readings of the stage that count.
    pub readings: u64,
    /// Readings of the stage that a person has set aside, and why; older sign-offs name those of the
    /// whole job.
    pub aside: Vec<Aside>,
    /// Readings of the stage that the others contradict and that do not count for that; older sign-offs
    /// name those of the whole job.
    pub suspects: Vec<ReadingId>,
    /// Verdicts of the stage.
    pub counts: Counts,
    /// The tools that the stage was read with, and their last checks.
    pub tools: Vec<ToolCheck>,
}

/// The decision rule in whole numbers (JCGM 106:2012, probability of conformity).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct RuleClaim {
    /// Half width of the tolerance, micrometres.
    pub tolerance_um: i64,
    /// Probability of conformity that `within` asks for, millionths.
    pub conformity_ppm: i64,
    /// Spread of an undamaged body between its sides, micrometres.
    pub build_spread_um: i64,
    /// The smallest and the largest tolerance of the sheet's own that judged anything, micrometres; left
    /// out when the rule's judged all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub own_um: Option<[i64; 2]>,
}

/// One reading that was set aside.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Aside {
    /// The reading.
    pub reading: ReadingId,
    /// Why.
    pub why: String,
    /// Who decided.
    pub by: String,
}

/// How many quantities were judged, and how: coordinates of points and quantities of pairs.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counts {
    /// Proven inside the tolerance.
    pub within: u64,
    /// Proven outside.
    pub outside: u64,
    /// Not proven either way.
    pub unproven: u64,
}

/// Whose doubted readings are named.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Doubted {
    /// The stage's.
    InStage,
    /// All of the job, as sign-offs once did.
    InJob,
}

impl Claims {
    /// The claims of a stage, on the grid that suits its values; `None` without such a stage.
    #[must_use]
    pub fn of(job: &Job, result: &JobResult, stage: &StageId) -> Option<Self> {
        let found = result.stages.iter().find(|found| found.id == *stage)?;
        let mut values = Vec::new();
        rounded(found, &mut |value| {
            values.push(value);
            None
        });
        Self::on(
            Grid::far_from(&values),
            job,
            result,
            stage,
            Doubted::InStage,
        )
    }

    /// The same claims from a result that was computed again; `None` without such a stage.
    #[must_use]
    pub fn again(&self, job: &Job, result: &JobResult) -> Option<Self> {
        // Whoever names a reading of another stage names those of all, as sign-offs once did; with
        // none elsewhere both are the same.
        let doubted = match self.doubted_elsewhere(job) {
            [0, 0] => Doubted::InStage,
            _ => Doubted::InJob,
        };
        Self::on(self.grid, job, result, &self.stage, doubted)
    }

    /// How many of the readings that it names as set aside, and as suspects, are of other stages: of
    /// older sign-offs only.
    #[must_use]
    pub fn doubted_elsewhere(&self, job: &Job) -> [usize; 2] {
        let is_elsewhere = |id: &ReadingId| {
            let mut readings = job.readings.iter();
            readings.any(|reading| reading.id == *id && reading.stage != self.stage)
        };
        let aside = self.aside.iter().map(|aside| &aside.reading);
        [
            aside.filter(|id| is_elsewhere(id)).count(),
            self.suspects.iter().filter(|id| is_elsewhere(id)).count(),
        ]
    }

    fn on(
        grid: Grid,
        job: &Job,
        result: &JobResult,
        stage: &StageId,
        doubted: Doubted,
    ) -> Option<Self> {
        let found = result.stages.iter().find(|found| found.id == *stage)?;
        let of_it = || {
            let readings = job.readings.iter();
            readings.filter(|reading| doubted == Doubted::InJob || reading.stage == *stage)
        };
        let is_suspect = |id: &ReadingId| result.suspects.iter().any(|one| one.reading == *id);
        let mut suspects: Vec<ReadingId> = of_it()
            .filter(|reading| is_suspect(&reading.id))
            .map(|reading| reading.id.clone())
            .collect();
        suspects.sort();
        let mut aside: Vec<Aside> = of_it()
            .filter_map(|reading| {
                let set_aside = reading.set_aside.as_ref()?;
                Some(Aside {
                    reading: reading.id.clone(),
                    why: set_aside.why.clone(),
                    by: set_aside.by.clone(),
                })
            })
            .collect();
        aside.sort_by(|a, b| a.reading.cmp(&b.reading));
        let whole = |value: f64, per: f64| (value * per).round() as i64;
        Some(Self {
            stage: stage.clone(),
            grid,
            result: digest_of_result(result, stage, grid)?,
            rule: RuleClaim {
                tolerance_um: whole(result.rule.tolerance_mm, 1e3),
                conformity_ppm: whole(result.rule.conformity, 1e6),
                build_spread_um: whole(result.rule.build_spread_mm, 1e3),
                own_um: own_tolerances(std::slice::from_ref(found)).map(|own| own.map(micrometres)),
            },
            readings: job
                .counting_readings()
                .filter(|reading| reading.stage == *stage)
                .count() as u64,
            aside,
            suspects,
            counts: Counts::of(found),
            tools: used_in(job, stage),
        })
    }

    /// The first claim that differs, if any; `self` is what is expected.
    #[must_use]
    pub fn first_difference(&self, found: &Self) -> Option<Difference> {
        canonical::first_difference(self, found)
    }
}

/// SHA-256 of the canonical text of one stage's result, rounded on a grid; `None` without such a
/// stage.
///
/// The text has `points` (per point its measured coordinates, their spreads, its deviations, theirs,
/// and the verdicts, per axis) and `pairs` (per pair `left/right` the four quantities), in steps of
/// the grid; what was not measured is `null`. A tolerance stands with what it judged, unless it is the
/// rule's.
#[must_use]
pub fn digest_of_result(result: &JobResult, stage: &StageId, grid: Grid) -> Option<Digest> {
    let found = result.stages.iter().find(|found| found.id == *stage)?;
    let rounded = rounded(found, &mut |value| grid.steps(value));
    // Steps are far below the largest whole number that can be written.
    let text = canonical::write(&rounded).ok()?;
    Some(Digest::of(text.as_bytes()))
}

/// A stage in whole steps.
#[derive(Serialize)]
struct Rounded {
    points: BTreeMap<String, RoundedPoint>,
    pairs: BTreeMap<String, [RoundedQuantity; 4]>,
}

type Steps = [Option<i64>; 3];

#[derive(Serialize)]
struct RoundedPoint {
    xyz: Steps,
    sigma: Steps,
    deviation: Steps,
    deviation_sigma: Steps,
    verdict: [Option<Verdict>; 3],
    /// Left out where the rule's judged, so that what was signed before sheets had their own stays as it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    tolerance_um: Option<i64>,
}

#[derive(Serialize)]
struct RoundedQuantity {
    value: Option<i64>,
    sigma: Option<i64>,
    target: Option<i64>,
    verdict: Option<Verdict>,
    #[serde(skip_serializing_if = "Option::is_none")]
    tolerance_um: Option<i64>,
}

fn micrometres(value_mm: f64) -> i64 {
    (value_mm * 1e3).round() as i64
}

/// Every value that is claimed passes through `round`, in a fixed order.
fn rounded(stage: &StageResult, round: &mut impl FnMut(f64) -> Option<i64>) -> Rounded {
    let mut points = BTreeMap::new();
    for (id, point) in &stage.points {
        let measured = |values: [f64; 3]| {
            std::array::from_fn(|axis| point.measured[axis].then_some(values[axis]))
        };
        let mut each = |values: [Option<f64>; 3]| values.map(|value| value.and_then(&mut *round));
        let rounded = RoundedPoint {
            xyz: each(measured(point.xyz_mm)),
            sigma: each(measured(point.sigma_mm)),
            deviation: each(point.deviation_mm),
            deviation_sigma: each(point.deviation_sigma_mm),
            verdict: point.verdict,
            tolerance_um: point.tolerance_mm.map(micrometres),
        };
        points.insert(id.to_string(), rounded);
    }
    let mut pairs = BTreeMap::new();
    for pair in &stage.pairs {
        let quantities = quantities(pair).map(|judged| RoundedQuantity {
            value: judged.value.and_then(&mut *round),
            sigma: judged.sigma.and_then(&mut *round),
            target: judged.target.and_then(&mut *round),
            verdict: judged.verdict,
            tolerance_um: judged.tolerance_mm.map(micrometres),
        });
        pairs.insert(format!("{}/{}", pair.left, pair.right), quantities);
    }
    Rounded { points, pairs }
}

fn quantities(pair: &crate::result::PairResult) -> [&Judged; 4] {
    [
        &pair.right_higher_mm,
        &pair.centre_right_mm,
        &pair.right_rearward_mm,
        &pair.width_mm,
    ]
}

impl Counts {
    /// The verdicts of a stage.
    #[must_use]
    pub fn of(stage: &StageResult) -> Self {
        let points = stage.points.values().flat_map(|point| point.verdict);
        let pairs = stage
            .pairs
            .iter()
            .flat_map(|pair| quantities(pair).map(|judged| judged.verdict));
        let mut counts = Self::default();
        for verdict in points.chain(pairs).flatten() {
            match verdict {
                Verdict::Within => counts.within += 1,
                Verdict::Outside => counts.outside += 1,
                Verdict::Unproven => counts.unproven += 1,
            }
        }
        counts
    }
}
