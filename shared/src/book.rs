//! The book: everything about one car, one shared Automerge document.
//!
//! - [`start`] makes the first change, byte-identical on every device, so that two phones which
//!   begin the same book offline can merge.
//! - [`edit::apply`] turns one [`Intention`] of one person into one change.
//! - [`read`] gives the car as checked values, and what is worth saying about the document.
//! - [`import`] makes a book of a job; reading it again gives the same job. [`import_file`] makes
//!   one of a job file, and [`export`] writes one.
//!
//! Records are maps of plain scalars, keyed by identifier, in the shape of the types of `job`.
//! Readings, the records that set one aside, notes and photos are written once and never changed.
//! Foreign bytes pass the gate of the server before they come here; this module refuses to know
//! about networks and storage.

pub mod intention;
mod tree;
mod record;
mod start;
mod choose;
pub mod photo;
pub mod edit;
mod mend;
mod read;
pub mod keep;
mod file;
mod since;

pub use automerge::{ActorId, Automerge, ChangeHash};
pub use edit::EditError;
pub use file::{ImportError, TooMuch, export, import_file};
pub use intention::{Intention, SetupPart, StagePart, Stamp};
pub use photo::{Photo, photos};
pub use read::read;
pub use since::{Since, since};
pub use start::{SCHEMA, start};

use crate::job::Job;

/// The root maps of a book.
pub const ROOTS: [&str; 13] = [
    "job", "settings", "points", "members", "tools", "setups", "stages", "readings", "asides",
    "notes", "pulls", "photos", "signoffs",
];
/// Root maps whose records are written once.
pub const WRITTEN_ONCE: [&str; 5] = ["readings", "asides", "notes", "photos", "signoffs"];

/// Makes a book of a job, as one change by `actor` after the first.
///
/// # Errors
/// [`EditError`] when the job breaks a rule of the book.
pub fn import(job: &Job, actor: ActorId, stamp: &Stamp) -> Result<Automerge, EditError> {
    let mut doc = start().with_actor(actor);
    edit::import_job(&mut doc, stamp, job)?;
    Ok(doc)
}

#[cfg(test)]
mod tests;
