//! The report of one job: what it says, once, and how it is written down.
//!
//! [`compose`] makes a [`Report`] of a job, its result, sign-offs and photos, in a person's language
//! and unit; `pdf::write` makes PDF/A-2b of it, [`html::page`] a page to print. Both show the same
//! [`Report`] and compute nothing, so they cannot say different things. [`table::readings`] and
//! [`table::results`] are the numbers for other programs (RFC 4180).
//!
//! Lengths in millimetres until [`shared::figures::Figures`] writes them. Everything is an argument:
//! this crate refuses to know files, networks, clocks and who may see what.

pub mod model;
mod words;
mod album;
mod say;
mod compose;
mod shapes;
pub mod html;
pub mod table;
#[cfg(feature = "pdf")]
pub mod pdf;

pub use album::{album, place};
pub use compose::compose;
pub use model::{Paper, Report};

use std::sync::Arc;

use shared::book::Since;
use shared::figures::Figures;
use shared::finding::Finding;
use shared::job::Job;
use shared::proof::statement::SignOff;
use shared::result::JobResult;

/// Everything that a report is made from.
#[derive(Debug, Clone, Copy)]
pub struct Input<'a> {
    /// The car.
    pub job: &'a Job,
    /// What its readings say: `shared::solve::solve` of this job.
    pub result: &'a JobResult,
    /// What is worth saying about the book.
    pub findings: &'a [Finding],
    /// Sign-offs, the newest first, and what came into the book since each (`None` when the book does
    /// not have what was signed); `None` when the sign-offs are elsewhere and cannot be asked for.
    pub signed: Option<&'a [(SignOff, Option<Since>)]>,
    /// Photos of the job, upright, in the order they are shown.
    pub photos: &'a [Photo],
    /// Name of the shop.
    pub shop: &'a str,
    /// Code of the book's state: the same code, the same content; empty when there is no book.
    pub state: &'a str,
    /// When the report is made, RFC 3339 text.
    pub made_at: &'a str,
    /// Language and unit.
    pub figures: Figures,
    /// Size of the paper.
    pub paper: Paper,
}

/// A photo with its caption.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Photo {
    /// The file: JPEG or PNG.
    pub bytes: Arc<Vec<u8>>,
    /// SHA-256 by which the book knows it, hexadecimal.
    pub digest: String,
    /// What it shows.
    pub caption: String,
    /// Who took it; empty when nobody wrote it down.
    pub by: String,
    /// When, RFC 3339 text; empty when nobody wrote it down.
    pub at: String,
    /// Why its file is not here, if it is not.
    pub lacks: Option<Lack>,
    /// Why it is hidden and by whom, if it is.
    pub hidden: Option<[String; 2]>,
}

/// Why the file of a photo is not with a report.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lack {
    /// It has not arrived where the report is made.
    Absent,
    /// It is more than a report takes.
    Large,
}

/// The code of a book's state, from its heads in any order: like a sign-off's.
#[must_use]
pub fn state_code(heads: &[shared::proof::Digest]) -> String {
    let mut heads: Vec<[u8; 32]> = heads.iter().map(|head| head.0).collect();
    heads.sort_unstable();
    let pieces: Vec<&[u8]> = heads.iter().map(<[u8; 32]>::as_slice).collect();
    shared::proof::Digest::of_all(&pieces).code()
}
