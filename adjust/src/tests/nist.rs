//! The iteration on problems with certified answers: NIST StRD, nonlinear regression.

use super::*;
use crate::problem::Curve;

mod data;

/// One problem.
struct Certified {
    name: &'static str,
    starts: [&'static [f64]; 2],
    values: &'static [f64],
    deviations: &'static [f64],
    /// Residual sum of squares.
    rss: f64,
    /// y, x.
    data: &'static [(f64, f64)],
}

type Model = fn(&[f64], f64) -> f64;

/// The model of a problem, as its file gives it.
fn model(name: &str) -> Model {
    match name {
        "Misra1a" => |b, x| b[0] * (1.0 - (-b[1] * x).exp()),
        "Misra1b" => |b, x| b[0] * (1.0 - (1.0 + b[1] * x / 2.0).powi(-2)),
        "MGH09" => |b, x| b[0] * (x * x + x * b[1]) / (x * x + x * b[2] + b[3]),
        "MGH10" => |b, x| b[0] * (b[1] / (x + b[2])).exp(),
        "Rat43" => |b, x| b[0] / (1.0 + (b[1] - b[2] * x).exp()).powf(1.0 / b[3]),
        "Eckerle4" => |b, x| b[0] / b[1] * (-0.5 * ((x - b[2]) / b[1]).powi(2)).exp(),
        "Kirby2" => |b, x| (b[0] + b[1] * x + b[2] * x * x) / (1.0 + b[3] * x + b[4] * x * x),
        _ => |b, x| {
            (b[0] + b[1] * x + b[2] * x * x + b[3] * x.powi(3))
                / (1.0 + b[4] * x + b[5] * x * x + b[6] * x.powi(3))
        },
    }
}

/// Digits that agree.
fn digits(found: f64, certified: f64) -> f64 {
    -((found - certified).abs() / certified.abs())
        .max(1e-16)
        .log10()
}

/// Solves a problem from a start; least digits of the values and of their deviations.
fn solve(problem: &Certified, start: &[f64]) -> (f64, f64) {
    // The residual standard deviation is each row's spread, so that ours are the certified ones. It
    // is given once, generously for the search, so that no row looks like a misread.
    let freedom = problem.data.len() - problem.values.len();
    let sigma = (problem.rss / freedom as f64).sqrt();
    let mut ours = Problem::new();
    let free: Vec<f64> = problem
        .values
        .iter()
        .map(|value| 1e9 * value.abs().max(1.0))
        .collect();
    let block = ours.block(None, start, &free);
    for &(y, x) in problem.data {
        ours.observe(Observation {
            sight: Sight::Model {
                block,
                size: start.len(),
                at: x,
                model: Curve(model(problem.name)),
            },
            value: [y, 0.0, 0.0],
            sigma: 10.0 * sigma,
        });
    }
    let solution = adjust(ours, None);
    let (mut values, mut deviations) = (f64::INFINITY, f64::INFINITY);
    for axis in 0..start.len() {
        let form = LinearForm(vec![Term {
            block,
            axis,
            factor: 1.0,
        }]);
        values = values.min(digits(solution.value(&form), problem.values[axis]));
        let deviation = solution.variance(&form).sqrt() / 10.0;
        deviations = deviations.min(digits(deviation, problem.deviations[axis]));
    }
    (values, deviations)
}

/// From the nearer start to at least six digits; which problems also come home from the far start is
/// told and counted.
#[test]
fn certified_values_come_out_from_the_near_start() {
    let mut far = 0;
    for problem in data::PROBLEMS {
        let (near_values, near_deviations) = solve(problem, problem.starts[1]);
        let (far_values, _) = solve(problem, problem.starts[0]);
        println!(
            "{:9} near {near_values:4.1} digits, deviations {near_deviations:4.1}; far {far_values:4.1}",
            problem.name
        );
        assert!(
            near_values >= 6.0,
            "{}: {near_values:.1} digits",
            problem.name
        );
        assert!(
            near_deviations >= 4.0,
            "{}: {near_deviations:.1} digits",
            problem.name
        );
        far += u32::from(far_values >= 6.0);
    }
    assert!(far >= 5, "{far} problems come home from the far start");
}
