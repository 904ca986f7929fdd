//! Roles, new passwords, devices, rules of the shop.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Role;

/// Give a member another role.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChangeRole {
    /// The new role.
    pub role: Role,
}

/// A link to choose a new password, shown once.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct ResetLink {
    /// Path with the secret in the fragment, to be put behind the server's address.
    pub link: String,
    /// RFC 3339.
    pub expires_at: String,
}

/// Choose a new password.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChooseReset {
    /// Token of the link.
    pub token: String,
    /// The new password, at least 10 characters.
    #[schemars(length(min = 10, max = 1024))]
    pub password: String,
}

/// One device of a person.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct DeviceLine {
    /// Device id.
    pub device: String,
    /// What the browser says it runs on, in a few words; empty when it does not.
    pub label: String,
    /// RFC 3339.
    pub first_seen: String,
    /// RFC 3339.
    pub last_seen: String,
    /// Does it have a key that signs?
    pub has_key: bool,
    /// RFC 3339 time of its revocation; a new sign-in on it takes it back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub revoked_at: Option<String>,
}

/// What an owner may ask of everybody.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ShopRules {
    /// Must a sign-off be countersigned by somebody else than its signer?
    pub two_people: bool,
}

/// Publish a revision of a sheet to all shops of the server.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PublishSheet {
    /// The revision.
    pub revision: u32,
}
