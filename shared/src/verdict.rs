//! Deviation, spread and tolerance make a verdict; nobody else can make one.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What may be said about a quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Conforms with at least the asked probability.
    Within,
    /// Does not conform with at least the asked probability.
    Outside,
    /// The readings cannot tell yet.
    Unproven,
}
