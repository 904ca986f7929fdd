//! How fast the engine is in this browser; `cargo xtask bench` calls it, nothing in the app does.

use shared::simulate::large::{large_car, repeatable_noise};
use shared::solve::{Solver, solve};
use wasm_bindgen::prelude::wasm_bindgen;

/// Median milliseconds of solving 80 points and 400 readings: from nothing; from the last solution;
/// and from nothing with reasons, causes, pulls and next readings.
#[must_use]
#[wasm_bindgen]
pub fn measure_solve(rounds: u32) -> Vec<f64> {
    let job = large_car(40, 1, &mut repeatable_noise(0x1234_5678_9ABC_DEF1));
    let mut solver = Solver::default();
    solver.solve(&job);
    vec![
        median(rounds, || drop(Solver::default().solve(&job))),
        median(rounds, || drop(solver.solve(&job))),
        median(rounds, || drop(solve(&job))),
    ]
}

fn median(rounds: u32, mut work: impl FnMut()) -> f64 {
    let now = || {
        web_sys::window()
            .and_then(|window| window.performance())
            .map_or(0.0, |clock| clock.now())
    };
    let mut times: Vec<f64> = (0..rounds.max(1))
        .map(|_| {
            let start = now();
            work();
            now() - start
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}
