//! What is to be read: kind, point or points, and on which side of the beam.
//!
//! Lengths in millimetres. This file refuses to know which task comes next.

use indexmap::IndexMap;
use shared::ids::{PointId, SetupId, StageId};
use shared::job::{Beam, Job, OffsetSide, Plumb, Point, Reading, Side, Taken};
use shared::result::NextReading;

/// Kind of reading that has one number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Kind {
    /// Height to the level beam.
    #[default]
    Height,
    /// Offset to the plumb beam.
    Offset,
    /// Full width with the place where the beam crosses.
    Split,
    /// Point to point.
    Span,
    /// Tram bar parallel to the datum.
    DatumSpan,
}

impl Kind {
    /// Every kind, in the order of use.
    pub const ALL: [Self; 5] = [
        Self::Height,
        Self::Offset,
        Self::Split,
        Self::Span,
        Self::DatumSpan,
    ];

    /// The kind's name in the job file.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Height => "height",
            Self::Offset => "offset",
            Self::Split => "split",
            Self::Span => "span",
            Self::DatumSpan => "datum_span",
        }
    }

    /// The kind with a name of the job file; a fix has three numbers and is none of these.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }

    /// Does it take a second point?
    #[must_use]
    pub fn has_two_points(self) -> bool {
        matches!(self, Self::Split | Self::Span | Self::DatumSpan)
    }

    /// Is it read against a beam?
    #[must_use]
    pub fn needs_setup(self) -> bool {
        matches!(self, Self::Height | Self::Offset | Self::Split)
    }
}

/// Where the point is from the beam, whichever kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BeamSide {
    /// For a height.
    Beam(Beam),
    /// For an offset.
    Offset(OffsetSide),
}

impl BeamSide {
    /// Does the beam that has that side have this one too? One that runs the other way has not.
    #[must_use]
    pub fn is_at_beam_of(self, side: Self) -> bool {
        self == side || self == side.other()
    }

    /// The other choice of the switch.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::Beam(Beam::Above) => Self::Beam(Beam::Below),
            Self::Beam(Beam::Below) => Self::Beam(Beam::Above),
            Self::Offset(OffsetSide::Right) => Self::Offset(OffsetSide::Left),
            Self::Offset(OffsetSide::Left) => Self::Offset(OffsetSide::Right),
            Self::Offset(OffsetSide::Rear) => Self::Offset(OffsetSide::Front),
            Self::Offset(OffsetSide::Front) => Self::Offset(OffsetSide::Rear),
        }
    }
}

/// One number to be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Task {
    /// Kind of reading.
    pub kind: Kind,
    /// The point, or the hooked end.
    pub point: PointId,
    /// The other end.
    pub to: Option<PointId>,
}

impl Task {
    /// What a reading answers; `None` for a kind that this screen does not take.
    #[must_use]
    pub fn of(reading: &Reading) -> Option<Self> {
        let mut points = reading.taken.points().cloned();
        Some(Self {
            kind: Kind::named(reading.taken.kind())?,
            point: points.next()?,
            to: points.next(),
        })
    }

    /// What the engine says to read next as a task; `None` for a kind that this screen does not take.
    #[must_use]
    pub fn of_next(next: &NextReading) -> Option<Self> {
        let kind = Kind::named(&next.kind)?;
        (kind.has_two_points() == next.to.is_some()).then(|| Self {
            kind,
            point: next.point.clone(),
            to: next.to.clone(),
        })
    }

    /// Are these the same points, from whichever end, by the same kind?
    #[must_use]
    pub fn is_same(&self, other: &Self) -> bool {
        let ends = |task: &Self| (Some(task.point.clone()), task.to.clone());
        let (point, to) = ends(other);
        let is_turned = self.to.is_some() && ends(self) == (to, point);
        self.kind == other.kind && (ends(self) == ends(other) || is_turned)
    }

    /// Is this reading an answer to the task in this stage and set-up?
    #[must_use]
    pub fn is_answered_by(
        &self,
        reading: &Reading,
        stage: &StageId,
        setup: Option<&SetupId>,
    ) -> bool {
        if reading.stage != *stage || Kind::named(reading.taken.kind()) != Some(self.kind) {
            return false;
        }
        if self.kind.needs_setup() && setup_of(&reading.taken) != setup {
            return false;
        }
        let is_own = |point: &PointId| self.point == *point || self.to.as_ref() == Some(point);
        let count = 1 + usize::from(self.to.is_some());
        reading.taken.points().count() == count && reading.taken.points().all(is_own)
    }

