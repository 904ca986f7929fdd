//! What a person can do to a book, one variant per intention.
//!
//! An intention is plain data: it can be kept while offline, replayed under a new actor after a
//! refusal, and shown as a sentence. This module refuses to know how a document stores it.

use serde::{Deserialize, Serialize};

use super::photo::Photo;
use crate::ids::{MemberId, PhotoId, PointId, ReadingId, SetupId, StageId, ToolId};
use crate::job::{
    Card, Job, Load, Member, Plumb, Point, Reading, Settings, Setup, Sheet, Stage, StageKind, Tool,
};

/// One intention of one person.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "fields carry the names and types of `job`")]
pub enum Intention {
    /// Fill in or correct the card.
    DescribeJob { card: Card },
    /// Set tolerance, conformity and build spread.
    SetRule { settings: Settings },
    /// Add a point (or a whole one of a pair; mirrors are set with [`Intention::PairPoints`] or on both).
    AddPoint { id: PointId, point: Point },
    /// Rename a point.
    RenamePoint { id: PointId, label: String },
    /// Move a point's rough place.
    PlacePoint {
        id: PointId,
        place_mm: [f64; 3],
        place_sigma_mm: Option<f64>,
    },
    /// Trust a point, or stop trusting it.
    TrustPoint { id: PointId, trusted: bool },
    /// Make two points mirrors of each other.
    PairPoints { left: PointId, right: PointId },
    /// Say which member carries a point.
    CarryPoint {
        id: PointId,
        member: Option<MemberId>,
    },
    /// Add or correct a member.
    AddMember { id: MemberId, member: Member },
    /// Add or correct a tool.
    AddTool { id: ToolId, tool: Tool },
    /// Add a set-up.
    AddSetup { id: SetupId, setup: Setup },
    /// Name or complete a set-up: only what is said here changes. How its plumb beam runs stays, once
    /// somebody has read from it.
    DescribeSetup { id: SetupId, says: Vec<SetupPart> },
    /// Begin a stage.
    BeginStage { stage: Stage },
    /// Rename or correct a stage: only what is said here changes.
    DescribeStage { id: StageId, says: Vec<StagePart> },
    /// Record a reading. A correction names the one it `replaces`.
    RecordReading { reading: Reading },
    /// Leave a reading out of the solution, with a reason.
    SetReadingAside { reading: ReadingId, why: String },
    /// Let a reading that was set aside count again.
    BringReadingBack { reading: ReadingId, why: String },
    /// Write a note about the job.
    WriteNote { id: String, text: String },
    /// Add a photo, whose file is kept elsewhere under its digest.
    AddPhoto { photo: Photo },
    /// Hide a photo from gallery and report, with a reason; its record stays.
    StrikePhoto { photo: PhotoId, why: String },
    /// Pin a sheet, or judge by symmetry alone.
    PinSheet { sheet: Option<Sheet> },
    /// Fill a book without readings from a whole job: a job file that was imported.
    TakeOverJob { job: Box<Job> },
    /// Of a field that two people set differently, keep the value that is shown like this.
    /// `subject` is the path of the finding, `value` one of its values.
    ChooseValue { subject: String, value: String },
}

/// One thing said of a set-up that is there already.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SetupPart {
    /// What the position is called.
    Label(String),
    /// How the plumb beam runs, if there is one.
    Plumb(Option<Plumb>),
    /// Which laser it is.
    Tool(Option<ToolId>),
    /// Where the laser stands [x, y], millimetres.
    Stands(Option<[f64; 2]>),
}

/// One thing said of a stage that is there already.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StagePart {
    /// What the stage is called.
    Label(String),
    /// What kind of round it is, and for a pull whether the chain is tight.
    Kind(StageKind, Option<Load>),
}

/// Who means it, and when. The edge fills it in; the core never asks a clock.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stamp {
    /// The person, as shown to people.
    pub by: String,
    /// RFC 3339 text.
    pub at: String,
    /// Milliseconds since 1970, for the change's own time.
    pub at_ms: i64,
    /// A fresh identifier for records that need one (ULID).
    pub record: String,
}
