//! Points, directions and rigid motion in the car's frame.
//!
//! ```text
//!            z up
//!            |   x rearward
//!            |  /
//!   left ----+------- y to the vehicle's right
//!           /
//!      front of the car
//! ```
//!
//! Axes as in ISO 4130 and SAE J1100 practice, right-handed; lengths in millimetres, angles in
//! radians. This module refuses to know what a point belongs to.

/// Coordinates or a direction, [x, y, z].
pub type Vec3 = [f64; 3];

/// a · b.
#[must_use]
pub fn dot(a: Vec3, b: Vec3) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// a − b.
#[must_use]
pub fn sub(a: Vec3, b: Vec3) -> Vec3 {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

/// a + b.
#[must_use]
pub fn add(a: Vec3, b: Vec3) -> Vec3 {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

/// factor · a.
#[must_use]
pub fn scale(a: Vec3, factor: f64) -> Vec3 {
    [a[0] * factor, a[1] * factor, a[2] * factor]
}

/// a × b.
#[must_use]
pub fn cross(a: Vec3, b: Vec3) -> Vec3 {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

/// ‖a‖.
#[must_use]
pub fn norm(a: Vec3) -> f64 {
    dot(a, a).sqrt()
}

/// Gravity's up in car axes, with its derivatives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Up {
    /// u = (−sin π, sin ρ cos π, cos ρ cos π) for roll ρ and pitch π.
    pub u: Vec3,
    /// ∂u/∂ρ.
    pub by_roll: Vec3,
    /// ∂u/∂π.
    pub by_pitch: Vec3,
}

impl Up {
    /// Up for a car rolled by `roll` and pitched by `pitch`.
    #[must_use]
    pub fn tilted(roll: f64, pitch: f64) -> Self {
        let ((sr, cr), (sp, cp)) = (roll.sin_cos(), pitch.sin_cos());
        Self {
            u: [-sp, sr * cp, cr * cp],
            by_roll: [0.0, cr * cp, -sr * cp],
            by_pitch: [-cp, -sr * sp, -cr * sp],
        }
    }
}

/// Normal of a plumb beam's plane, with its derivatives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Normal {
    /// Level unit vector across the beam.
    pub n: Vec3,
    /// ∂n/∂yaw.
    pub by_yaw: Vec3,
    /// ∂n/∂ρ.
    pub by_roll: Vec3,
    /// ∂n/∂π.
    pub by_pitch: Vec3,
}

impl Normal {
    /// The level part of `axis`, turned by `yaw` about `up` (right-handed).
    #[must_use]
    pub fn turned(axis: Vec3, up: Up, yaw: f64) -> Self {
        let (sin, cos) = yaw.sin_cos();
        let level = level_part(axis, up.u);
        let side = cross(up.u, level.0);
        let along = |du: Vec3| {
            let d_level = level_part_derivative(axis, up.u, level, du);
            let d_side = add(cross(du, level.0), cross(up.u, d_level));
            add(scale(d_level, cos), scale(d_side, sin))
        };
        Self {
            n: add(scale(level.0, cos), scale(side, sin)),
            by_yaw: add(scale(level.0, -sin), scale(side, cos)),
            by_roll: along(up.by_roll),
            by_pitch: along(up.by_pitch),
        }
    }
}

/// Unit vector of the part of `axis` that is level, and the length of that part.
fn level_part(axis: Vec3, up: Vec3) -> (Vec3, f64) {
    let flat = sub(axis, scale(up, dot(axis, up)));
    let length = norm(flat).max(1e-9);
    (scale(flat, 1.0 / length), length)
}

fn level_part_derivative(axis: Vec3, up: Vec3, level: (Vec3, f64), d_up: Vec3) -> Vec3 {
    let d_flat = scale(
        add(scale(up, dot(axis, d_up)), scale(d_up, dot(axis, up))),
        -1.0,
    );
    let across = sub(d_flat, scale(level.0, dot(level.0, d_flat)));
    scale(across, 1.0 / level.1)
}

/// Rotation matrix (rows) for a rotation vector (axis times angle), by Rodrigues' formula.
#[must_use]
pub fn rotation(w: Vec3) -> [Vec3; 3] {
    let angle = norm(w);
    let (a, b) = if angle < 1e-6 {
        (1.0 - angle * angle / 6.0, 0.5 - angle * angle / 24.0)
    } else {
        (angle.sin() / angle, (1.0 - angle.cos()) / (angle * angle))
    };
    let column = |e: Vec3| {
        let once = cross(w, e);
        add(add(e, scale(once, a)), scale(cross(w, once), b))
    };
    let c = [
        column([1.0, 0.0, 0.0]),
        column([0.0, 1.0, 0.0]),
        column([0.0, 0.0, 1.0]),
    ];
    [0, 1, 2].map(|row| [c[0][row], c[1][row], c[2][row]])
}

/// R · p.
#[must_use]
pub fn turn(r: &[Vec3; 3], p: Vec3) -> Vec3 {
    [dot(r[0], p), dot(r[1], p), dot(r[2], p)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn a_quarter_turn_about_z_takes_x_to_y() {
        let r = rotation([0.0, 0.0, std::f64::consts::FRAC_PI_2]);
        let y = turn(&r, [1.0, 0.0, 0.0]);
        assert_abs_diff_eq!(y[..], [0.0, 1.0, 0.0][..], epsilon = 1e-15);
    }

    #[test]
    fn a_plumb_normal_is_level_and_of_length_one() {
        let up = Up::tilted(0.02, -0.03);
        let normal = Normal::turned([0.0, 1.0, 0.0], up, 0.05);
        assert_abs_diff_eq!(dot(normal.n, up.u), 0.0, epsilon = 1e-15);
        assert_abs_diff_eq!(norm(normal.n), 1.0, epsilon = 1e-15);
    }
}
