//! Where in a file: `readings[12].value_mm`, `points["tower-L"].mirror`.

use serde_path_to_error::{Path, Segment};

use crate::job::rules::Step;
use crate::plain::clip;

/// Longest key that is shown; what is longer is no identifier anyway.
const MAX_KEY: usize = 80;

/// A key behind a place.
pub(crate) fn key(place: &str, key: &str) -> String {
    let plain = !key.is_empty() && key.chars().all(|c| c.is_ascii_alphanumeric() || c == '_');
    if plain && key.len() <= MAX_KEY {
        let dot = if place.is_empty() { "" } else { "." };
        return format!("{place}{dot}{key}");
    }
    format!("{place}[{}]", serde_json::Value::from(clip(key, MAX_KEY)))
}

/// An index behind a place.
pub(crate) fn index(place: &str, index: usize) -> String {
    format!("{place}[{index}]")
}

/// Steps from the whole file.
pub(crate) fn of_steps(steps: &[Step]) -> String {
    behind("", steps)
}

/// Steps behind a place.
pub(crate) fn behind(place: &str, steps: &[Step]) -> String {
    let mut place = place.to_owned();
    for step in steps {
        place = match step {
            // The file names the rough place of a point without its unit.
            Step::Field("place_mm") => key(&place, "place"),
            Step::Field(name) => key(&place, name),
            Step::Key(name) => key(&place, name),
            Step::Index(i) => index(&place, *i),
        };
    }
    place
}

pub(crate) fn of_path(path: &Path) -> String {
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
