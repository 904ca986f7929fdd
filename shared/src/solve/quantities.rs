//! Points, pairs, tilt and beams of one stage, with spreads and verdicts.
//!
//! Millimetres; angles in degrees on the way out. A quantity is *measured* when its spread, with
//! the trust on that very quantity left out, is at most half of what the priors alone give: an
//! assumption is not a measurement. This file refuses to know why a quantity is out.

use indexmap::IndexMap;

use super::network::{Built, Key, designed_gap, one, target, target_spread};
use crate::adjust::{Block, LinearForm, Solution, Term};
use crate::ids::{PointId, SetupId};
use crate::job::{Job, Plumb, Side};
use crate::result::{CannotTell, Judged, PairResult, PointResult, SetupResult, StageResult, Tilt};
use crate::verdict::judge;

/// Variance of a measured quantity over that of its priors, at most: half the spread.
pub(super) const MEASURED: f64 = 0.25;

pub(super) fn stage(job: &Job, built: &Built, solution: &Solution, stage: usize) -> StageResult {
    let points = job
        .points
        .keys()
        .filter_map(|id| {
            let block = built.place(job, id, stage)?;
            let shown = job.points[id].trusted || built.read[stage].contains(id);
            shown.then(|| (id.clone(), point(job, built, solution, id, block)))
        })
        .collect();
    let pairs = job
        .points
        .iter()
        .filter(|(_, point)| point.side == Side::Left)
        .filter_map(|(left, point)| {
            Some(pair(
                job,
                built,
                solution,
                stage,
                left,
                point.mirror.as_ref()?,
            ))
        })
        .collect();
    StageResult {
        id: job.stages[stage].id.clone(),
        tilt_deg: tilt(job, built, solution, stage),
        setups: setups(job, built, solution, stage),
        points,
        pairs,
        modes: Vec::new(),
        causes: Vec::new(),
        pulls: Vec::new(),
        cannot_tell: cannot_tell(job),
    }
}

/// A quantity as it stands in the network.
#[derive(Debug, Clone)]
pub(super) struct Quantity {
    pub(super) form: LinearForm,
    pub(super) trust: Vec<usize>,
}

impl Quantity {
    pub(super) fn measured(&self, solution: &Solution) -> bool {
        let alone = solution.variance_without(&self.form, &self.trust);
        alone <= MEASURED * solution.prior_variance(&self.form)
    }
}

fn point(job: &Job, built: &Built, solution: &Solution, id: &PointId, block: Block) -> PointResult {
    let xyz = solution.block(block);
    let mut result = PointResult {
        xyz_mm: [xyz[0], xyz[1], xyz[2]],
        sigma_mm: [0.0; 3],
        measured: [false; 3],
        deviation_mm: [None; 3],
        deviation_sigma_mm: [None; 3],
        conformity: [None; 3],
        verdict: [None; 3],
        tolerance_mm: None,
    };
    let aim = aim(job, id);
    let tolerance = job.tolerance_of(&[id]);
    for axis in 0..3 {
        let quantity = Quantity {
            form: one(block, axis),
            trust: built.trust_on(&[id], axis),
        };
        let variance = solution.variance(&quantity.form);
        result.sigma_mm[axis] = variance.sqrt();
        result.measured[axis] = quantity.measured(solution);
        if let (Some(aim), true) = (aim[axis], result.measured[axis]) {
            let deviation = xyz[axis] - aim;
            let sigma = variance.sqrt().hypot(target_spread(job, id, axis));
            let (p, verdict) = judge(deviation, sigma, tolerance, job.settings.conformity);
            result.tolerance_mm = own_tolerance(job, tolerance);
            result.deviation_mm[axis] = Some(deviation);
            result.deviation_sigma_mm[axis] = Some(sigma);
            result.conformity[axis] = Some(p);
            result.verdict[axis] = Some(verdict);
        }
    }
    result
}

/// A tolerance that is not the rule's, which the result has once for all.
fn own_tolerance(job: &Job, tolerance: f64) -> Option<f64> {
    (tolerance != job.settings.tolerance_mm).then_some(tolerance)
}

/// Where a point should be, per axis: the sheet's target; without one, a centre point belongs on
/// the centre plane and a side point has only its mirror.
fn aim(job: &Job, id: &PointId) -> [Option<f64>; 3] {
    if let Some(target) = target(job, id) {
        return target.map(Some);
    }
    let centre = job
        .points
        .get(id)
        .is_some_and(|point| point.side == Side::Centre);
    [None, centre.then_some(0.0), None]
}

/// The four quantities of a pair as linear forms.
pub(super) fn pair_quantities(
    job: &Job,
    built: &Built,
    stage: usize,
    left: &PointId,
    right: &PointId,
) -> Option<[Quantity; 4]> {
    let (l, r) = (
        built.place(job, left, stage)?,
        built.place(job, right, stage)?,
    );
    let quantity = |axis, of_left, of_right| Quantity {
        form: LinearForm(vec![
            Term {
                block: l,
                axis,
                factor: of_left,
            },
            Term {
                block: r,
                axis,
                factor: of_right,
            },
        ]),
        trust: built.trust_on(&[left, right], axis),
    };
    Some([
        quantity(2, -1.0, 1.0),
        quantity(1, 0.5, 0.5),
        quantity(0, -1.0, 1.0),
        quantity(1, -1.0, 1.0),
    ])
}

