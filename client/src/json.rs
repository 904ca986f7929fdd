//! JSON that this phone kept or a server answered, read.

use serde::de::DeserializeOwned;
use serde_json::Value;

/// Reads it; `None` when it is something else.
///
/// By way of a plain value: the book is read from such values too, so the code for each of its parts
/// is in the first load once.
pub(crate) fn read<T: DeserializeOwned>(bytes: &[u8]) -> Option<T> {
    let value: Value = serde_json::from_slice(bytes).ok()?;
    serde_json::from_value(value).ok()
}
