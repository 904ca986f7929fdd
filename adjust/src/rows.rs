//! What one observation predicts at one place, and its derivatives.
//!
//! Rows are in unit weight: (value − predicted) / σ. This file refuses to know where rows stand.

use super::network::Linear;
use super::problem::{Observation, Problem, Sight, Term};
use crate::geometry::{Normal, Up, Vec3};
use crate::measure::{Prediction, datum_span, fix, height, offset, span, split};

/// The unknowns of an observation's rows, in the order of its derivatives.
pub(crate) fn unknowns(problem: &Problem, observation: &Observation) -> Vec<usize> {
    if let Sight::Linear(form) = &observation.sight {
        return form.0.iter().map(|term| problem.index(term)).collect();
    }
    let blocks = observation.sight.blocks();
    let all = blocks.iter().flat_map(|block| {
        let spec = &problem.blocks[block.0];
        spec.start..spec.start + spec.size
    });
    all.collect()
}

pub(crate) fn observe(
    problem: &Problem,
    observation: &Observation,
    x: &[f64],
    linear: &mut Linear,
) {
    let at = |block: super::Block| problem.blocks[block.0].start;
    let point = |block: super::Block| -> Vec3 {
        let start = at(block);
        [x[start], x[start + 1], x[start + 2]]
    };
    let mut up = |tilt: super::Block| {
        let angles = [x[at(tilt)], x[at(tilt) + 1]];
        match linear.up {
            Some((known, up)) if known == angles => up,
            _ => {
                let up = Up::tilted(angles[0], angles[1]);
                linear.up = Some((angles, up));
                up
            }
        }
    };
    let w = 1.0 / observation.sigma;
    let value = observation.value[0];
    match &observation.sight {
        Sight::Height {
            point: p,
            tilt,
            level,
            sign,
        } => {
            let seen = height::predict(point(*p), up(*tilt), x[at(*level)], *sign);
            push(
                linear,
                value,
                w,
                &seen,
                [&seen.by_a, &seen.by_tilt, &[seen.by_level]],
            );
        }
        Sight::Offset {
            point: p,
            tilt,
            plumb,
            axis,
            sign,
        } => {
            let normal = Normal::turned(*axis, up(*tilt), x[at(*plumb)]);
            let seen = offset::predict(point(*p), normal, x[at(*plumb) + 1], *sign);
            push(
                linear,
                value,
                w,
                &seen,
                [&seen.by_a, &seen.by_tilt, &seen.by_plumb],
            );
        }
        Sight::Split {
            from,
            to,
            tilt,
            plumb,
            axis,
        } => {
            let normal = Normal::turned(*axis, up(*tilt), x[at(*plumb)]);
            match split::predict(point(*from), point(*to), normal, x[at(*plumb) + 1]) {
                Some(seen) => push(
                    linear,
                    value,
                    w,
                    &seen,
                    [&seen.by_a, &seen.by_b, &seen.by_tilt, &seen.by_plumb],
                ),
                None => push_blind(linear, 10),
            }
        }
        Sight::Span { from, to } => match span::predict(point(*from), point(*to)) {
            Some(seen) => push(linear, value, w, &seen, [&seen.by_a, &seen.by_b]),
            None => push_blind(linear, 6),
        },
        Sight::DatumSpan { from, to } => match datum_span::predict(point(*from), point(*to)) {
            Some(seen) => push(linear, value, w, &seen, [&seen.by_a, &seen.by_b]),
            None => push_blind(linear, 6),
        },
        Sight::Fix { point: p, frame } => {
            let f = at(*frame);
            let seen = fix::predict(
                point(*p),
                [x[f], x[f + 1], x[f + 2]],
                [x[f + 3], x[f + 4], x[f + 5]],
            );
            for axis in 0..3 {
                linear
                    .residual
                    .push((observation.value[axis] - seen.value[axis]) * w);
                linear.blind.push(false);
                let identity = [0, 1, 2].map(|other| if other == axis { w } else { 0.0 });
                linear
                    .coefficient
                    .extend(seen.by_point[axis].map(|c| c * w));
                linear
                    .coefficient
                    .extend(seen.by_rotation[axis].map(|c| c * w));
                linear.coefficient.extend(identity);
            }
        }
        #[cfg(test)]
        Sight::Model {
            block,
            size,
            at: place,
            model,
        } => {
            let own = &x[at(*block)..at(*block) + size];
            linear.residual.push((value - (model.0)(own, *place)) * w);
            linear.blind.push(false);
            for axis in 0..*size {
                let step = 1e-6 * own[axis].abs().max(1e-12);
                let mut moved = own.to_vec();
                moved[axis] = own[axis] + step;
                let more = (model.0)(&moved, *place);
                moved[axis] = own[axis] - step;
                let less = (model.0)(&moved, *place);
                linear.coefficient.push((more - less) / (2.0 * step) * w);
            }
        }
        Sight::Linear(form) => linear_row(problem, &form.0, value, observation.sigma, x, linear),
    }
}

fn push<const N: usize>(
    linear: &mut Linear,
    value: f64,
    w: f64,
    seen: &Prediction,
    parts: [&[f64]; N],
) {
    linear.residual.push((value - seen.value) * w);
    linear.blind.push(false);
    for part in parts {
        linear.coefficient.extend(part.iter().map(|c| c * w));
    }
}

fn push_blind(linear: &mut Linear, terms: usize) {
    linear.residual.push(0.0);
    linear.blind.push(true);
    linear.coefficient.extend(std::iter::repeat_n(0.0, terms));
}

pub(crate) fn linear_row(
    problem: &Problem,
    form: &[Term],
    value: f64,
    sigma: f64,
    x: &[f64],
    linear: &mut Linear,
) {
    let sum: f64 = form
        .iter()
        .map(|term| term.factor * x[problem.index(term)])
        .sum();
    linear.residual.push((value - sum) / sigma);
    linear.blind.push(false);
    linear
        .coefficient
        .extend(form.iter().map(|term| term.factor / sigma));
}

/// Starts each device's frame where it best takes the first ideas of its points to the fixes.
pub(crate) fn place_frames(problem: &mut Problem) {
    let mut frames: Vec<(super::Block, Vec<Vec3>, Vec<Vec3>)> = Vec::new();
    for observation in &problem.observations {
        if let Sight::Fix { point, frame } = observation.sight {
            let start = problem.blocks[point.0].start;
            let idea = [0, 1, 2].map(|axis| problem.first_idea[start + axis]);
            match frames.iter_mut().find(|(known, _, _)| *known == frame) {
                Some((_, from, to)) => {
                    from.push(idea);
                    to.push(observation.value);
                }
                None => frames.push((frame, vec![idea], vec![observation.value])),
            }
        }
    }
    for (frame, from, to) in frames {
        let (w, t) = fix::best_fit(&from, &to);
        problem.begin_at(frame, &[w[0], w[1], w[2], t[0], t[1], t[2]]);
    }
}
