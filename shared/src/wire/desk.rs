//! What the owner's desk shows beside jobs and people: backups, tools due for a check.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How it stands with backups of the server.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct BackupState {
    /// The last one that was written and read again; none when this database knows of none.
    pub last: Option<LastBackup>,
}

/// A backup that was made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct LastBackup {
    /// RFC 3339.
    pub made_at: String,
    /// Size of the file, bytes.
    pub bytes: u64,
    /// Is it older than two days?
    pub is_old: bool,
}

/// A tool that is due for a check.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct DueTool {
    /// What it is called in the shop.
    pub tool: String,
    /// When it was last checked, RFC 3339; none when no check is written down.
    pub checked_at: Option<String>,
    /// The newest book in which it stands.
    pub book: String,
}
