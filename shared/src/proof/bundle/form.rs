//! The lines of the file.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde::{Deserialize, Serialize};

use super::{Bundle, ChangeLine, Counts, Fault, FaultKind, LeafLine, Place, StatementLine};
use crate::ids::{BookId, ShopId};
use crate::proof::{Digest, canonical};

/// Version of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum BundleFormat {
    /// The first.
    #[serde(rename = "baybook-audit/1")]
    V1,
}

/// Bytes as base64.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub(super) struct Base64(pub Vec<u8>);

impl TryFrom<String> for Base64 {
    type Error = base64::DecodeError;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        STANDARD.decode(text).map(Self)
    }
}

impl From<Base64> for String {
    fn from(Base64(bytes): Base64) -> Self {
        STANDARD.encode(bytes)
    }
}

/// One line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "line", rename_all = "kebab-case")]
pub(super) enum Line {
    /// What the file holds.
    Header {
        format: BundleFormat,
        shop: ShopId,
        leaves: u64,
        changes: u64,
        statements: u64,
    },
    /// The log's key.
    Key { key: String },
    /// The log's signed head.
    Checkpoint { note: String },
    /// An entry.
    Leaf { text: String, hash: Digest },
    /// An accepted change.
    Change {
        job: BookId,
        hash: Digest,
        bytes: Base64,
    },
    /// A signed statement.
    Statement { text: String, digest: Digest },
}

/// The order of the lines.
const ORDER: [&str; 6] = ["header", "key", "checkpoint", "leaf", "change", "statement"];

impl Line {
    fn place(&self) -> usize {
        match self {
            Self::Header { .. } => 0,
            Self::Key { .. } => 1,
            Self::Checkpoint { .. } => 2,
            Self::Leaf { .. } => 3,
            Self::Change { .. } => 4,
            Self::Statement { .. } => 5,
        }
    }
}

fn fault(line: usize, expected: impl ToString, found: impl ToString) -> Box<Fault> {
    Fault::new(FaultKind::Line, Place::line(line, ""), expected, found)
}

/// Reads all lines.
pub(super) fn parse(text: &str) -> Result<Bundle, Box<Fault>> {
    let mut lines = text.split_inclusive('\n').zip(1..);
    let mut next = |allowed: std::ops::RangeInclusive<usize>| -> Result<Option<Line>, Box<Fault>> {
        let Some((line, number)) = lines.next() else {
            return Ok(None);
        };
        let expected = || format!("a line '{}'", ORDER[allowed.clone()].join("' or '"));
        let Some(body) = line.strip_suffix('\n') else {
            return Err(fault(number, "a whole line", "the end of the file"));
        };
        let line: Line =
            canonical::parse(body.as_bytes()).map_err(|error| fault(number, expected(), error))?;
        match allowed.contains(&line.place()) {
            true => Ok(Some(line)),
            false => Err(fault(
                number,
                expected(),
                format!("a line '{}'", ORDER[line.place()]),
            )),
        }
    };
    let ended = |line: usize| {
        fault(
            line,
            format!("a line '{}'", ORDER[line - 1]),
            "the end of the file",
        )
    };
    let Some(Line::Header {
        format: BundleFormat::V1,
        shop,
        leaves,
        changes,
        statements,
    }) = next(0..=0)?
    else {
        return Err(ended(1));
    };
    let Some(Line::Key { key }) = next(1..=1)? else {
        return Err(ended(2));
    };
    let Some(Line::Checkpoint { note }) = next(2..=2)? else {
        return Err(ended(3));
    };
    let mut bundle = Bundle {
        shop,
        key,
        checkpoint: note,
        leaves: Vec::new(),
        changes: Vec::new(),
        statements: Vec::new(),
    };
    let mut least = 3;
    while let Some(line) = next(least..=5)? {
        least = line.place();
        match line {
            Line::Leaf { text, hash } => bundle.leaves.push(LeafLine { text, hash }),
            Line::Change { job, hash, bytes } => bundle.changes.push(ChangeLine {
                job,
                hash,
                bytes: bytes.0,
            }),
            Line::Statement { text, digest } => {
                bundle.statements.push(StatementLine { text, digest });
            }
            Line::Header { .. } | Line::Key { .. } | Line::Checkpoint { .. } => {}
        }
    }
    let said = Counts {
        leaves,
        changes,
        statements,
    };
    match said == bundle.counts() {
        true => Ok(bundle),
        false => Err(Fault::new(
            FaultKind::Counts,
            Place::line(1, ""),
            bundle.counts(),
            said,
        )),
    }
}
