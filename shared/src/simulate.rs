//! A simulated car: true places, tilt and beams, and what an ideal hand would read on them.
//!
//! Millimetres and radians. Noise is the caller's: this file refuses to know randomness, so the
//! demo, the practice bay and the tests of the engine can all be repeated exactly.

pub mod large;
pub mod practice;

use indexmap::IndexMap;

use crate::geometry::{Normal, Up, Vec3};
use crate::ids::{PointId, SetupId};
use crate::job::{Beam, OffsetSide, Plumb, Taken};
use crate::measure::{datum_span, height, offset, span, split};

/// The truth behind one stage.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Truth {
    /// True place of each point in car axes.
    pub places: IndexMap<PointId, Vec3>,
    /// Roll of the car on its stands, radians.
    pub roll: f64,
    /// Pitch, radians.
    pub pitch: f64,
    /// True beams of each set-up.
    pub beams: IndexMap<SetupId, Beams>,
}

/// The true beams of one set-up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beams {
    /// Height of the level beam over the car's origin.
    pub level_mm: f64,
    /// How the plumb beam runs.
    pub plumb: Plumb,
    /// Turn of the plumb beam, radians.
    pub yaw: f64,
    /// Offset of the plumb beam from the car's origin.
    pub offset_mm: f64,
}

impl Truth {
    fn up(&self) -> Up {
        Up::tilted(self.roll, self.pitch)
    }

    fn normal(&self, beams: &Beams) -> Normal {
        let axis = match beams.plumb {
            Plumb::Lengthwise => [0.0, 1.0, 0.0],
            Plumb::Crosswise => [1.0, 0.0, 0.0],
        };
        Normal::turned(axis, self.up(), beams.yaw)
    }

    /// Height of a point, the beam on the side where it really is; `error_mm` is the hand's.
    #[must_use]
    pub fn height(&self, setup: &SetupId, point: &PointId, error_mm: f64) -> Option<Taken> {
        let beams = self.beams.get(setup)?;
        let value = height::predict(*self.places.get(point)?, self.up(), beams.level_mm, 1.0).value;
        Some(Taken::Height {
            setup: setup.clone(),
            point: point.clone(),
            beam: if value >= 0.0 {
                Beam::Above
            } else {
                Beam::Below
            },
            value_mm: to_half(value.abs() + error_mm),
        })
    }

    /// Offset of a point from the plumb beam.
    #[must_use]
    pub fn offset(&self, setup: &SetupId, point: &PointId, error_mm: f64) -> Option<Taken> {
        let beams = self.beams.get(setup)?;
        let value = offset::predict(
            *self.places.get(point)?,
            self.normal(beams),
            beams.offset_mm,
            1.0,
        )
        .value;
        let side = match (beams.plumb, value >= 0.0) {
            (Plumb::Lengthwise, true) => OffsetSide::Right,
            (Plumb::Lengthwise, false) => OffsetSide::Left,
            (Plumb::Crosswise, true) => OffsetSide::Rear,
            (Plumb::Crosswise, false) => OffsetSide::Front,
        };
        Some(Taken::Offset {
            setup: setup.clone(),
            point: point.clone(),
            side,
            value_mm: to_half(value.abs() + error_mm),
        })
    }

    /// Crossing of the plumb beam on a tape from one point to another.
    #[must_use]
    pub fn split(
        &self,
        setup: &SetupId,
        from: &PointId,
        to: &PointId,
        error_mm: f64,
    ) -> Option<Taken> {
        let beams = self.beams.get(setup)?;
        let (a, b) = (*self.places.get(from)?, *self.places.get(to)?);
        let value = split::predict(a, b, self.normal(beams), beams.offset_mm)?.value;
        Some(Taken::Split {
            setup: setup.clone(),
            from: from.clone(),
            to: to.clone(),
            value_mm: to_half(value + error_mm),
        })
    }

    /// Distance of two points.
    #[must_use]
    pub fn span(&self, from: &PointId, to: &PointId, error_mm: f64) -> Option<Taken> {
        let value = span::predict(*self.places.get(from)?, *self.places.get(to)?)?.value;
        Some(Taken::Span {
            from: from.clone(),
            to: to.clone(),
            value_mm: to_half(value + error_mm),
        })
    }

    /// Distance of two points seen from above.
    #[must_use]
    pub fn datum_span(&self, from: &PointId, to: &PointId, error_mm: f64) -> Option<Taken> {
        let value = datum_span::predict(*self.places.get(from)?, *self.places.get(to)?)?.value;
        Some(Taken::DatumSpan {
            from: from.clone(),
            to: to.clone(),
            value_mm: to_half(value + error_mm),
        })
    }
}

/// A tape is read to half a millimetre.
fn to_half(value_mm: f64) -> f64 {
    (value_mm * 2.0).round() / 2.0
}
