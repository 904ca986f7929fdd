//! Height between the level beam and a point: ±(h − u·P), scale held plumb; millimetres.

use super::Prediction;
use crate::geometry::{Up, Vec3, dot, scale};

/// The reading at `p` from a beam at height `level`; `sign` is +1 with the beam above the point.
#[must_use]
pub fn predict(p: Vec3, up: Up, level: f64, sign: f64) -> Prediction {
    Prediction {
        value: sign * (level - dot(up.u, p)),
        by_a: scale(up.u, -sign),
        by_tilt: [-sign * dot(up.by_roll, p), -sign * dot(up.by_pitch, p)],
        by_level: sign,
        ..Prediction::default()
    }
}
