//! Coordinates from a 3-D device in its own frame: R·P + t, R from a rotation vector; millimetres
//! and radians.

use crate::geometry::{Vec3, add, cross, dot, norm, rotation, scale, turn};

/// Predicted coordinates and their derivatives, one row per axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FixPrediction {
    /// Coordinates in the device's frame.
    pub value: Vec3,
    /// Row i: ∂value_i/∂P.
    pub by_point: [Vec3; 3],
    /// Row i: ∂value_i/∂w for the rotation vector w; the derivative by t is the identity.
    pub by_rotation: [Vec3; 3],
}

/// Where the device sees `p`, its frame turned by `w` and moved by `t`.
///
/// ∂(R·P)/∂w = −R [P]× Jr(w) with the right Jacobian of SO(3)
/// (Chirikjian, *Stochastic Models, Information Theory, and Lie Groups 2*, 2012, §10; from memory).
#[must_use]
pub fn predict(p: Vec3, w: Vec3, t: Vec3) -> FixPrediction {
    let r = rotation(w);
    let angle = norm(w);
    let (b, c) = if angle < 1e-4 {
        (
            0.5 - angle * angle / 24.0,
            1.0 / 6.0 - angle * angle / 120.0,
        )
    } else {
        (
            (1.0 - angle.cos()) / (angle * angle),
            (angle - angle.sin()) / angle.powi(3),
        )
    };
    let column = |e: Vec3| {
        // Jr·e, then −R (P × Jr·e).
        let once = cross(w, e);
        let jr = add(add(e, scale(once, -b)), scale(cross(w, once), c));
        turn(&r, scale(cross(p, jr), -1.0))
    };
    let columns = [
        column([1.0, 0.0, 0.0]),
        column([0.0, 1.0, 0.0]),
        column([0.0, 0.0, 1.0]),
    ];
    FixPrediction {
        value: add(turn(&r, p), t),
        by_point: r,
        by_rotation: [0, 1, 2].map(|i| [columns[0][i], columns[1][i], columns[2][i]]),
    }
}

/// The rotation vector and translation that best take `from` to `to` (equal lengths), by Horn's
/// quaternion method (B. K. P. Horn, J. Opt. Soc. Am. A 4, 1987, 629-642). Never a reflection.
#[must_use]
pub fn best_fit(from: &[Vec3], to: &[Vec3]) -> (Vec3, Vec3) {
    let count = from.len().min(to.len());
    if count == 0 {
        return ([0.0; 3], [0.0; 3]);
    }
    let middle = |points: &[Vec3]| {
        let sum = points[..count].iter().fold([0.0; 3], |sum, p| add(sum, *p));
        scale(sum, 1.0 / count as f64)
    };
    let (a, b) = (middle(from), middle(to));
    let mut s = [[0.0; 3]; 3];
    for (p, q) in from.iter().zip(to) {
        for i in 0..3 {
            for j in 0..3 {
                s[i][j] += (p[i] - a[i]) * (q[j] - b[j]);
            }
        }
    }
    let w = rotation_vector(largest_eigenvector([
        [
            s[0][0] + s[1][1] + s[2][2],
            s[1][2] - s[2][1],
            s[2][0] - s[0][2],
            s[0][1] - s[1][0],
        ],
        [
            s[1][2] - s[2][1],
            s[0][0] - s[1][1] - s[2][2],
            s[0][1] + s[1][0],
            s[2][0] + s[0][2],
        ],
        [
            s[2][0] - s[0][2],
            s[0][1] + s[1][0],
            s[1][1] - s[0][0] - s[2][2],
            s[1][2] + s[2][1],
        ],
        [
            s[0][1] - s[1][0],
            s[2][0] + s[0][2],
            s[1][2] + s[2][1],
            s[2][2] - s[0][0] - s[1][1],
        ],
    ]));
    let t = add(b, scale(turn(&rotation(w), a), -1.0));
    (w, t)
}

/// Rotation vector of a unit quaternion [w, x, y, z].
fn rotation_vector(q: [f64; 4]) -> Vec3 {
    let sign = if q[0] < 0.0 { -1.0 } else { 1.0 };
    let v = [sign * q[1], sign * q[2], sign * q[3]];
    let sine = norm(v);
    if sine < 1e-12 {
        return [0.0; 3];
    }
    scale(v, 2.0 * sine.atan2(sign * q[0]) / sine)
}

/// Eigenvector of the largest eigenvalue of a symmetric 4 × 4 matrix, by Jacobi rotations.
fn largest_eigenvector(mut m: [[f64; 4]; 4]) -> [f64; 4] {
    let mut v = [[0.0; 4]; 4];
    for (i, row) in v.iter_mut().enumerate() {
        row[i] = 1.0;
    }
    let scale = m
        .iter()
        .flatten()
        .fold(0.0_f64, |most, x| most.max(x.abs()));
    for _ in 0..60 {
        let (mut p, mut q) = (0, 1);
        for i in 0..4 {
            for j in i + 1..4 {
                if m[i][j].abs() > m[p][q].abs() {
                    (p, q) = (i, j);
                }
            }
        }
        if m[p][q].abs() <= 1e-15 * scale || !m[p][q].is_finite() {
            break;
        }
        let theta = 0.5 * (2.0 * m[p][q]).atan2(m[q][q] - m[p][p]);
        let (sin, cos) = theta.sin_cos();
        for row in &mut m {
            (row[p], row[q]) = (cos * row[p] - sin * row[q], sin * row[p] + cos * row[q]);
        }
        let (one, two) = (m[p], m[q]);
        m[p] = [0, 1, 2, 3].map(|k| cos * one[k] - sin * two[k]);
        m[q] = [0, 1, 2, 3].map(|k| sin * one[k] + cos * two[k]);
        for row in &mut v {
            (row[p], row[q]) = (cos * row[p] - sin * row[q], sin * row[p] + cos * row[q]);
        }
    }
    let best = (0..4).fold(0, |best, i| if m[i][i] > m[best][best] { i } else { best });
    let length = dot(
        [v[0][best], v[1][best], v[2][best]],
        [v[0][best], v[1][best], v[2][best]],
    ) + v[3][best].powi(2);
    let length = length.sqrt().max(1e-300);
    [0, 1, 2, 3].map(|i| v[i][best] / length)
}