fn pair(
    job: &Job,
    built: &Built,
    solution: &Solution,
    stage: usize,
    left: &PointId,
    right: &PointId,
) -> PairResult {
    let quantities = pair_quantities(job, built, stage, left, right);
    let found = quantities.map(|quantities| {
        quantities.map(|quantity| Found {
            is_measured: quantity.measured(solution),
            value: solution.value(&quantity.form),
            variance: solution.variance(&quantity.form),
            quantity,
        })
    });
    judged_pair(job, left, right, found)
}

/// A quantity with what is known of it.
pub(super) struct Found {
    pub(super) quantity: Quantity,
    pub(super) is_measured: bool,
    pub(super) value: f64,
    pub(super) variance: f64,
}

/// The four quantities of a pair, judged; `None` where the pair takes no part.
pub(super) fn judged_pair(
    job: &Job,
    left: &PointId,
    right: &PointId,
    found: Option<[Found; 4]>,
) -> PairResult {
    let gap = designed_gap(job, left, right);
    let on_sheet = |id| target(job, id);
    let width = on_sheet(left)
        .zip(on_sheet(right))
        .map(|(l, r)| r[1] - l[1]);
    let targets = [Some(-gap[2]), Some(gap[1] / 2.0), Some(-gap[0]), width];
    let mut judged: [Judged; 4] = Default::default();
    if let Some(found) = found {
        for ((slot, found), target) in judged.iter_mut().zip(&found).zip(targets) {
            *slot = judge_quantity(job, [left, right], found, target);
        }
    }
    let [
        right_higher_mm,
        centre_right_mm,
        right_rearward_mm,
        width_mm,
    ] = judged;
    PairResult {
        left: left.clone(),
        right: right.clone(),
        right_higher_mm,
        centre_right_mm,
        right_rearward_mm,
        width_mm,
    }
}

fn judge_quantity(job: &Job, pair: [&PointId; 2], found: &Found, target: Option<f64>) -> Judged {
    if !found.is_measured {
        return Judged {
            target,
            ..Judged::default()
        };
    }
    let (value, own) = (found.value, found.variance);
    // A sheet's targets have a spread of their own; symmetry is judged as it was read.
    let terms = found.quantity.form.0.iter().zip(pair);
    let of_sheet: f64 = terms
        .map(|(term, id)| (term.factor * target_spread(job, id, term.axis)).powi(2))
        .sum();
    let sigma = (own + of_sheet).sqrt();
    let tolerance = job.tolerance_of(&pair);
    let judged =
        target.map(|target| judge(value - target, sigma, tolerance, job.settings.conformity));
    Judged {
        value: Some(value),
        sigma: Some(own.sqrt()),
        target,
        conformity: judged.map(|(p, _)| p),
        verdict: judged.map(|(_, verdict)| verdict),
        tolerance_mm: judged.and_then(|_| own_tolerance(job, tolerance)),
    }
}

fn tilt(job: &Job, built: &Built, solution: &Solution, stage: usize) -> Tilt {
    let Some(block) = built.block(&Key::Tilt(stage)) else {
        return Tilt {
            roll: None,
            pitch: None,
        };
    };
    let degrees = |axis: usize| {
        let quantity = Quantity {
            form: one(block, axis),
            trust: Vec::new(),
        };
        quantity
            .measured(solution)
            .then(|| solution.block(block)[axis].to_degrees())
    };
    // Without a sheet the pitch is a convention taken from the rough places.
    Tilt {
        roll: degrees(0),
        pitch: job.sheet.as_ref().and_then(|_| degrees(1)),
    }
}

fn setups(
    job: &Job,
    built: &Built,
    solution: &Solution,
    stage: usize,
) -> IndexMap<SetupId, SetupResult> {
    let seen = |id: &SetupId| {
        let level = built.block(&Key::Level(id.clone(), stage));
        let plumb = built.block(&Key::Plumb(id.clone(), stage));
        (level.is_some() || plumb.is_some()).then_some(plumb)
    };
    job.setups
        .iter()
        .filter_map(|(id, setup)| {
            let plumb = seen(id)?;
            let measured = |axis: usize| {
                let block = plumb?;
                let quantity = Quantity {
                    form: one(block, axis),
                    trust: Vec::new(),
                };
                quantity
                    .measured(solution)
                    .then(|| solution.block(block)[axis])
            };
            let result = SetupResult {
                yaw_deg: measured(0).map(f64::to_degrees),
                off_centre_mm: (setup.plumb == Some(Plumb::Lengthwise))
                    .then(|| measured(1))
                    .flatten(),
            };
            Some((id.clone(), result))
        })
        .collect()
}

fn cannot_tell(job: &Job) -> Vec<CannotTell> {
    if job.sheet.is_some() {
        return Vec::new();
    }
    let what = [
        (
            "mash",
            "both sides shortened alike look like a shorter car; a sheet is needed to see it",
        ),
        (
            "sag",
            "both sides low alike look like another datum; a sheet is needed to see it",
        ),
        (
            "spread",
            "both sides out alike look like a wider car; a sheet is needed to see it",
        ),
        (
            "which-side",
            "symmetry shows the difference of two sides, not which of them moved",
        ),
    ];
    what.into_iter()
        .map(|(what, why)| CannotTell {
            what: what.to_owned(),
            why: why.to_owned(),
        })
        .collect()
}
