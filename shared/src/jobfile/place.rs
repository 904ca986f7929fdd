//! Where in a file: `readings[12].value_mm`, `points["tower-L"].mirror`.

use serde_path_to_error::{Path, Segment};

/// A key behind a place.
pub(super) fn key(place: &str, key: &str) -> String {
    let plain = !key.is_empty() && key.chars().all(|c| c.is_ascii_alphanumeric() || c == '_');
    match (place.is_empty(), plain) {
        (true, true) => key.to_owned(),
        (false, true) => format!("{place}.{key}"),
        (_, false) => format!("{place}[{}]", serde_json::Value::from(key)),
    }
}

/// An index behind a place.
pub(super) fn index(place: &str, index: usize) -> String {
    format!("{place}[{index}]")
}

pub(super) fn of_path(path: &Path) -> String {
    let mut place = String::new();
    for segment in path.iter() {
        place = match segment {
            Segment::Seq { index: i } => index(&place, *i),
            Segment::Map { key: name } => key(&place, name),
            Segment::Enum { variant } => key(&place, variant),
            Segment::Unknown => place,
        };
    }
    place
}
