//! One thing that cannot be in a job: where, what, and what would be right.

use std::fmt;

use crate::finding::FindingCode;
use crate::ids::{MemberId, PointId, ReadingId, SetupId, StageId};

use crate::plain::clip;
use crate::tools::MOST_SLOPE_MM_PER_M;

use super::{MAX_LENGTH_MM, MAX_PER_METRE_MM, MAX_SPREAD_MM};

/// One thing that cannot be.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// Where, from the record it is in.
    pub at: Vec<Step>,
    /// What it is.
    pub what: What,
}

impl Fault {
    pub(crate) fn new(at: impl Into<Vec<Step>>, what: What) -> Self {
        Self {
            at: at.into(),
            what,
        }
    }

    pub(crate) fn field(name: &'static str, what: What) -> Self {
        Self::new([Step::Field(name)], what)
    }

    /// The name of the outermost field.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self.at.first() {
            Some(Step::Field(name)) => name,
            _ => "",
        }
    }
}

/// One step of the way to a value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Step {
    /// A field of a record.
    Field(&'static str),
    /// A key of a map.
    Key(String),
    /// A place in a list.
    Index(usize),
}

/// What cannot be; its text says what would be right.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum What {
    /// Something is named that is not there.
    #[error("there is no {thing} \"{id}\" in {home}")]
    Missing {
        /// What kind of thing.
        thing: &'static str,
        /// Its name.
        id: String,
        /// Where it should stand.
        home: &'static str,
    },
    /// A length that is not finite or out of bounds.
    #[error(
        "{} is no length here; write millimetres between -{MAX_LENGTH_MM} and {MAX_LENGTH_MM}",
        Shown(*.0)
    )]
    NotALength(f64),
    /// A spread that is not above 0 or above its limit.
    #[error("{} is no spread; write millimetres above 0, at most {}", Shown(*.0), .1)]
    NotASpread(f64, f64),
    /// A tool's fixed part that is negative or too large.
    #[error("{} is no spread of a tool; write millimetres, 0 to {MAX_SPREAD_MM}", Shown(*.0))]
    NotAToolSpread(f64),
    /// A tool's part per metre that is negative or too large.
    #[error(
        "{} is no spread per metre; write millimetres per metre, 0 to {MAX_PER_METRE_MM}",
        Shown(*.0)
    )]
    NotPerMetre(f64),
    /// A slope of a laser's beam that no laser has.
    #[error(
        "{} is no slope of a laser's beam; write millimetres per metre, -{MOST_SLOPE_MM_PER_M} to {MOST_SLOPE_MM_PER_M}",
        Shown(*.0)
    )]
    NotASlope(f64),
    /// A level of probability that is none.
    #[error("{} is no level; write a probability from 0.5 to below 1, as 0.95", Shown(*.0))]
    NotALevel(f64),
    /// A direction that is none.
    #[error("{} is no direction; write degrees between -360 and 360", Shown(*.0))]
    NotADirection(f64),
    /// A digest that is none.
    #[error("\"{}\" is no digest; write 64 digits 0 to 9 and a to f, or leave it out", clip(.0, 70))]
    NotADigest(String),
    /// A mirror that does not name the point back.
    #[error("\"{mirror}\" does not name \"{id}\" as its mirror; a pair names each other")]
    OneSided {
        /// The point.
        id: PointId,
        /// What it names.
        mirror: PointId,
    },
    /// A pair that is not one left and one right.
    #[error("\"{0}\" and \"{1}\" must be one left and one right")]
    SameSide(PointId, PointId),
    /// A member that carries itself.
    #[error("a member cannot carry itself")]
    CarriesItself,
    /// Members that carry each other in a circle, from one to itself.
    #[error("a circle: {}; leave one of these out, the passenger cell is carried by nothing", arrows(.0))]
    Circle(Vec<MemberId>),
    /// A tape from a point to itself.
    #[error("a tape needs two different points")]
    SamePoint,
    /// A distance that is not above 0.
    #[error("{} is no {kind}: the distance of two points is above 0", Shown(*.value_mm))]
    NoDistance {
        /// Kind of reading.
        kind: &'static str,
        /// The distance, the origin taken off.
        value_mm: f64,
    },
    /// A scale or tape that reads less than nothing.
    #[error("{} cannot be read off a scale or tape; write 0 or more{remedy}", Shown(*.value_mm))]
    Negative {
        /// The number.
        value_mm: f64,
        /// What else would be right.
        remedy: &'static str,
    },
    /// Less than the place where the tape was held.
    #[error(
        "{} is less than origin_mm, {}: nothing is left of the reading",
        Shown(*.value_mm),
        Shown(*.origin_mm)
    )]
    BelowOrigin {
        /// The number.
        value_mm: f64,
        /// Where the tape was held.
        origin_mm: f64,
    },
    /// A device has no tape that could be held somewhere.
    #[error("a fix has no origin_mm; leave it out")]
    OriginOfAFix,
    /// An offset or split from a set-up without a plumb beam.
    #[error("\"{0}\" has no plumb beam; give it \"plumb\": \"lengthwise\" or \"crosswise\"")]
    NoPlumbBeam(SetupId),
    /// An offset to a side that the beam does not have.
    #[error("the plumb beam of \"{setup}\" runs so that a point is {right} of it")]
    WrongSide {
        /// The set-up.
        setup: SetupId,
        /// What would be right.
        right: &'static str,
    },
    /// A time that is none.
    #[error(
        "\"{}\" is no time; write it as 2026-03-02T09:14:00Z or 2026-03-02T10:14:00+01:00 (RFC 3339), or leave it out",
        clip(.0, MAX_QUOTED)
    )]
    NotAMoment(String),
    /// A file of a photo that is empty or too large.
    #[error("{0} is no size of a photo's file here; 1 byte to 8 MiB are right")]
    NotAFileSize(u64),
    /// A side of a photo that is none.
    #[error(
        "{0} pixels is no side of a photo here; up to 16384, and 24 million pixels in all, are right"
    )]
    NotASide(u32),
    /// A caption that is too long.
    #[error("a caption has at most 500 characters")]
    CaptionTooLong,
    /// Set aside without a reason.
    #[error("a reading is set aside with a reason; say why")]
    NoReason,
    /// A correction of a reading that is not there.
    #[error("there is no reading \"{0}\"")]
    ReplacesNothing(ReadingId),
    /// A correction of itself or of a later reading.
    #[error("\"{0}\" must stand before the reading that replaces it")]
    ReplacesLater(ReadingId),
    /// A correction of a reading of another stage.
    #[error(
        "\"{id}\" belongs to the stage \"{stage}\"; a correction belongs to the same stage: set \"{id}\" aside with a reason instead"
    )]
    ReplacesOtherStage {
        /// The reading.
        id: ReadingId,
        /// Its stage.
        stage: StageId,
    },
    /// A correction of a reading of another kind.
    #[error(
        "\"{id}\" is read as {kind}; a correction is of the same kind: set \"{id}\" aside with a reason instead"
    )]
    ReplacesOtherKind {
        /// The reading.
        id: ReadingId,
        /// Its kind.
        kind: String,
    },
}

