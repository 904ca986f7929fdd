//! What carried the damage: modes, causes along the members, springback.
//!
//! Millimetres and radians in the car's frame (x rearward, y right, z up). Points and members are
//! numbers here: this module knows displacements with their covariance and what is carried by what,
//! and refuses to know documents, people and how a reading was taken.

pub mod structure;
pub mod regression;
pub mod impact;
pub mod causes;
pub mod modes;
pub mod pulls;

pub use causes::{Evidence, Found, Row, Term, find};
pub use impact::Blow;
pub use structure::{Spot, Structure};

/// A movement is real, and a mode significant, beyond this many spreads (two-sided α = 0.01,
/// normal quantile).
pub const REAL: f64 = 2.575_829_303_5;

/// Does a value differ from zero beyond its spread?
#[must_use]
pub fn is_real(value: f64, sigma: f64) -> bool {
    sigma > 0.0 && value.abs() > REAL * sigma
}

#[cfg(test)]
mod tests;
