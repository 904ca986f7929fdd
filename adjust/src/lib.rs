//! Least-squares adjustment of a network of readings: robust start, arrow-shaped solution,
//! covariance, suspects.
//!
//! ```text
//! minimise  Σ ((value − predicted(x)) / σ)²  over readings, trust rows and weak priors
//! ```
//!
//! Unknowns come in blocks (a point, the car's tilt, a beam, a device's frame). Blocks of one stage
//! are eliminated before the blocks that all stages share, so the normal matrix has the shape of an
//! arrow and the cost grows linearly with stages. [`adjust`] always returns a [`Solution`]: converged
//! or not, never a panic, never a NaN. A crate of its own because it is the part that a phone runs at
//! every reading: built for speed where the rest of the phone's app is built for size. It refuses to
//! know documents, people, vehicles and tolerances.

pub mod sorting;
pub mod geometry;
pub mod measure;
pub mod problem;
mod dense;
mod order;
mod sparse;
mod network;
mod rows;
mod recent;
mod iterate;
mod suspects;
mod solution;
mod half;
mod joint;
mod prior;
mod carry;

pub use carry::Carried;
pub use half::Half;
pub use joint::{Along, Joint, Row};
pub use problem::{Block, LinearForm, Observation, Problem, Sight, Term};
pub use solution::{Report, Solution, Tested};
pub use suspects::Suspect;

/// Limit of every test on one row: two-sided α = 0.001 (normal quantile 3.2905).
pub const LIMIT: f64 = 3.290_526_731_5;
/// Non-centrality of the smallest error that is caught with α = 0.001 and power 0.80
/// (Baarda 1968; recomputed from normal quantiles).
pub const NON_CENTRALITY: f64 = 4.132_147_965_1;
/// Two rows whose test quantities correlate more than this cannot be told apart.
pub const INSEPARABLE: f64 = 0.95;

/// Solves a problem from its own first idea, or from `start` when the shape is the same.
#[must_use]
pub fn adjust(problem: Problem, start: Option<&[f64]>) -> Solution {
    suspects::solve(problem, start)
}

#[cfg(test)]
mod tests;