impl What {
    /// The finding that it is in a document.
    #[must_use]
    pub fn code(&self) -> FindingCode {
        match self {
            Self::Missing { .. } | Self::ReplacesNothing(_) => FindingCode::Dangling,
            Self::OneSided { .. } | Self::SameSide(..) => FindingCode::NotAPair,
            Self::CarriesItself | Self::Circle(_) => FindingCode::Circular,
            Self::NotAMoment(_) | Self::NoReason => FindingCode::Unreadable,
            Self::SamePoint
            | Self::OriginOfAFix
            | Self::NoPlumbBeam(_)
            | Self::WrongSide { .. }
            | Self::ReplacesLater(_)
            | Self::ReplacesOtherStage { .. }
            | Self::ReplacesOtherKind { .. } => FindingCode::Mismatch,
            Self::NotALength(_)
            | Self::NotASpread(..)
            | Self::NotAToolSpread(_)
            | Self::NotPerMetre(_)
            | Self::NotASlope(_)
            | Self::NotALevel(_)
            | Self::NotADirection(_)
            | Self::NotADigest(_)
            | Self::NotAFileSize(_)
            | Self::NotASide(_)
            | Self::CaptionTooLong
            | Self::NoDistance { .. }
            | Self::Negative { .. }
            | Self::BelowOrigin { .. } => FindingCode::OutOfBounds,
        }
    }

    /// The broken value, for a finding; empty when there is none to show.
    #[must_use]
    pub fn value(&self) -> String {
        match self {
            Self::Missing { id, .. } => id.clone(),
            Self::ReplacesNothing(id) | Self::ReplacesLater(id) => id.to_string(),
            Self::ReplacesOtherStage { id, .. } | Self::ReplacesOtherKind { id, .. } => {
                id.to_string()
            }
            Self::OneSided { mirror, .. } => mirror.to_string(),
            Self::SameSide(_, other) => other.to_string(),
            Self::Circle(members) => arrows(members),
            Self::NoPlumbBeam(setup) | Self::WrongSide { setup, .. } => setup.to_string(),
            Self::NotAMoment(text) | Self::NotADigest(text) => clip(text, MAX_QUOTED).into_owned(),
            Self::NotALength(value)
            | Self::NotASpread(value, _)
            | Self::NotAToolSpread(value)
            | Self::NotPerMetre(value)
            | Self::NotASlope(value)
            | Self::NotALevel(value)
            | Self::NotADirection(value)
            | Self::NoDistance {
                value_mm: value, ..
            }
            | Self::Negative {
                value_mm: value, ..
            }
            | Self::BelowOrigin {
                value_mm: value, ..
            } => Shown(*value).to_string(),
            Self::NotAFileSize(bytes) => bytes.to_string(),
            Self::NotASide(pixels) => pixels.to_string(),
            Self::CarriesItself
            | Self::SamePoint
            | Self::OriginOfAFix
            | Self::CaptionTooLong
            | Self::NoReason => String::new(),
        }
    }
}

/// A number that fits a line, however large it is.
struct Shown(f64);

impl fmt::Display for Shown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let plain = self.0 == 0.0 || !self.0.is_finite() || (1e-4..1e9).contains(&self.0.abs());
        if plain {
            write!(f, "{}", self.0)
        } else {
            write!(f, "{:e}", self.0)
        }
    }
}

/// Longest text that is quoted.
const MAX_QUOTED: usize = 60;
/// Most members of a circle that are named.
const MAX_NAMED: usize = 12;

/// `"a" → "b" → "a"`.
fn arrows(members: &[MemberId]) -> String {
    let mut names: Vec<String> = members.iter().map(|id| format!("\"{id}\"")).collect();
    if names.len() > MAX_NAMED {
        names.splice(MAX_NAMED - 2..names.len() - 1, ["…".to_owned()]);
    }
    names.join(" → ")
}
