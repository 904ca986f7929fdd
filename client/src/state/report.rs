//! The report of a job from what is on this device, and its PDF from the server.
//!
//! What is printed or saved here needs no server; the PDF is made there, of what is shared.

use std::collections::HashMap;
use std::sync::Arc;

use leptos::prelude::*;
use report::{Input, Lack, Paper, Report, album, compose, state_code};
use shared::book::{Photo, Since, photos};
use shared::figures::Figures;
use shared::finding::Finding;
use shared::job::Job;
use shared::proof::Digest;
use shared::proof::statement::SignOff;
use shared::result::JobResult;
use shared::solve::solve;

use super::album::Whose;
use super::book::Book;
use super::follow::Followed;
use super::session::Session;
use super::shelf::Shelf;
use super::signing::sign_offs;
use crate::net::NetError;
use crate::platform;

/// Whose report.
#[derive(Debug, Clone, Copy)]
#[expect(
    clippy::large_enum_variant,
    reason = "one for each page, made of signals that are handed on by value"
)]
pub enum Source {
    /// A book of this browser, with the texts of its statements as far as they are here.
    Book {
        /// The book.
        book: Book,
        /// Where it is kept.
        shelf: Shelf,
        /// Who is signed in.
        session: Session,
        /// The statements; `None` while they are on the server only.
        texts: RwSignal<Option<Vec<String>>>,
    },
    /// A job that an adjuster follows.
    Followed(Followed),
}

/// A job as it is here, with everything that a report says of it.
#[derive(Debug, Clone)]
pub struct Content {
    /// The car.
    pub job: Job,
    /// What its readings say.
    pub result: JobResult,
    findings: Vec<Finding>,
    signed: Option<Vec<(SignOff, Option<Since>)>>,
    shop: String,
    state: String,
    photos: Vec<Photo>,
    /// Files of photos that are here, by their digests.
    files: HashMap<String, Arc<Vec<u8>>>,
}

impl Content {
    /// The report for a person.
    #[must_use]
    pub fn report(&self, figures: Figures, paper: Paper) -> Report {
        let file = |digest: &str| self.files.get(digest).cloned().ok_or(Lack::Absent);
        let photos = album(&self.job, figures, &self.photos, file);
        compose(&Input {
            job: &self.job,
            result: &self.result,
            findings: &self.findings,
            signed: self.signed.as_deref(),
            photos: &photos,
            shop: &self.shop,
            state: &self.state,
            made_at: &platform::now_text(),
            figures,
            paper,
        })
    }
}

impl Source {
    /// Sign-offs, as far as they are here; follows them.
    #[must_use]
    pub fn signed(self) -> Option<Vec<SignOff>> {
        match self {
            Self::Book { texts, .. } => texts.get().map(|texts| sign_offs(&texts)),
            Self::Followed(followed) => Some(followed.signed.get()),
        }
    }

    /// The car, as far as it is here.
    #[must_use]
    pub fn job(self) -> Arc<Job> {
        match self {
            Self::Book { book, .. } => book.job.get(),
            Self::Followed(followed) => followed.job.get(),
        }
    }

    /// The job's number as a file may be called everywhere.
    #[must_use]
    pub fn number(self) -> String {
        let number = untrack(|| self.job().card.number.clone());
        let is_plain = |c: &char| c.is_ascii_alphanumeric() || *c == '-';
        number.chars().filter(is_plain).take(40).collect()
    }

    /// Changes that the server does not have.
    #[must_use]
    pub fn unshared(self) -> usize {
        match self {
            Self::Book { book, .. } => book.badge.get().unshared,
            Self::Followed(_) => 0,
        }
    }

    /// Is there signal?
    #[must_use]
    pub fn is_online(self) -> bool {
        match self {
            Self::Book { book, .. } => book.badge.get().online,
            Self::Followed(followed) => followed.is_live(),
        }
    }

    /// The job as it is here, computed from nothing; `None` when it is not here.
    #[must_use]
    pub fn content(self) -> Option<Content> {
        let (job, findings, heads, shop, (photos, broken)) = match self {
            Self::Book {
                book,
                shelf,
                session,
                ..
            } => {
                let read = shelf.with_book(&book.id.get_value(), |held| {
                    let (job, findings) = shared::book::read(&held.doc);
                    let heads = held.doc.get_heads().iter().map(|h| Digest(h.0)).collect();
                    (job, findings, heads, photos(&held.doc))
                });
                let (job, findings, heads, photos): (_, _, Vec<Digest>, _) = read?;
                let me = session.me.get_untracked();
                let shop = me.map(|me| me.shop_name).unwrap_or_default();
                (job, findings, heads, shop, photos)
            }
            Self::Followed(followed) => {
                followed.result.read_untracked().as_ref()?;
                let job = followed.job.get_untracked().as_ref().clone();
                let findings = followed.findings.get_untracked().as_ref().clone();
                let opened = followed.opened.get_untracked();
                let shop = opened.map(|(shop, _)| shop).unwrap_or_default();
                let photos = followed.photos.get_untracked().as_ref().clone();
                (job, findings, followed.heads(), shop, (photos, Vec::new()))
            }
        };
        let findings = [findings, broken].concat();
        let since = |heads: &[Digest]| match self {
            Self::Book { book, .. } => untrack(|| book.since(heads)),
            Self::Followed(followed) => untrack(|| followed.since(heads)),
        };
        let signed = untrack(|| self.signed()).map(|signed| {
            let with = |one: SignOff| {
                let since = since(&one.signed.statement().heads);
                (one, since)
            };
            signed.into_iter().map(with).collect()
        });
        Some(Content {
            result: solve(&job),
            job,
            findings,
            signed,
            shop,
            state: state_code(&heads),
            photos,
            files: HashMap::new(),
        })
    }

    /// Brings in the files of photos, as far as they can be had.
    pub async fn gather(self, content: &mut Content) {
        let whose = match self {
            Self::Book {
                book,
                shelf,
                session,
                ..
            } => Whose::Book(book, shelf, session),
            Self::Followed(followed) => Whose::Followed(followed),
        };
        for photo in content.photos.iter().filter(|photo| photo.struck.is_none()) {
            if let Ok(bytes) = whose.file(&photo.digest).await {
                content.files.insert(photo.digest.clone(), Arc::new(bytes));
            }
        }
    }

    /// The PDF from the server.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn pdf(self, figures: Figures, paper: Paper) -> Result<Vec<u8>, NetError> {
        let unit = figures.unit.code();
        let wish = format!(
            "language={}&paper={}&unit={unit}",
            figures.language.code(),
            paper.name().to_ascii_lowercase()
        );
        match self {
            Self::Book { book, session, .. } => {
                let path = format!("/api/jobs/{}/report?{wish}", book.id.get_value());
                session.api().file(&path).await
            }
            Self::Followed(followed) => followed.file(&format!("/api/follow/report?{wish}")).await,
        }
    }
}
