//! The file that leaves a shop: its whole log with everything that the entries name.
//!
//! JSON lines, each in canonical form: a header, the log's key, its signed head, the entries, the
//! changes that they accepted and the statements that they name, both in the order of the log.
//! [`verify`] needs nothing else, and names the first thing that does not hold. This module refuses
//! to know document engines: hashing a change and computing a result again are arguments.

mod fault;
mod form;
mod history;
mod verify;

use std::fmt;

use super::canonical::{self, CanonicalError};
use super::checkpoint::Checkpoint;
use super::note::NoteKey;
use super::{Digest, leaf, tree};
use crate::ids::{BookId, ShopId};

pub use fault::{Fault, FaultKind, Place};
pub use form::BundleFormat;
pub use history::Facts;
pub use verify::{Replay, Report, origin, verify};

use form::{Base64, Line};

/// First line of the entries; lines count from 1.
const FIRST_LEAF_LINE: usize = 4;

/// A shop's log and everything that it names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bundle {
    /// The shop.
    pub shop: ShopId,
    /// The log's key: `NAME+HEX+BASE64`.
    pub key: String,
    /// The log's signed head.
    pub checkpoint: String,
    /// Entries in order.
    pub leaves: Vec<LeafLine>,
    /// Accepted changes in the order of the log.
    pub changes: Vec<ChangeLine>,
    /// Signed statements in the order of the log.
    pub statements: Vec<StatementLine>,
}

/// One entry as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeafLine {
    /// Its text.
    pub text: String,
    /// Its hash in the tree.
    pub hash: Digest,
}

/// One accepted change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChangeLine {
    /// The job.
    pub job: BookId,
    /// The change's hash.
    pub hash: Digest,
    /// The change as it was sent.
    pub bytes: Vec<u8>,
}

/// One signed statement as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StatementLine {
    /// Its text.
    pub text: String,
    /// The digest of the text.
    pub digest: Digest,
}

/// How much a bundle holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counts {
    /// Entries of the log.
    pub leaves: u64,
    /// Accepted changes.
    pub changes: u64,
    /// Signed statements.
    pub statements: u64,
}

impl fmt::Display for Counts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} entries, {} changes, {} statements",
            self.leaves, self.changes, self.statements
        )
    }
}

impl Bundle {
    /// Puts together what a server keeps: the texts of entries and statements, and the changes, each
    /// in the order of the log.
    #[must_use]
    pub fn gather(
        shop: ShopId,
        key: &NoteKey,
        checkpoint: String,
        leaves: Vec<String>,
        changes: Vec<ChangeLine>,
        statements: Vec<String>,
    ) -> Self {
        let leaf_line = |text: String| LeafLine {
            hash: leaf::hash(text.as_bytes()),
            text,
        };
        let statement_line = |text: String| StatementLine {
            digest: Digest::of(text.as_bytes()),
            text,
        };
        Self {
            shop,
            key: key.to_string(),
            checkpoint,
            leaves: leaves.into_iter().map(leaf_line).collect(),
            changes,
            statements: statements.into_iter().map(statement_line).collect(),
        }
    }

    /// How much it holds.
    #[must_use]
    pub fn counts(&self) -> Counts {
        Counts {
            leaves: self.leaves.len() as u64,
            changes: self.changes.len() as u64,
            statements: self.statements.len() as u64,
        }
    }

    /// Writes the file.
    ///
    /// # Errors
    /// [`CanonicalError`] when a number is too large to be written.
    pub fn to_lines(&self) -> Result<String, CanonicalError> {
        let Counts {
            leaves,
            changes,
            statements,
        } = self.counts();
        let head = [
            Line::Header {
                format: BundleFormat::V1,
                shop: self.shop.clone(),
                leaves,
                changes,
                statements,
            },
            Line::Key {
                key: self.key.clone(),
            },
            Line::Checkpoint {
                note: self.checkpoint.clone(),
            },
        ];
        let leaves = self.leaves.iter().map(|leaf| Line::Leaf {
            text: leaf.text.clone(),
            hash: leaf.hash,
        });
        let changes = self.changes.iter().map(|change| Line::Change {
            job: change.job.clone(),
            hash: change.hash,
            bytes: Base64(change.bytes.clone()),
        });
        let statements = self.statements.iter().map(|statement| Line::Statement {
            text: statement.text.clone(),
            digest: statement.digest,
        });
        let mut text = String::new();
        for line in head
            .into_iter()
            .chain(leaves)
            .chain(changes)
            .chain(statements)
        {
            text.push_str(&canonical::write(&line)?);
            text.push('\n');
        }
        Ok(text)
    }

    /// Reads a file; [`verify`] says what it is worth.
    ///
    /// # Errors
    /// [`Fault`] with the first line that is not of the form or not in its place.
    pub fn parse(text: &str) -> Result<Self, Box<Fault>> {
        form::parse(text)
    }

    /// Line of an entry.
    fn leaf_line(&self, index: usize) -> usize {
        FIRST_LEAF_LINE + index
    }

    /// Line of a change.
    fn change_line(&self, index: usize) -> usize {
        FIRST_LEAF_LINE + self.leaves.len() + index
    }

    /// Line of a statement.
    fn statement_line(&self, index: usize) -> usize {
        FIRST_LEAF_LINE + self.leaves.len() + self.changes.len() + index
    }
}

/// Does the bundle's log begin with the log of an older checkpoint? The caller has opened the
/// checkpoint with the log's key.
///
/// # Errors
/// [`Fault`] when it is another log, shorter, or has another past.
pub fn extends(older: &Checkpoint, newer: &Bundle) -> Result<(), Box<Fault>> {
    let fault = |field: &str, expected: String, found: String| {
        Err(Fault::new(
            FaultKind::Past,
            Place::field(field),
            expected,
            found,
        ))
    };
    let name = newer.key.split('+').next().unwrap_or_default();
    if name != older.origin {
        return fault("origin", older.origin.clone(), name.to_owned());
    }
    let counted = newer.leaves.len() as u64;
    if counted < older.size {
        return fault(
            "size",
            format!("at least {} entries", older.size),
            format!("{counted} entries"),
        );
    }
    let mut frontier = tree::Frontier::default();
    for line in &newer.leaves {
        if frontier.size() == older.size {
            break;
        }
        frontier.push(&leaf::hash(line.text.as_bytes()));
    }
    match frontier.root() == older.root {
        true => Ok(()),
        false => fault(
            "root",
            format!("{} over the first {} entries", older.root, older.size),
            frontier.root().to_string(),
        ),
    }
}
