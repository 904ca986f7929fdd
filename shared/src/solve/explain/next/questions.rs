//! What is still open in a stage: verdicts not proven, quantities not measured.
//!
//! Millimetres. This file refuses to know which readings could be taken.

use crate::adjust::{LinearForm, Row, Solution};
use crate::damage::{Found, Structure};
use crate::ids::PointId;
use crate::job::{Job, Side};
use crate::solve::explain::Names;
use crate::solve::network::{Built, designed_gap, one, target, target_spread};
use crate::solve::quantities::{Quantity, pair_quantities};
use crate::verdict::{Verdict, chance_of_verdict, judge};

/// A verdict that is open although something was read.
const OPEN: f64 = 1.0;
/// Nothing read yet, on a member that a cause would carry or that carries one.
const NEAR_CAUSE: f64 = 0.8;
/// Nothing read yet elsewhere.
const ELSEWHERE: f64 = 0.25;
/// Lengths need spans to several points: they come after heights and offsets.
const LENGTH: f64 = 0.5;

/// One open question.
#[derive(Debug, Clone)]
pub(super) struct Question {
    /// `strut tower, rear bolt: height`.
    pub(super) name: String,
    pub(super) row: Row,
    pub(super) weight: f64,
    pub(super) sheet_variance: f64,
    deviation: f64,
    sigma: f64,
    tolerance: f64,
    measured: bool,
}

impl Question {
    /// Chance of a verdict when the standard uncertainty comes down to `after`.
    pub(super) fn chance(&self, job: &Job, after: f64) -> f64 {
        if after > 0.98 * self.sigma {
            return 0.0;
        }
        let level = job.settings.conformity;
        chance_of_verdict(self.deviation, self.sigma, after, self.tolerance, level)
    }

    pub(super) fn why(&self, after: f64) -> String {
        if self.measured {
            let (value, sigma) = (self.deviation, self.sigma);
            format!(
                "may settle {} (now {value:+.1} ± {sigma:.1} mm, then ± {after:.1})",
                self.name
            )
        } else {
            format!(
                "{} was not read yet; gives it to ± {after:.1} mm",
                self.name
            )
        }
    }
}

pub(super) fn of_stage(
    job: &Job,
    built: &Built,
    solution: &Solution,
    names: &Names,
    structure: &Structure,
    causes: &[Found],
    stage: usize,
) -> Vec<Question> {
    let near = |id: &PointId| {
        let chain = names
            .point(id)
            .map_or(&[][..], |point| structure.chain(point));
        causes.iter().any(|cause| {
            chain.contains(&cause.member)
                || chain.first().is_some_and(|own| {
                    cause.instead.contains(own) || structure.carriers(cause.member).contains(own)
                })
        })
    };
    let mut questions = Vec::new();
    for (id, point) in &job.points {
        let label = if point.label.is_empty() {
            id.as_str()
        } else {
            &point.label
        };
        let weight = if near(id) { NEAR_CAUSE } else { ELSEWHERE };
        let by_target = target(job, id).is_some();
        let asked: &[&PointId] = match &point.mirror {
            Some(mirror) if !by_target => &[id, mirror],
            _ => &[id],
        };
        let tolerance = job.tolerance_of(asked);
        let mut ask = |what: &str, quantity: Quantity, aim: f64, sheet: f64, scale: f64| {
            let asked = Asked {
                name: format!("{label}: {what}"),
                aim,
                sheet_variance: sheet * sheet,
                tolerance,
                weight: weight * scale,
            };
            questions.extend(question(job, solution, &quantity, asked));
        };
        if let Some(aim) = target(job, id) {
            let Some(block) = built.place(job, id, stage) else {
                continue;
            };
            for (axis, what) in ["length", "width", "height"].into_iter().enumerate() {
                let quantity = Quantity {
                    form: one(block, axis),
                    trust: built.trust_on(&[id], axis),
                };
                let scale = if axis == 0 { LENGTH } else { 1.0 };
                let spread = target_spread(job, id, axis);
                ask(what, quantity, aim[axis], spread, scale);
            }
            continue;
        }
        let Some(mirror) = point.mirror.as_ref().filter(|_| point.side == Side::Left) else {
            continue;
        };
        let Some([height, centre, length, _]) = pair_quantities(job, built, stage, id, mirror)
        else {
            continue;
        };
        let gap = designed_gap(job, id, mirror);
        ask("height", height, -gap[2], 0.0, 1.0);
        ask("centre", centre, gap[1] / 2.0, 0.0, 1.0);
        ask("length", length, -gap[0], 0.0, LENGTH);
    }
    questions
}

/// What is asked of a quantity.
struct Asked {
    name: String,
    aim: f64,
    sheet_variance: f64,
    tolerance: f64,
    /// While nothing is read of it.
    weight: f64,
}

fn question(job: &Job, solution: &Solution, quantity: &Quantity, asked: Asked) -> Option<Question> {
    let measured = quantity.measured(solution);
    let sigma = (solution.variance(&quantity.form) + asked.sheet_variance).sqrt();
    let deviation = value(solution, &quantity.form) - asked.aim;
    let level = job.settings.conformity;
    let (_, verdict) = judge(deviation, sigma, asked.tolerance, level);
    if measured && verdict != Verdict::Unproven {
        return None;
    }
    // What trust alone says of a reference that nobody read is no question of the damage.
    if !measured && verdict == Verdict::Within {
        return None;
    }
    Some(Question {
        name: asked.name,
        row: solution.row(&quantity.form),
        weight: if measured { OPEN } else { asked.weight },
        sheet_variance: asked.sheet_variance,
        deviation,
        sigma,
        tolerance: asked.tolerance,
        measured,
    })
}

fn value(solution: &Solution, form: &LinearForm) -> f64 {
    solution.value(form)
}