    /// The task as taken; `None` when a second point or a set-up is missing.
    #[must_use]
    pub fn taken(&self, setup: Option<&SetupId>, side: BeamSide, value_mm: f64) -> Option<Taken> {
        let point = self.point.clone();
        Some(match (self.kind, side) {
            (Kind::Height, BeamSide::Beam(beam)) => Taken::Height {
                setup: setup?.clone(),
                point,
                beam,
                value_mm,
            },
            (Kind::Offset, BeamSide::Offset(side)) => Taken::Offset {
                setup: setup?.clone(),
                point,
                side,
                value_mm,
            },
            (Kind::Split, _) => Taken::Split {
                setup: setup?.clone(),
                from: point,
                to: self.to.clone()?,
                value_mm,
            },
            (Kind::Span, _) => Taken::Span {
                from: point,
                to: self.to.clone()?,
                value_mm,
            },
            (Kind::DatumSpan, _) => Taken::DatumSpan {
                from: point,
                to: self.to.clone()?,
                value_mm,
            },
            (Kind::Height | Kind::Offset, _) => return None,
        })
    }
}

/// The set-up of a beam reading.
#[must_use]
pub fn setup_of(taken: &Taken) -> Option<&SetupId> {
    match taken {
        Taken::Height { setup, .. } | Taken::Offset { setup, .. } | Taken::Split { setup, .. } => {
            Some(setup)
        }
        Taken::Span { .. } | Taken::DatumSpan { .. } | Taken::Fix { .. } => None,
    }
}

/// The number that was read; `None` for a fix, which has three.
#[must_use]
pub fn value_of(taken: &Taken) -> Option<f64> {
    match taken {
        Taken::Height { value_mm, .. }
        | Taken::Offset { value_mm, .. }
        | Taken::Split { value_mm, .. }
        | Taken::Span { value_mm, .. }
        | Taken::DatumSpan { value_mm, .. } => Some(*value_mm),
        Taken::Fix { .. } => None,
    }
}

/// The switch's likely position: as last used with this set-up for a height, by the point's own
/// side for a lengthwise beam, as last used for a crosswise one.
#[must_use]
pub fn likely_side(job: &Job, task: &Task, setup: Option<&SetupId>) -> BeamSide {
    let same_setup = || {
        job.readings
            .iter()
            .rev()
            .filter(|r| setup_of(&r.taken) == setup)
    };
    if task.kind != Kind::Offset {
        let last = same_setup().find_map(|reading| match reading.taken {
            Taken::Height { beam, .. } => Some(beam),
            _ => None,
        });
        return BeamSide::Beam(last.unwrap_or(Beam::Above));
    }
    let plumb = setup
        .and_then(|id| job.setups.get(id))
        .and_then(|setup| setup.plumb);
    let last = same_setup().find_map(|reading| match reading.taken {
        Taken::Offset { side, .. } => Some(side),
        _ => None,
    });
    let side = match plumb {
        Some(Plumb::Crosswise) => last.unwrap_or(OffsetSide::Rear),
        Some(Plumb::Lengthwise) | None => match side_of(&job.points, &task.point) {
            Side::Left => OffsetSide::Left,
            Side::Right => OffsetSide::Right,
            Side::Centre => last.unwrap_or(OffsetSide::Right),
        },
    };
    BeamSide::Offset(side)
}

fn side_of(points: &IndexMap<PointId, Point>, id: &PointId) -> Side {
    points.get(id).map_or(Side::Centre, |point| point.side)
}

/// The point's label, or its identifier where it has none.
#[must_use]
pub fn label<'a>(job: &'a Job, id: &'a PointId) -> &'a str {
    job.points
        .get(id)
        .map(|point| point.label.as_str())
        .filter(|label| !label.trim().is_empty())
        .unwrap_or(id.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_beam_has_its_own_two_sides_and_no_other_s() {
        let beams = [
            [Beam::Above, Beam::Below].map(BeamSide::Beam),
            [OffsetSide::Left, OffsetSide::Right].map(BeamSide::Offset),
            [OffsetSide::Front, OffsetSide::Rear].map(BeamSide::Offset),
        ];
        for (at, own) in beams.iter().enumerate() {
            for (of, sides) in beams.iter().enumerate() {
                for (one, other) in own.iter().flat_map(|one| sides.map(|other| (one, other))) {
                    assert_eq!(one.is_at_beam_of(other), at == of, "{one:?} {other:?}");
                }
            }
        }
    }

    #[test]
    fn a_span_from_the_other_end_is_the_same_task() {
        let id = |text| PointId::parse(text).unwrap();
        let task = |kind, point, to: Option<_>| Task {
            kind,
            point: id(point),
            to: to.map(id),
        };
        let there = task(Kind::Span, "a", Some("b"));
        assert!(there.is_same(&task(Kind::Span, "b", Some("a"))));
        assert!(!there.is_same(&task(Kind::Split, "b", Some("a"))));
        assert!(!there.is_same(&task(Kind::Span, "a", Some("c"))));
        let height = task(Kind::Height, "a", None);
        assert!(height.is_same(&height) && !height.is_same(&task(Kind::Height, "b", None)));
    }
}
