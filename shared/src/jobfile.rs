//! The open JSON form of one job (`baybook-job/1`): reading, writing, its schema, its errors.
//!
//! Lengths in millimetres. [`parse`] refuses what it does not know by name, names the place of every
//! error (`readings[12].value_mm`) and says what would be right; [`write`] loses nothing. The form
//! itself stands in `form`; what is checked stands in `check`. This module refuses to know files.

mod form;
mod check;
mod place;

use std::fmt;

use crate::job::Job;

/// `format` of a job file.
pub const FORMAT: &str = "baybook-job/1";
/// Most points in a file.
pub const MAX_POINTS: usize = 2_000;
/// Most stages in a file.
pub const MAX_STAGES: usize = 50;
/// Most readings in a file.
pub const MAX_READINGS: usize = 50_000;
/// Most that is said of one file.
pub const MAX_REFUSALS: usize = 50;

/// One thing that is wrong with a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// Where: `readings[12].value_mm`, `points["tower-L"].mirror`; empty for the whole file.
    pub place: String,
    /// What is wrong, and what would be right.
    pub says: String,
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.place.is_empty() {
            return f.write_str(&self.says);
        }
        write!(f, "{}: {}", self.place, self.says)
    }
}

/// Reads a job file.
///
/// # Errors
/// Everything that is wrong, at most [`MAX_REFUSALS`] of it: one refusal when the text is not of the
/// form, else all that does not hold together.
pub fn parse(text: &str) -> Result<Job, Vec<Refusal>> {
    let mut deserializer = serde_json::Deserializer::from_str(text);
    let form: form::JobForm =
        serde_path_to_error::deserialize(&mut deserializer).map_err(|error| {
            let place = place::of_path(error.path());
            vec![Refusal {
                place,
                says: error.into_inner().to_string(),
            }]
        })?;
    deserializer.end().map_err(|error| {
        vec![Refusal {
            place: String::new(),
            says: format!("after the job: {error}"),
        }]
    })?;
    check::check(form)
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
