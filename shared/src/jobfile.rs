//! The open JSON form of one job (`baybook-job/1`): reading, writing, its schema, its errors.
//!
//! Lengths in millimetres. [`parse`] refuses what it does not know by name, names the place of every
//! error (`readings[12].value_mm`) and says what would be right; [`write`] loses nothing. A file is
//! read in steps, each with its own file: `decode` (bytes to text), `survey` (a walk that builds
//! nothing: shapes, repeated keys, amounts), `form` (keys and types), `check` (what holds together).
//! This module refuses to know where a file comes from.

mod form;
pub(crate) mod shape;
pub(crate) mod decode;
pub(crate) mod survey;
mod check;
pub(crate) mod place;

use std::fmt;

use crate::job::Job;
use crate::plain::{clip, plain};

/// `format` of a job file.
pub const FORMAT: &str = "baybook-job/1";
/// What a job file is, for its refusals.
const JOB_FILE: decode::Kind = decode::Kind {
    name: "job",
    begins: "{\"format\": \"baybook-job/1\"",
    max_bytes: MAX_BYTES,
};
/// Longest file, bytes: a job of [`MAX_READINGS`] is about a quarter of it.
pub const MAX_BYTES: usize = 64 * 1024 * 1024;
/// Most points in a file.
pub const MAX_POINTS: usize = 2_000;
/// Most members, tools and set-ups in a file, of each.
pub const MAX_ENTRIES: usize = 2_000;
/// Most stages in a file.
pub const MAX_STAGES: usize = 50;
/// Most readings in a file.
pub const MAX_READINGS: usize = 50_000;
/// Most that is said of one file.
pub const MAX_REFUSALS: usize = 50;
/// Longest text that is said of one thing, in characters: what stands in the file may be longer.
const MAX_SAYS: usize = 600;

/// One thing that is wrong with a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// Where: `readings[12].value_mm`, `points["tower-L"].mirror`; empty for the whole file.
    pub place: String,
    /// What is wrong, and what would be right.
    pub says: String,
}

impl fmt::Display for Refusal {
    /// One line; what steers a terminal is written out ([`crate::plain`]).
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.place.is_empty() {
            write!(f, "{}: ", plain(&self.place))?;
        }
        f.write_str(&plain(&self.says))
    }
}

impl Refusal {
    pub(crate) fn new(place: impl Into<String>, says: impl Into<String>) -> Self {
        Self {
            place: place.into(),
            says: clip(&says.into(), MAX_SAYS).into_owned(),
        }
    }

    pub(crate) fn whole(says: String) -> Self {
        Self::new("", says)
    }
}

/// Reads a job file from its bytes: UTF-8, with or without a byte order mark.
///
/// # Errors
/// As [`parse`], and when the bytes are no such text.
pub fn parse_bytes(bytes: &[u8]) -> Result<Job, Vec<Refusal>> {
    parse(decode::decode(bytes, &JOB_FILE).map_err(|refusal| vec![refusal])?)
}

/// Reads a job file.
///
/// # Errors
/// Everything that is wrong, at most [`MAX_REFUSALS`] of it: one refusal when the text is not of the
/// form, else all that does not hold together.
pub fn parse(text: &str) -> Result<Job, Vec<Refusal>> {
    let form = read(text).map_err(|refusal| vec![refusal])?;
    check::check(form)
}

fn read(text: &str) -> Result<form::JobForm, Refusal> {
    typed(bounded(text)?)
}

/// The text of a file that is neither too long nor holds too many of anything, everything of the right
/// shape. What [`write`] makes of a job that holds together can fail here and nowhere later.
///
/// # Errors
/// The first thing that is wrong.
pub fn bounded(text: &str) -> Result<&str, Refusal> {
    let text = decode::trim(text, &JOB_FILE)?;
    survey::survey(text, shape::JOB, "job")?;
    Ok(text)
}

/// Keys and types, with the place of what is wrong.
pub(crate) fn typed<T: serde::de::DeserializeOwned>(text: &str) -> Result<T, Refusal> {
    let mut deserializer = serde_json::Deserializer::from_str(text);
    serde_path_to_error::deserialize(&mut deserializer).map_err(|error| {
        let place = place::of_path(error.path());
        let says = error.into_inner().to_string();
        // The one type that serde names in its own words.
        Refusal::new(
            place,
            says.replace("expected u32", "expected a whole number from 0"),
        )
    })
}

/// Writes a job file, indented for people.
#[must_use]
pub fn write(job: &Job) -> String {
    let mut text = serde_json::to_string_pretty(&form::JobForm::of(job)).unwrap_or_default();
    text.push('\n');
    text
}

/// JSON Schema of a job file.
#[must_use]
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(form::JobForm).to_value()
}

/// JSON Schema of a result.
#[must_use]
pub fn result_schema() -> serde_json::Value {
    schemars::schema_for!(crate::result::JobResult).to_value()
}

#[cfg(test)]
mod tests;
