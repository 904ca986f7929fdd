//! A signed head of a log, in the open form of C2SP tlog-checkpoint.
//!
//! Three lines: the log's origin, its size, the base64 of its root; signed as a note under the
//! origin's own name. Extension lines are not written here, and a checkpoint that has some is none
//! of ours.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

use super::note::{Note, NoteError, NoteKey};
use super::tree::Head;
use super::{Digest, Seed};

/// A head of a log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checkpoint {
    /// Which log: a name without spaces and without '+'.
    pub origin: String,
    /// Number of entries.
    pub size: u64,
    /// Root over them.
    pub root: Digest,
}

/// Why a checkpoint is not accepted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CheckpointError {
    /// The note around it.
    #[error(transparent)]
    Note(#[from] NoteError),
    /// Its three lines.
    #[error("a checkpoint is three lines: origin, size, base64 of the root")]
    Form,
}

impl Checkpoint {
    /// The head of a log.
    #[must_use]
    pub fn of(origin: &str, head: Head) -> Self {
        Self {
            origin: origin.to_owned(),
            size: head.size,
            root: head.root,
        }
    }

    /// Size and root.
    #[must_use]
    pub fn head(&self) -> Head {
        Head {
            size: self.size,
            root: self.root,
        }
    }

    /// Signs it under the origin's name.
    ///
    /// # Errors
    /// [`NoteError`] when the origin is no name.
    pub fn sign(&self, seed: &Seed) -> Result<String, NoteError> {
        Note::sign(&self.text(), &self.origin, seed).map(|note| note.to_string())
    }

    /// Reads a checkpoint that this key has signed.
    ///
    /// # Errors
    /// [`CheckpointError`] when it is not of the form or not signed by the key.
    pub fn open(note: &str, key: &NoteKey) -> Result<Self, CheckpointError> {
        let note = Note::parse(note)?;
        let text = note.verify(key)?;
        let found = Self::parse(text).ok_or(CheckpointError::Form)?;
        match found.origin == key.name() {
            true => Ok(found),
            false => Err(CheckpointError::Form),
        }
    }

    fn text(&self) -> String {
        format!(
            "{}\n{}\n{}\n",
            self.origin,
            self.size,
            STANDARD.encode(self.root.0)
        )
    }

    fn parse(text: &str) -> Option<Self> {
        let mut lines = text.lines();
        let (origin, size, root) = (lines.next()?, lines.next()?, lines.next()?);
        let found = Self {
            origin: origin.to_owned(),
            size: size.parse().ok()?,
            root: Digest(STANDARD.decode(root).ok()?.try_into().ok()?),
        };
        // Written again it is the same text: no further lines, no sign, no leading zero.
        (found.text() == text).then_some(found)
    }
}
