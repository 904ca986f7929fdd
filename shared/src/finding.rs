//! What is worth saying about a document or a job: code, severity and subject, no prose.
//!
//! The words live where people read them. This file refuses to know languages.

use serde::{Deserialize, Serialize};

/// One thing worth saying.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finding {
    /// What it is.
    pub code: FindingCode,
    /// How much it matters.
    pub severity: Severity,
    /// What it is about, as a path: `points/tower-L/label`.
    pub subject: String,
    /// Values that belong to it: both values of a conflict, the broken value.
    pub values: Vec<String>,
}

/// What a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FindingCode {
    /// Two people set the same field differently; the values are all of them, the one in force first.
    Conflict,
    /// A record cannot be read; it stays in the document.
    Unreadable,
    /// A record names something that is not there.
    Dangling,
    /// A pair is not mutual or not on opposite sides.
    NotAPair,
    /// A number is not finite, out of bounds, or none that a scale or tape can give.
    OutOfBounds,
    /// Members carry each other in a circle; the values are the way round.
    Circular,
    /// A record does not fit what it names: a correction of another stage or kind, a side that the
    /// beam does not have.
    Mismatch,
    /// The key of a record differs from the identifier inside; the key counts, the value is the other.
    KeyDiffers,
    /// More than one reading corrects this one and all of them count; the values are those.
    CorrectedTwice,
    /// The document is of a newer kind than this program.
    NewerSchema,
    /// The document is no book.
    NotABook,
}

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Good to know.
    Note,
    /// Somebody should look.
    Ask,
    /// Something was left out.
    Left,
}
