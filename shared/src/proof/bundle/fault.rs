//! What does not hold, and where.

use std::fmt;

use crate::ids::BookId;

/// The first thing that does not hold.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct Fault {
    /// What kind of thing.
    pub kind: FaultKind,
    /// Where.
    pub place: Place,
    /// What would be right.
    pub expected: String,
    /// What is there.
    pub found: String,
}

impl Fault {
    /// Faults are large and rare, so they travel in a box.
    pub(super) fn new(
        kind: FaultKind,
        place: Place,
        expected: impl ToString,
        found: impl ToString,
    ) -> Box<Self> {
        Box::new(Self {
            kind,
            place,
            expected: expected.to_string(),
            found: found.to_string(),
        })
    }
}

/// What kind of thing does not hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FaultKind {
    /// A line is not of the form.
    Line,
    /// The header's counts are not those of the lines.
    Counts,
    /// The log's key.
    Key,
    /// The log's signed head.
    Checkpoint,
    /// An entry is not of the form, or not what its hash says.
    Leaf,
    /// Entries that cannot follow each other.
    Order,
    /// People, devices and roles that cannot be as an entry says.
    Roster,
    /// The entries are not those of the signed head.
    Root,
    /// A change is not what its hash says, or not where the log has it.
    Change,
    /// A book's heads after a batch.
    Heads,
    /// A statement is not of the form, or not where the log has it.
    Statement,
    /// A statement's signature, or the right of its signer.
    Signature,
    /// A statement says something that does not follow from the book.
    Claims,
    /// The log does not begin as an older head of it says.
    Past,
}

impl FaultKind {
    /// In plain words.
    fn says(self) -> &'static str {
        match self {
            Self::Line => "a line is not of the form",
            Self::Counts => "the header does not count what is there",
            Self::Key => "the log's key is not sound",
            Self::Checkpoint => "the signed head is not sound",
            Self::Leaf => "an entry is not sound",
            Self::Order => "an entry cannot stand where it stands",
            Self::Roster => "an entry does not fit the people of the shop",
            Self::Root => "the entries are not those of the signed head",
            Self::Change => "a change is not the one that the log has",
            Self::Heads => "the heads of a book are not those that the log has",
            Self::Statement => "a statement is not the one that the log has",
            Self::Signature => "a signature is not sound",
            Self::Claims => "a statement does not follow from the book",
            Self::Past => "the log does not go on from the older head",
        }
    }
}

/// Where something is.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Place {
    /// Line of the file, from 1.
    pub line: Option<usize>,
    /// Entry of the log, from 0.
    pub leaf: Option<u64>,
    /// The job.
    pub job: Option<BookId>,
    /// Path of the field; empty for the whole.
    pub field: String,
}

impl Place {
    /// A field of nothing in particular.
    pub(super) fn field(field: &str) -> Self {
        Self {
            field: field.to_owned(),
            ..Self::default()
        }
    }

    /// A field of a line.
    pub(super) fn line(line: usize, field: &str) -> Self {
        Self {
            line: Some(line),
            ..Self::field(field)
        }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut parts = Vec::new();
        if let Some(line) = self.line {
            parts.push(format!("line {line}"));
        }
        if let Some(leaf) = self.leaf {
            parts.push(format!("entry {leaf}"));
        }
        if let Some(job) = &self.job {
            parts.push(format!("job {job}"));
        }
        if !self.field.is_empty() {
            parts.push(self.field.clone());
        }
        f.write_str(&parts.join(", "))
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}: {}: expected {}, found {}",
            self.place,
            self.kind.says(),
            self.expected,
            self.found
        )
    }
}
