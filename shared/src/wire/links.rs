//! Links for adjusters: one job, read only.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Make a link to one job.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MakeLink {
    /// For whom, in words.
    #[schemars(length(min = 1, max = 200))]
    pub label: String,
    /// Days until it runs out, 1 to 365.
    #[schemars(range(min = 1, max = 365))]
    pub days: u32,
}

/// A link for an adjuster, shown once.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct AdjusterLink {
    /// Id of the link, to take it back.
    pub id: String,
    /// Path with the secret in the fragment, to be put behind the server's address.
    pub link: String,
    /// RFC 3339.
    pub expires_at: String,
}

/// One link as it is listed; the secret is not kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct LinkLine {
    /// Id of the link.
    pub id: String,
    /// The job's document.
    pub book: String,
    /// For whom, in words.
    pub label: String,
    /// Name of whoever made it.
    pub made_by: String,
    /// RFC 3339.
    pub made_at: String,
    /// RFC 3339.
    pub expires_at: String,
    /// RFC 3339; `None` while it is good.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub revoked_at: Option<String>,
    /// RFC 3339; `None` when nobody has opened it yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last_used_at: Option<String>,
}

/// Follow a job with a link.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FollowWith {
    /// Token of the link.
    pub token: String,
}

/// What a link opens.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Follow {
    /// The job's document.
    pub book: String,
    /// Name of the shop.
    pub shop_name: String,
    /// RFC 3339 time at which the link runs out.
    pub expires_at: String,
    /// For the routes of an adjuster, sent as `Authorization: Bearer …`.
    pub access_token: String,
    /// Seconds until the access token expires; the link brings a new one.
    pub expires_in_s: u64,
    /// For one WebSocket, `GET /sync?ticket=…`, that reads this job.
    pub ticket: String,
    /// Seconds until the ticket expires.
    pub ticket_expires_in_s: u64,
}
