//! A page of a shop's log, as a server answers it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::leaf::Leaf;

/// Entries of a log, newest first, and the log's head at that moment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct LogPage {
    /// The entries.
    pub entries: Vec<Leaf>,
    /// Ask for entries below this number for the next page; `None` on the last page.
    pub below: Option<u64>,
    /// The signed head (C2SP tlog-checkpoint).
    pub head: String,
    /// The log's key (C2SP signed-note): `NAME+HEX+BASE64`.
    pub key: String,
}
