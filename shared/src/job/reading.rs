//! One reading as taken, and what was read.
//!
//! Lengths in millimetres. This file refuses to know what a reading implies.

use serde::{Deserialize, Serialize};

use crate::ids::{FrameId, PointId, ReadingId, SetupId, StageId, ToolId};

/// One reading as taken. Never edited or removed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Identifier, unique in the job.
    pub id: ReadingId,
    /// The stage it belongs to.
    pub stage: StageId,
    /// What was read.
    pub taken: Taken,
    /// Its own standard uncertainty in millimetres; wins over the tool's.
    pub sigma_mm: Option<f64>,
    /// The tool it was read with.
    pub tool: Option<ToolId>,
    /// Where the tape's zero was held (100 for 'read from the 100 mm mark'); subtracted.
    pub origin_mm: f64,
    /// Who read it.
    pub by: String,
    /// When, RFC 3339 text.
    pub at: String,
    /// The text as entered, before conversion.
    pub entered: String,
    /// A word of the technician's.
    pub note: String,
    /// Left out of the solution by a person, with a reason.
    pub set_aside: Option<SetAside>,
    /// The earlier reading that this one corrects.
    pub replaces: Option<ReadingId>,
}

/// Why a reading was left out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SetAside {
    /// The reason.
    pub why: String,
    /// Who decided.
    pub by: String,
}

/// What was read, by kind. `value_mm` is the number as taken; [`Reading::origin_mm`] is not yet
/// subtracted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Taken {
    /// Height between the level beam and a point, scale held plumb.
    Height {
        /// Set-up whose level beam was used.
        setup: SetupId,
        /// The point.
        point: PointId,
        /// Is the beam above or below the point?
        beam: Beam,
        /// Value, millimetres.
        value_mm: f64,
    },
    /// Level distance from the plumb beam to a point.
    Offset {
        /// Set-up whose plumb beam was used.
        setup: SetupId,
        /// The point.
        point: PointId,
        /// On which side of the beam the point is.
        side: OffsetSide,
        /// Value, millimetres.
        value_mm: f64,
    },
    /// Tape hooked at `from`, stretched to `to`: where the plumb beam crosses it.
    Split {
        /// Set-up whose plumb beam was used.
        setup: SetupId,
        /// Where the tape is hooked.
        from: PointId,
        /// Where it is stretched to.
        to: PointId,
        /// Value, millimetres.
        value_mm: f64,
    },
    /// Point to point with tape or tram bar; diagonals too.
    Span {
        /// One end.
        from: PointId,
        /// Other end.
        to: PointId,
        /// Value, millimetres.
        value_mm: f64,
    },
    /// Tram bar held parallel to the datum.
    DatumSpan {
        /// One end.
        from: PointId,
        /// Other end.
        to: PointId,
        /// Value, millimetres.
        value_mm: f64,
    },
    /// Coordinates from a 3-D device in its own frame.
    Fix {
        /// The device's frame; it stays put within a stage.
        frame: FrameId,
        /// The point.
        point: PointId,
        /// Coordinates, millimetres.
        xyz_mm: [f64; 3],
    },
}

impl Taken {
    /// The kind's name in the job file.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Height { .. } => "height",
            Self::Offset { .. } => "offset",
            Self::Split { .. } => "split",
            Self::Span { .. } => "span",
            Self::DatumSpan { .. } => "datum_span",
            Self::Fix { .. } => "fix",
        }
    }

    /// The set-up whose beam it was read to, if one was.
    #[must_use]
    pub fn setup(&self) -> Option<&SetupId> {
        match self {
            Self::Height { setup, .. } | Self::Offset { setup, .. } | Self::Split { setup, .. } => {
                Some(setup)
            }
            Self::Span { .. } | Self::DatumSpan { .. } | Self::Fix { .. } => None,
        }
    }

    /// The points it touches, one or two.
    pub fn points(&self) -> impl Iterator<Item = &PointId> {
        let (first, second) = match self {
            Self::Height { point, .. } | Self::Offset { point, .. } | Self::Fix { point, .. } => {
                (point, None)
            }
            Self::Split { from, to, .. }
            | Self::Span { from, to, .. }
            | Self::DatumSpan { from, to, .. } => (from, Some(to)),
        };
        std::iter::once(first).chain(second)
    }
}

/// Where the level beam is, seen from the point.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Beam {
    /// The beam is above the point.
    Above,
    /// The beam is below the point.
    Below,
}

/// Where the point is, seen from the plumb beam.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum OffsetSide {
    /// Right of a lengthwise beam.
    Right,
    /// Left of a lengthwise beam.
    Left,
    /// Behind a crosswise beam.
    Rear,
    /// In front of a crosswise beam.
    Front,
}
