//! One way to write a value: JSON with sorted keys, no spaces and whole numbers only.
//!
//! The rules of RFC 8785 for what is signed and hashed here: names in the order of their UTF-16 code
//! units, the shortest escapes, and numbers within ±(2⁵³ − 1) without a point, which every JSON
//! reader takes alike. Fractions are refused: lengths are written in whole small units.

use std::collections::BTreeSet;

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};

/// Largest whole number (RFC 7493, section 2.2).
pub const MAX_WHOLE: i64 = (1 << 53) - 1;

/// Why a value or a text is not canonical.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CanonicalError {
    /// The value cannot be written as JSON.
    #[error("cannot be written: {0}")]
    NotJson(String),
    /// A number that is not whole, or too large, and where.
    #[error("{0}: only whole numbers within ±(2^53 − 1) can be written")]
    Number(String),
    /// The text is not of the form.
    #[error("not of the form: {0}")]
    Unreadable(String),
    /// The text says something readable in another way than the one; first byte that differs.
    #[error("not written in the canonical way from byte {0} on")]
    OtherWay(usize),
}

/// Writes a value in the one way.
///
/// # Errors
/// [`CanonicalError`] when it holds a fraction, or is no JSON at all.
pub fn write(value: &impl Serialize) -> Result<String, CanonicalError> {
    let value =
        serde_json::to_value(value).map_err(|error| CanonicalError::NotJson(error.to_string()))?;
    let mut text = String::new();
    put(&mut text, &value, "")?;
    Ok(text)
}

/// Reads a value that is written in the one way.
///
/// # Errors
/// [`CanonicalError`] when it is no such value, or written otherwise: fields that the reader does
/// not know, spaces, another order.
pub fn parse<T: DeserializeOwned + Serialize>(bytes: &[u8]) -> Result<T, CanonicalError> {
    // By way of a plain value, as books are read: the phone then carries one reader less.
    let value: T = serde_json::from_slice(bytes)
        .and_then(serde_json::from_value::<T>)
        .map_err(|error| CanonicalError::Unreadable(error.to_string()))?;
    let again = write(&value)?;
    if again.as_bytes() == bytes {
        return Ok(value);
    }
    let same = again
        .bytes()
        .zip(bytes)
        .take_while(|(a, b)| a == *b)
        .count();
    Err(CanonicalError::OtherWay(same))
}

/// Where two values say something different.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    /// Path of the field: `aside[0].why`.
    pub field: String,
    /// What the first value says, as JSON.
    pub expected: String,
    /// What the second value says.
    pub found: String,
}

/// The first place where two values differ, in the order in which they are written.
#[must_use]
pub fn first_difference(expected: &impl Serialize, found: &impl Serialize) -> Option<Difference> {
    let json = |value: serde_json::Result<Value>| value.unwrap_or(Value::Null);
    let expected = json(serde_json::to_value(expected));
    let found = json(serde_json::to_value(found));
    differ(&expected, &found, String::new())
}

fn differ(expected: &Value, found: &Value, field: String) -> Option<Difference> {
    match (expected, found) {
        (Value::Object(a), Value::Object(b)) => {
            let names: BTreeSet<&String> = a.keys().chain(b.keys()).collect();
            names.into_iter().find_map(|name| {
                let place = match field.is_empty() {
                    true => name.clone(),
                    false => format!("{field}.{name}"),
                };
                let of = |map: &Map<String, Value>| map.get(name).cloned().unwrap_or(Value::Null);
                differ(&of(a), &of(b), place)
            })
        }
        (Value::Array(a), Value::Array(b)) => (0..a.len().max(b.len())).find_map(|index| {
            let of = |list: &[Value]| list.get(index).cloned().unwrap_or(Value::Null);
            differ(&of(a), &of(b), format!("{field}[{index}]"))
        }),
        (a, b) => (a != b).then(|| Difference {
            field,
            expected: a.to_string(),
            found: b.to_string(),
        }),
    }
}

fn put(text: &mut String, value: &Value, place: &str) -> Result<(), CanonicalError> {
    match value {
        Value::Null => text.push_str("null"),
        Value::Bool(true) => text.push_str("true"),
        Value::Bool(false) => text.push_str("false"),
        Value::Number(number) => match number.as_i64() {
            Some(whole) if (-MAX_WHOLE..=MAX_WHOLE).contains(&whole) => {
                text.push_str(&whole.to_string())
            }
            _ => return Err(CanonicalError::Number(format!("{place} {number}"))),
        },
        // The escapes of serde_json are those of RFC 8785.
        Value::String(_) => text.push_str(&value.to_string()),
        Value::Array(items) => {
            text.push('[');
            for (index, item) in items.iter().enumerate() {
                if index > 0 {
                    text.push(',');
                }
                put(text, item, &format!("{place}[{index}]"))?;
            }
            text.push(']');
        }
        Value::Object(fields) => put_fields(text, fields, place)?,
    }
    Ok(())
}

fn put_fields(
    text: &mut String,
    fields: &Map<String, Value>,
    place: &str,
) -> Result<(), CanonicalError> {
    let mut names: Vec<&String> = fields.keys().collect();
    names.sort_by(|a, b| a.encode_utf16().cmp(b.encode_utf16()));
    text.push('{');
    for (index, name) in names.into_iter().enumerate() {
        if index > 0 {
            text.push(',');
        }
        text.push_str(&Value::from(name.as_str()).to_string());
        text.push(':');
        put(text, &fields[name], &format!("{place}.{name}"))?;
    }
    text.push('}');
    Ok(())
}
