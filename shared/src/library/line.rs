//! Revisions as they are listed. What one says is a sheet file ([`super::parse`]).

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::sheet::{Body, OriginKind, Sheet};

/// One revision of a sheet, as it is listed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SheetLine {
    /// Id of the sheet; the same for all its revisions.
    pub id: String,
    /// Number of the revision, from 1.
    pub revision: u32,
    /// SHA-256 of what it says, as in the shop's log.
    pub digest: String,
    /// RFC 3339.
    pub made_at: String,
    /// The revision of this sheet that all shops of the server see; none when it is not published.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub published: Option<u32>,
    /// Name of the shop that published it, when it is another's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shared_by: Option<String>,
    /// What it is, in short.
    #[serde(flatten)]
    pub summary: Summary,
}

/// What a revision is, in short.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Summary {
    /// Name.
    pub name: String,
    /// Which bodies it is for.
    pub body: Body,
    /// Where the numbers come from.
    pub origin: OriginKind,
    /// Who entered them.
    pub by: String,
    /// How many points it has.
    pub points: usize,
    /// Cars that it was learned from, at the point that was seen on most; 0 when it was not learned.
    pub cars: u32,
}

impl Summary {
    /// Of a sheet.
    #[must_use]
    pub fn of(sheet: &Sheet) -> Self {
        Self {
            name: sheet.name.clone(),
            body: sheet.body.clone(),
            origin: sheet.origin.kind,
            by: sheet.origin.by.clone(),
            points: sheet.points.len(),
            cars: sheet
                .points
                .values()
                .map(|point| point.cars)
                .max()
                .unwrap_or(0),
        }
    }
}
