//! A book as a job file, and a job file as a new book.
//!
//! The job file holds the car as its readings stand: card, rule, points, members, sheet, tools,
//! set-ups, stages and readings, with what was set aside and corrected. Who edited what and when,
//! conflicts, notes, photos, pulls and sign-offs stay in the document. This file refuses to know
//! where files are kept.

use automerge::{ActorId, Automerge};

use super::{EditError, Stamp, import, read};
use crate::finding::Finding;
use crate::jobfile::{self, Refusal};

/// Why a book cannot be written as a job file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the book holds more than a job file may: {0}")]
pub struct TooMuch(pub Refusal);

/// Why a job file cannot become a book.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// Everything that is wrong with the file.
    #[error("{}", lines(.0))]
    File(Vec<Refusal>),
    /// The document refused it.
    #[error(transparent)]
    Edit(#[from] EditError),
}

fn lines(refusals: &[Refusal]) -> String {
    let lines: Vec<String> = refusals.iter().map(Refusal::to_string).collect();
    lines.join("\n")
}

/// Writes the car of a book as a job file, with what was found when the book was read: what is a
/// finding is not in the file as it stands in the document.
///
/// The text is walked over before it is handed out, so that an export that could not be imported is
/// noticed now. What is within the limits can be imported: reading a book leaves out what breaks a rule
/// of a job, and tests read exports of all kinds of books again.
///
/// # Errors
/// [`TooMuch`] when the book is beyond the limits of a job file.
pub fn export(doc: &Automerge) -> Result<(String, Vec<Finding>), TooMuch> {
    let (job, findings) = read(doc);
    let text = jobfile::write(&job);
    match jobfile::bounded(&text) {
        Ok(_) => Ok((text, findings)),
        Err(refusal) => Err(TooMuch(refusal)),
    }
}

/// Makes a new book of a job file, as one change by `actor` after the first.
///
/// # Errors
/// [`ImportError::File`] with everything that is wrong with the file.
pub fn import_file(bytes: &[u8], actor: ActorId, stamp: &Stamp) -> Result<Automerge, ImportError> {
    let job = jobfile::parse_bytes(bytes).map_err(ImportError::File)?;
    Ok(import(&job, actor, stamp)?)
}
