//! Where the car was hit, and which of two explanations that speaks for.
//!
//! Used only where the readings cannot decide, and the result says so. This file refuses to know
//! the readings.

use super::structure::Structure;
use crate::geometry::Vec3;

/// The blow, in the car's frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blow {
    /// −1 on the left, +1 on the right, 0 when the zone has no side.
    pub side: i8,
    /// Level direction the blow pushes to [x, y], of unit length.
    pub towards: [f64; 2],
}

impl Blow {
    /// From the side of the zone and the direction the blow came from, degrees: 0 from the rear, 90
    /// from the right, 180 from the front, 270 from the left.
    #[must_use]
    pub fn new(side: i8, from_deg: f64) -> Self {
        let (sin, cos) = from_deg.to_radians().sin_cos();
        Self {
            side,
            towards: [-cos, -sin],
        }
    }

    /// How well a member's movement goes with the blow: +1 or −1 for its side, and the share of its
    /// level movement along the blow (−1 to 1).
    #[must_use]
    pub fn speaks_for(&self, structure: &Structure, member: usize, moved: Vec3) -> f64 {
        let by_side = f64::from(self.side) * f64::from(structure.side(member));
        let level = moved[0].hypot(moved[1]);
        let along = if level > 0.0 {
            (moved[0] * self.towards[0] + moved[1] * self.towards[1]) / level
        } else {
            0.0
        };
        // A zone with a side says more than the direction of a push that reached the other side.
        2.0 * by_side + along
    }
}
