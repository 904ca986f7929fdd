//! Level distance from the plumb beam to a point: ±(n·P − d); millimetres.

use super::Prediction;
use crate::geometry::{Normal, Vec3, dot, scale};

/// The reading at `p` from a beam at `offset`; `sign` is +1 for a point right of, or behind, it.
#[must_use]
pub fn predict(p: Vec3, normal: Normal, offset: f64, sign: f64) -> Prediction {
    Prediction {
        value: sign * (dot(normal.n, p) - offset),
        by_a: scale(normal.n, sign),
        by_tilt: [
            sign * dot(normal.by_roll, p),
            sign * dot(normal.by_pitch, p),
        ],
        by_plumb: [sign * dot(normal.by_yaw, p), -sign],
        ..Prediction::default()
    }
}
