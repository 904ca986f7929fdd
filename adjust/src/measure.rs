//! One file per kind of reading: the value a reading should have, and its derivatives.
//!
//! Lengths in millimetres, angles in radians. A [`Prediction`] carries the partial derivatives by
//! everything a reading can depend on; what does not apply is zero. This module refuses to know
//! who read, with what, and whether the number is any good.

pub mod height;
pub mod offset;
pub mod split;
pub mod span;
pub mod datum_span;
pub mod fix;
pub mod slip;

use crate::geometry::Vec3;

/// Standard uncertainty of a beam reading when nothing else is known, millimetres.
pub const DEFAULT_BEAM_SIGMA_MM: f64 = 0.7;
/// Standard uncertainty of a span or a coordinate when nothing else is known, millimetres.
pub const DEFAULT_SPAN_SIGMA_MM: f64 = 1.0;

/// Two points closer than this have no direction between them, millimetres.
pub(crate) const COINCIDENT_MM: f64 = 1e-6;

/// A predicted value and its partial derivatives.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Prediction {
    /// The value, millimetres.
    pub value: f64,
    /// By the (first) point.
    pub by_a: Vec3,
    /// By the second point.
    pub by_b: Vec3,
    /// By roll and pitch.
    pub by_tilt: [f64; 2],
    /// By the level beam's height.
    pub by_level: f64,
    /// By the plumb beam's yaw and offset.
    pub by_plumb: [f64; 2],
}

#[cfg(test)]
mod tests;
