//! Tape hooked at A and stretched to B: where the plumb beam crosses it,
//! (d − n·A) / (n·t) with t = (B − A)/‖B − A‖; millimetres.

use super::{COINCIDENT_MM, Prediction};
use crate::geometry::{Normal, Vec3, add, dot, norm, scale, sub};

/// A tape this nearly parallel to the beam has no crossing worth a number (sine of the angle).
const PARALLEL: f64 = 1e-4;

/// The reading on a tape from `a` to `b` at a beam at `offset`, or `None` when the tape runs along
/// the beam or has no length.
#[must_use]
pub fn predict(a: Vec3, b: Vec3, normal: Normal, offset: f64) -> Option<Prediction> {
    let along = sub(b, a);
    let length = norm(along);
    if length < COINCIDENT_MM {
        return None;
    }
    let t = scale(along, 1.0 / length);
    let slope = dot(normal.n, t);
    if slope.abs() < PARALLEL {
        return None;
    }
    let value = (offset - dot(normal.n, a)) / slope;
    // d(slope)/dB = (n − t (n·t)) / length, and the opposite for A.
    let slope_by_b = scale(sub(normal.n, scale(t, slope)), 1.0 / length);
    let by_b = scale(slope_by_b, -value / slope);
    let by_a = sub(scale(normal.n, -1.0 / slope), by_b);
    let by_normal = scale(add(a, scale(t, value)), -1.0 / slope);
    Some(Prediction {
        value,
        by_a,
        by_b,
        by_tilt: [
            dot(normal.by_roll, by_normal),
            dot(normal.by_pitch, by_normal),
        ],
        by_plumb: [dot(normal.by_yaw, by_normal), 1.0 / slope],
        ..Prediction::default()
    })
}
