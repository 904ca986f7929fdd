//! Point to point with tape or tram bar, diagonals too: ‖A − B‖; millimetres.

use super::{COINCIDENT_MM, Prediction};
use crate::geometry::{Vec3, norm, scale, sub};

/// The distance from `a` to `b`, or `None` when they coincide.
#[must_use]
pub fn predict(a: Vec3, b: Vec3) -> Option<Prediction> {
    let along = sub(b, a);
    let value = norm(along);
    if value < COINCIDENT_MM {
        return None;
    }
    let by_b = scale(along, 1.0 / value);
    Some(Prediction {
        value,
        by_a: scale(by_b, -1.0),
        by_b,
        ..Prediction::default()
    })
}
