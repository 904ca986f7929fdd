//! How fast the engine is, beside a dense textbook solution of the same size, in one run.
//!
//! `cargo run --release --package shared --example bench`. Measures; gates nothing. With `job` it
//! prints the first job as a file, for others to solve.
#![expect(clippy::disallowed_methods, reason = "a benchmark reads the clock")]

use std::time::{Duration, Instant};

use shared::job::{Job, Taken};
use shared::simulate::large::{large_car, repeatable_noise};
use shared::solve::{Solver, solve};

fn main() {
    let mut noise = repeatable_noise(0x1234_5678_9ABC_DEF1);
    if std::env::args().nth(1).as_deref() == Some("job") {
        print!("{}", shared::jobfile::write(&large_car(40, 1, &mut noise)));
        return;
    }
    println!("{:<52} {:>10}", "what", "median");
    let one = large_car(40, 1, &mut noise);
    report("solve, 80 points, 400 readings, nothing known", 40, || {
        drop(Solver::default().solve(&one))
    });
    report("the same with reasons, pulls and next readings", 10, || {
        drop(solve(&one))
    });
    let mut wrong = one.clone();
    for reading in [13, 170, 333] {
        misread(&mut wrong, reading);
    }
    report("the same with three 100 mm misreads", 20, || {
        drop(Solver::default().solve(&wrong))
    });
    let mut solver = Solver::default();
    solver.solve(&one);
    report("one more reading, from the last solution", 40, || {
        drop(solver.solve(&one))
    });
    let ten = large_car(50, 10, &mut noise);
    let unknowns = ten.points.len() * 3;
    let mut before = ten.clone();
    before.readings.pop();
    let mut solver = Solver::default();
    solver.solve(&before);
    // The first answer in a stage makes the rows that stand for all others.
    solver.answer(&ten);
    let hand = report(
        "one more reading in the large job, only its stage",
        10,
        || drop(solver.answer(&ten)),
    );
    let whole = report("the same, all stages", 5, || drop(solver.solve(&ten)));
    println!(
        "stage in hand over all stages: {:.2}",
        hand.as_secs_f64() / whole.as_secs_f64()
    );
    report("solve, ten stages of 100 points, 5,000 readings", 5, || {
        drop(Solver::default().solve(&ten))
    });
    report("the same with reasons, pulls and next readings", 3, || {
        drop(solve(&ten))
    });
    let dense = report("one dense Cholesky of the first job's size", 20, || {
        drop(dense_inverse(243))
    });
    let sparse = report("solve, 80 points, again", 40, || {
        drop(Solver::default().solve(&one))
    });
    println!(
        "whole solution over one dense factor and inverse: {:.2}",
        sparse.as_secs_f64() / dense.as_secs_f64()
    );
    println!("({unknowns} unknowns of trusted points and one stage in the large job)");
}

fn misread(job: &mut Job, index: usize) {
    match &mut job.readings[index].taken {
        Taken::Height { value_mm, .. }
        | Taken::Offset { value_mm, .. }
        | Taken::Split { value_mm, .. }
        | Taken::Span { value_mm, .. } => {
            *value_mm += 100.0;
        }
        Taken::DatumSpan { .. } | Taken::Fix { .. } => {}
    }
}

fn report(what: &str, rounds: usize, mut work: impl FnMut()) -> Duration {
    let mut times: Vec<Duration> = (0..rounds)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed()
        })
        .collect();
    times.sort();
    let median = times[times.len() / 2];
    println!("{what:<52} {:>7.2} ms", median.as_secs_f64() * 1e3);
    median
}

/// A textbook solution of this many unknowns: dense Cholesky and inverse, once.
fn dense_inverse(n: usize) -> Vec<f64> {
    let mut a: Vec<f64> = (0..n * n)
        .map(|k| {
            let (i, j) = (k / n, k % n);
            if i == j {
                10.0 + i as f64
            } else {
                1.0 / (1.0 + i.abs_diff(j) as f64)
            }
        })
        .collect();
    for j in 0..n {
        for i in j..n {
            let mut sum = a[i * n + j];
            for k in 0..j {
                sum -= a[i * n + k] * a[j * n + k];
            }
            a[i * n + j] = if i == j {
                sum.sqrt()
            } else {
                sum / a[j * n + j]
            };
        }
    }
    let mut inverse = vec![0.0; n * n];
    for column in 0..n {
        let mut x = vec![0.0; n];
        for i in column..n {
            let own = if i == column { 1.0 } else { 0.0 };
            let sum: f64 = (column..i).map(|k| a[i * n + k] * x[k]).sum();
            x[i] = (own - sum) / a[i * n + i];
        }
        for i in (0..n).rev() {
            let sum: f64 = (i + 1..n).map(|k| a[k * n + i] * x[k]).sum();
            x[i] = (x[i] - sum) / a[i * n + i];
        }
        for i in 0..n {
            inverse[i * n + column] = x[i];
        }
    }
    std::hint::black_box(inverse)
}
