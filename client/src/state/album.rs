//! The photos of a job as addresses that a page can show: from this phone, else from the server.

use std::collections::HashMap;
use std::sync::Arc;

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::book::Photo;
use shared::job::Job;

use super::book::Book;
use super::follow::Followed;
use super::session::Session;
use super::shelf::Shelf;
use crate::net::NetError;
use crate::platform::photo::{address_of, let_go};

/// Whose photos.
#[derive(Debug, Clone, Copy)]
#[expect(
    clippy::large_enum_variant,
    reason = "one for each page, made of signals that are handed on by value"
)]
pub enum Whose {
    /// A book of this browser.
    Book(Book, Shelf, Session),
    /// A job that an adjuster follows.
    Followed(Followed),
}

impl Whose {
    /// The records, hidden ones included.
    #[must_use]
    pub fn photos(self) -> Arc<Vec<Photo>> {
        match self {
            Self::Book(book, ..) => book.photos.get(),
            Self::Followed(followed) => followed.photos.get(),
        }
    }

    /// The car.
    #[must_use]
    pub fn job(self) -> Arc<Job> {
        match self {
            Self::Book(book, ..) => book.job.get(),
            Self::Followed(followed) => followed.job.get(),
        }
    }

    fn is_online(self) -> bool {
        match self {
            Self::Book(_, shelf, _) => shelf.online.get(),
            Self::Followed(followed) => followed.is_live(),
        }
    }

    /// The file of a photo: from here, else from the server.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn file(self, digest: &str) -> Result<Vec<u8>, NetError> {
        match self {
            Self::Book(book, shelf, session) => {
                let id = book.id.get_value();
                match shelf.photo_here(&id, digest).await {
                    Some(bytes) => Ok(bytes),
                    None => shelf.fetch_photo(&session.api(), &id, digest).await,
                }
            }
            Self::Followed(followed) => followed.photo(digest).await,
        }
    }
}

/// What of a photo can be shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Shown {
    /// Its address.
    At(String),
    /// It is neither here nor on the server, or there is no signal.
    Nowhere,
}

/// The photos of a page, filled in one after the other.
#[derive(Debug, Clone, Copy)]
pub struct Album {
    /// Whose.
    pub whose: Whose,
    /// By digest; nothing while it is looked for.
    pub shown: RwSignal<HashMap<String, Shown>>,
    is_busy: RwSignal<bool>,
}

impl Album {
    /// Fills itself for as long as the page is there, again when there is signal or something new.
    #[must_use]
    pub fn open(whose: Whose) -> Self {
        let album = Self {
            whose,
            shown: RwSignal::new(HashMap::new()),
            is_busy: RwSignal::new(false),
        };
        Effect::new(move || {
            let (photos, _online) = (whose.photos(), whose.is_online());
            if !album.is_busy.get() {
                spawn_local(album.fill(photos));
            }
        });
        on_cleanup(move || {
            let shown = album.shown.try_get_untracked().unwrap_or_default();
            for one in shown.values() {
                if let Shown::At(address) = one {
                    let_go(address);
                }
            }
        });
        album
    }

    async fn fill(self, photos: Arc<Vec<Photo>>) {
        let lacks = |digest: &String| {
            let known = self
                .shown
                .try_with_untracked(|shown| matches!(shown.get(digest), Some(Shown::At(_))));
            known == Some(false)
        };
        let wanted: Vec<&String> = photos
            .iter()
            .map(|photo| &photo.digest)
            .filter(|digest| lacks(digest))
            .collect();
        if wanted.is_empty() || self.is_busy.try_get_untracked() != Some(false) {
            return;
        }
        self.is_busy.set(true);
        let mut found_any = false;
        for digest in wanted {
            let found = self.whose.file(digest).await.ok();
            let now = found
                .and_then(|bytes| address_of(&bytes))
                .map_or(Shown::Nowhere, Shown::At);
            found_any |= now != Shown::Nowhere;
            let put = self.shown.try_update(|shown| {
                shown.insert(digest.clone(), now.clone());
            });
            if let (None, Shown::At(address)) = (put, now) {
                // The page is gone.
                let_go(&address);
                return;
            }
        }
        // What came in meanwhile is looked at again; what was nowhere waits for a change.
        let quiet = !found_any;
        let _ = match quiet {
            true => self.is_busy.try_update_untracked(|busy| *busy = false),
            false => self.is_busy.try_update(|busy| *busy = false),
        };
    }
}
