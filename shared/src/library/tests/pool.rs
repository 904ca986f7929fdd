//! The random-effects model against other programs, and a printed example.

use serde_json::Value;

use crate::library::dense::{Matrix, zeros};
use crate::library::pool::{Given, Pooled, Study, pool};

/// The references of `tests/oracle/make_pool.py`, which names who computed each.
fn oracle() -> Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../tests/oracle/pool.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value
        .as_array()
        .unwrap()
        .iter()
        .map(|v| v.as_f64().unwrap())
        .collect()
}

fn matrix(value: &Value) -> Matrix {
    value.as_array().unwrap().iter().map(numbers).collect()
}

fn studies(case: &Value) -> Vec<Study> {
    let study = |study: &Value| Study {
        y: numbers(&study["y"]),
        x: matrix(&study["x"]),
        s: matrix(&study["s"]),
    };
    case["studies"]
        .as_array()
        .unwrap()
        .iter()
        .map(study)
        .collect()
}

fn pooled(case: &Value) -> Pooled {
    let size = case["mean"].as_array().unwrap().len();
    let mut between = zeros(size, size);
    let mut free = Vec::new();
    for (i, row) in between.iter_mut().enumerate() {
        row[i] = 1.0;
        free.push((i, i));
        let block = if case["structure"] == "diag" {
            0
        } else {
            3 * (i / 3 + 1)
        };
        free.extend((i + 1..block).map(|j| (i, j)));
    }
    let given = Given {
        free,
        between,
        priors: Vec::new(),
    };
    pool(&studies(case), &given).unwrap()
}

fn furthest(a: &Matrix, b: &Matrix) -> f64 {
    let pairs = a.iter().flatten().zip(b.iter().flatten());
    pairs.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}

#[test]
fn other_programs_pool_the_same() {
    let oracle = oracle();
    for (name, case) in oracle.as_object().unwrap() {
        let own = pooled(case);
        assert!(own.converged, "{name}");
        let off = (
            furthest(&vec![own.mean], &vec![numbers(&case["mean"])]),
            furthest(&own.covariance, &matrix(&case["covariance"])),
            furthest(&own.between, &matrix(&case["between"])),
        );
        println!("{name} by {}: {off:?}", case["by"]);
        assert!(
            off.0 < 2e-4 && off.1 < 2e-4 && off.2 < 5e-4,
            "{name}: {off:?}"
        );
    }
}

/// Thirteen trials of the BCG vaccine (Colditz et al. 1994): the documentation of metafor prints for
/// its log risk ratios by restricted maximum likelihood the estimate -0.7145, standard error 0.1798
/// and tau² 0.3132 (from memory; metafor itself agrees, see `pool.json`).
#[test]
fn a_printed_example_is_met_to_its_digits() {
    let own = pooled(&oracle()["bcg"]);
    let to_4 = |value: f64| (value * 1e4).round() / 1e4;
    assert_eq!(to_4(own.mean[0]), -0.7145);
    assert_eq!(to_4(own.covariance[0][0].sqrt()), 0.1798);
    assert_eq!(to_4(own.between[0][0]), 0.3132);
}

/// With cars that are measured alike the answer is known: the sample's mean, its variance less what is
/// within, and the variance of the mean.
#[test]
fn cars_measured_alike_are_a_plain_sample() {
    let values = [1.0, 4.0, 2.5, 7.0, 5.5];
    let study = |y: &f64| Study {
        y: vec![*y],
        x: vec![vec![1.0]],
        s: vec![vec![0.36]],
    };
    let given = Given {
        free: vec![(0, 0)],
        between: vec![vec![1.0]],
        priors: Vec::new(),
    };
    let own = pool(&values.iter().map(study).collect::<Vec<_>>(), &given).unwrap();
    // Sum of squares about 4: 22.5, over 4 degrees of freedom.
    let variance = 22.5 / 4.0;
    assert!((own.mean[0] - 4.0).abs() < 1e-9);
    assert!(
        (own.between[0][0] - (variance - 0.36)).abs() < 1e-5,
        "{:?}",
        own.between
    );
    assert!((own.covariance[0][0] - variance / 5.0).abs() < 1e-5);
}

#[test]
fn what_cannot_be_pooled_is_none() {
    let given = Given {
        free: vec![(0, 0)],
        between: vec![vec![1.0]],
        priors: Vec::new(),
    };
    assert!(pool(&[], &given).is_none());
    let odd = |y: f64, s: f64| Study {
        y: vec![y],
        x: vec![vec![1.0]],
        s: vec![vec![s]],
    };
    assert!(pool(&[odd(f64::NAN, 1.0), odd(1.0, 1.0)], &given).is_none());
    assert!(pool(&[odd(1.0, -2.0), odd(1.0, 1.0)], &given).is_none());
}
