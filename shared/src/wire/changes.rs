//! What came into a book since it was signed off.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What came into a book since its last sign-off.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ChangesSince {
    /// The newest entries, the newest first.
    pub entries: Vec<BookEntry>,
    /// How many there are beside these.
    pub more: u64,
}

/// One entry: what somebody did at once.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct BookEntry {
    /// Name of whoever did it.
    pub by: String,
    /// When the server took it, RFC 3339.
    pub at: String,
    /// What was done.
    pub deeds: Vec<BookDeed>,
    /// How much more was done in the same entry.
    pub more: u64,
}

/// One thing that was done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct BookDeed {
    /// What kind of thing.
    pub kind: DeedKind,
    /// To what, in words; empty when the kind says it.
    pub about: String,
    /// What stood there before, in words; empty when nothing did.
    pub was: String,
    /// Why, as somebody wrote it; empty when nobody had to.
    pub why: String,
}

/// What can be done to a book, as it is told.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum DeedKind {
    ReadingRecorded,
    ReadingReplaced,
    ReadingSetAside,
    ReadingBroughtBack,
    PointAdded,
    PointRenamed,
    PointChanged,
    StageBegun,
    StageChanged,
    SetupAdded,
    SetupChanged,
    ToolAdded,
    ToolChanged,
    MemberChanged,
    NoteWritten,
    PhotoAdded,
    PhotoHidden,
    CardChanged,
    RuleChanged,
    SheetChanged,
    Other,
}

impl DeedKind {
    /// Every kind.
    pub const ALL: [Self; 21] = [
        Self::ReadingRecorded,
        Self::ReadingReplaced,
        Self::ReadingSetAside,
        Self::ReadingBroughtBack,
        Self::PointAdded,
        Self::PointRenamed,
        Self::PointChanged,
        Self::StageBegun,
        Self::StageChanged,
        Self::SetupAdded,
        Self::SetupChanged,
        Self::ToolAdded,
        Self::ToolChanged,
        Self::MemberChanged,
        Self::NoteWritten,
        Self::PhotoAdded,
        Self::PhotoHidden,
        Self::CardChanged,
        Self::RuleChanged,
        Self::SheetChanged,
        Self::Other,
    ];
}
