//! Tram bar held parallel to the datum: √(Δx² + Δy²); millimetres.

use super::{Prediction, span};
use crate::geometry::Vec3;

/// The distance from `a` to `b` seen from above, or `None` when one stands over the other.
#[must_use]
pub fn predict(a: Vec3, b: Vec3) -> Option<Prediction> {
    span::predict([a[0], a[1], 0.0], [b[0], b[1], 0.0])
}
