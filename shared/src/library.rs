//! The dimension library: sheets of nominal dimensions, their revisions, and learning one from the
//! shop's own measurements.
//!
//! Millimetres in the car's own frame: x rearward, y to the vehicle's right, z up. A [`Sheet`] is one
//! revision, never changed; a job holds a pinned copy of it. This module refuses to know where sheets
//! are kept and who may change them.

mod sheet;
mod rules;
mod content;
mod file;
mod pattern;
mod find;
mod begin;
mod compare;
mod effect;
mod table;
mod dense;
mod pool;
mod align;
mod learn;
mod history;
mod line;

pub use begin::starting;
pub use compare::{Comparison, Moved, compare};
pub use content::{Pinned, digest, pinned};
pub use effect::{Effect, Found, Subject, effect};
pub use file::{FORMAT, file_schema, parse, parse_bytes, write};
pub use find::{Hit, find};
pub use history::{Between, History, Quantity, Sample, Series, Visit, history};
pub use learn::{
    FEWEST_CARS, Gap, Learned, LearnedPoint, Learning, Note, Odd, SIGNIFICANT, Source, learn, sound,
};
pub use line::{SheetLine, Summary};
pub use pattern::{Pattern, PatternError, model_year};
pub use rules::check;
pub use sheet::{Body, Member, Origin, OriginKind, Point, Sheet, Years};
pub use table::{read_table, write_table};

/// Most points of a sheet.
pub const MAX_POINTS: usize = crate::jobfile::MAX_POINTS;
/// Most members of a sheet.
pub const MAX_MEMBERS: usize = crate::jobfile::MAX_ENTRIES;
/// Longest text of a sheet, characters.
pub const MAX_TEXT: usize = 200;
/// Longest file, bytes: a sheet of [`MAX_POINTS`] is about a quarter of it.
pub const MAX_BYTES: usize = 4 * 1024 * 1024;

#[cfg(test)]
mod tests;
