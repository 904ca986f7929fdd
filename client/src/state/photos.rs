//! Photos on this phone: taken here and kept until the server has them, and a bounded number of
//! those that it has.
//!
//! A photo is on disk before the book says anything of it. One tab sends, the one that has the line;
//! an upload goes on where it stopped, also after the page was closed.

use std::collections::BTreeSet;
use std::time::Duration;

use gloo_net::http::Method;
use gloo_timers::future::sleep;
use leptos::prelude::*;
use shared::book::Intention;
use shared::book::photo::{Media, Photo};
use shared::ids::{PhotoId, PointId, ReadingId, StageId};
use shared::proof::Digest;
use shared::wire::{Code, Refusal};

use super::session::Session;
use super::shelf::Shelf;
use crate::json;
use crate::net::{Api, NetError};
use crate::platform;
use crate::platform::photo::scaled;
use crate::store::{Batch, Store, names};

/// Between two looks whether there is something to send.
const GLANCE: Duration = Duration::from_secs(2);
/// Longest rest after failures, in glances.
const MAX_REST: u32 = 32;
/// A record that another tab wrote has arrived by then.
const PATIENCE_MS: i64 = 60_000;
/// Photos that the server has and this phone keeps as well: about fifty megabytes.
const MAX_SEEN: usize = 150;

/// A photo that only this phone has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unsent {
    /// Its book.
    pub book: String,
    /// Its digest.
    pub digest: String,
    /// Why the server did not take it, if it said so.
    pub refused: Option<Refusal>,
}

/// What a photo is of.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names of the record's fields")]
pub struct About {
    pub stage: Option<StageId>,
    pub point: Option<PointId>,
    pub reading: Option<ReadingId>,
    pub caption: String,
}

/// Why there is no photo.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoPhoto {
    /// The browser cannot read the picture.
    Unreadable,
    /// The phone did not keep it, or the book did not take it.
    NotSaved,
}

impl Shelf {
    /// Takes a photo into a book: draws it anew, keeps it on disk, writes its record.
    ///
    /// # Errors
    /// [`NoPhoto`]; the book says nothing of it then.
    pub async fn take_photo(
        self,
        book: &str,
        by: &str,
        file: &web_sys::File,
        about: About,
    ) -> Result<(), NoPhoto> {
        let drawn = scaled(file).await.map_err(|_| NoPhoto::Unreadable)?;
        let digest = Digest::of(&drawn.bytes).to_string();
        let id = platform::fresh_id().to_string();
        let photo = Photo {
            id: PhotoId::parse(&id).map_err(|_| NoPhoto::NotSaved)?,
            digest: digest.clone(),
            media: Media::Jpeg,
            bytes: drawn.bytes.len() as u64,
            width_px: drawn.wide,
            height_px: drawn.high,
            stage: about.stage,
            point: about.point,
            reading: about.reading,
            caption: about.caption,
            by: by.to_owned(),
            at: platform::now_text(),
            struck: None,
        };
        let store = self.store().ok_or(NoPhoto::NotSaved)?;
        let record = serde_json::to_vec(&photo).map_err(|_| NoPhoto::NotSaved)?;
        let batch = Batch {
            puts: vec![
                (names::photo(book, &digest), drawn.bytes),
                (names::about(book, &digest), record),
            ],
            ..Batch::default()
        };
        store.write(batch).await.map_err(|_| NoPhoto::NotSaved)?;
        self.act(book, by, &Intention::AddPhoto { photo })
            .map_err(|_| NoPhoto::NotSaved)?;
        self.count_photos().await;
        Ok(())
    }

    fn store(&self) -> Option<Store> {
        self.books().store.borrow().clone()
    }

    /// Photos of a book that the server does not have.
    #[must_use]
    pub fn unsent(&self, book: &str) -> usize {
        self.photos
            .read()
            .iter()
            .filter(|one| one.book == book)
            .count()
    }

    /// Looks what there is to send; other tabs put things there as well.
    async fn count_photos(self) {
        let Some(store) = self.store() else { return };
        let Ok(found) = store.names(names::PHOTOS).await else {
            return;
        };
        let before = self.photos.get_untracked();
        let known = |book: &str, digest: &str| {
            let mut before = before.iter();
            let known = before.find(|one| one.book == book && one.digest == digest);
            known.and_then(|one| one.refused.clone())
        };
        let unsent = found.iter().filter_map(|name| {
            let (book, digest) = name.split_once('/')?;
            Some(Unsent {
                book: book.to_owned(),
                digest: digest.to_owned(),
                refused: known(book, digest),
            })
        });
        let unsent: Vec<Unsent> = unsent.collect();
        if unsent != before {
            self.photos.set(unsent);
        }
    }

    /// The file of a photo, if it is on this phone.
    pub async fn photo_here(self, book: &str, digest: &str) -> Option<Vec<u8>> {
        let store = self.store()?;
        let name = names::photo(book, digest);
        if let Some(bytes) = read(&store, &name).await {
            return Some(bytes);
        }
        let seen = store.names(names::SEEN).await.ok()?;
        let ending = format!("/{book}/{digest}");
        let name = seen.iter().rfind(|name| name.ends_with(&ending))?;
        read(&store, &format!("{}{name}", names::SEEN)).await
    }

    /// The file of a photo from the server; it is kept here as well.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn fetch_photo(
        self,
        api: &Api,
        book: &str,
        digest: &str,
    ) -> Result<Vec<u8>, NetError> {
        let path = format!("/api/jobs/{book}/photos/{digest}");
        let bytes = api.file(&path).await?;
        if Digest::of(&bytes).to_string() != digest {
            return Err(NetError::Offline);
        }
        self.keep_seen(book, digest, bytes.clone(), Vec::new())
            .await;
        Ok(bytes)
    }

    /// Keeps a photo that the server has; the oldest ones go when there are too many.
    async fn keep_seen(self, book: &str, digest: &str, bytes: Vec<u8>, mut deletes: Vec<String>) {
        let Some(store) = self.store() else { return };
        let seen = store.names(names::SEEN).await.unwrap_or_default();
        let too_many = (seen.len() + 1).saturating_sub(MAX_SEEN);
        let oldest = seen.iter().take(too_many);
        deletes.extend(oldest.map(|name| format!("{}{name}", names::SEEN)));
        let fresh = platform::fresh_id().to_string();
        let batch = Batch {
            puts: vec![(names::seen(&fresh, book, digest), bytes)],
            deletes,
            ..Batch::default()
        };
        // What there is no room for is asked from the server again; what was to go stays, and the
        // server has it twice.
        let _ = store.write(batch).await;
    }

    async fn send_photos(self, api: &Api) -> Result<(), NetError> {
        let mut done = Ok(());
        for one in self.photos.get_untracked() {
            // The record goes first: the server takes what the book refers to.
            if one.refused.is_some() || self.unshared(&one.book) > 0 {
                continue;
            }
            match self.send_photo(api, &one.book, &one.digest).await {
                Ok(()) => {}
                Err(NetError::Refused(refusal)) if is_final(&refusal) => {
                    self.photos.update(|all| {
                        let mut all = all.iter_mut();
                        let same = |known: &&mut Unsent| {
                            (&known.book, &known.digest) == (&one.book, &one.digest)
                        };
                        if let Some(known) = all.find(same) {
                            known.refused = Some(refusal);
                        }
                    });
                }
                Err(error) if error == NetError::Offline || error.needs_sign_in() => {
                    return Err(error);
                }
                // This one later; the others may be taken.
                Err(error) => {
                    if matches!(&error, NetError::Refused(refusal) if refusal.code == Code::NotFound)
                    {
                        self.write_again(&one).await;
                    }
                    done = Err(error);
                }
            }
        }
        self.count_photos().await;
        done
    }

    /// Writes the record of a photo again that the book does not have: the page was closed in the
    /// moment between the two.
    async fn write_again(self, one: &Unsent) {
        let Some(store) = self.store() else { return };
        let kept = read(&store, &names::about(&one.book, &one.digest)).await;
        let Some(photo) = kept.and_then(|bytes| json::read::<Photo>(&bytes)) else {
            return;
        };
        let taken_ms = photo
            .id
            .as_str()
            .parse::<ulid::Ulid>()
            .map_or(0, |id| id.timestamp_ms());
        let old_ms = platform::now_ms().saturating_sub_unsigned(taken_ms);
        if old_ms > PATIENCE_MS {
            let by = photo.by.clone();
            // A record that is there is not written twice.
            let _ = self.act(&one.book, &by, &Intention::AddPhoto { photo });
        }
    }

    async fn send_photo(self, api: &Api, book: &str, digest: &str) -> Result<(), NetError> {
        let Some(store) = self.store() else {
            return Ok(());
        };
        let (name, ticket) = (names::photo(book, digest), names::upload(book, digest));
        let Some(bytes) = read(&store, &name).await else {
            return Ok(());
        };
        let begun = read(&store, &ticket).await;
        let begun = begun.and_then(|bytes| String::from_utf8(bytes).ok());
        let mut known = None;
        if let Some(path) = begun {
            match api.tus(Method::HEAD, &path, &[], None).await {
                Ok(answer) => known = answer.offset.map(|at| (path, at)),
                Err(NetError::Refused(refusal)) if refusal.code == Code::NotFound => {}
                Err(error) => return Err(error),
            }
        }
        let (path, at) = match known {
            Some(known) => known,
            None => {
                let path = begin(api, book, digest, bytes.len()).await?;
                let batch = Batch {
                    puts: vec![(ticket.clone(), path.clone().into_bytes())],
                    ..Batch::default()
                };
                // Without it the upload begins anew after a cut.
                let _ = store.write(batch).await;
                (path, 0)
            }
        };
        if let Some(rest) = bytes.get(at..).filter(|rest| !rest.is_empty()) {
            let at = at.to_string();
            let headers = [
                ("Upload-Offset", at.as_str()),
                ("Content-Type", "application/offset+octet-stream"),
            ];
            api.tus(Method::PATCH, &path, &headers, Some(rest)).await?;
        }
        let done = vec![name, ticket, names::about(book, digest)];
        self.keep_seen(book, digest, bytes, done).await;
        Ok(())
    }
}

/// Begins an upload; its path.
async fn begin(api: &Api, book: &str, digest: &str, bytes: usize) -> Result<String, NetError> {
    use base64::prelude::{BASE64_STANDARD, Engine as _};
    let [digest, media] = [digest, Media::Jpeg.name()].map(|text| BASE64_STANDARD.encode(text));
    let (bytes, metadata) = (bytes.to_string(), format!("digest {digest},type {media}"));
    let headers = [
        ("Upload-Length", bytes.as_str()),
        ("Upload-Metadata", metadata.as_str()),
    ];
    let path = format!("/api/jobs/{book}/photos");
    let answer = api.tus(Method::POST, &path, &headers, None).await?;
    answer.location.ok_or(NetError::Offline)
}

/// Would the server say the same again?
fn is_final(refusal: &Refusal) -> bool {
    matches!(
        refusal.code,
        Code::BadRequest | Code::TooLarge | Code::NotAllowed
    )
}

async fn read(store: &Store, name: &str) -> Option<Vec<u8>> {
    let found = store.read(name, &BTreeSet::new()).await.ok()?;
    let mut entries = found.entries.into_iter();
    let entry = entries.find(|entry| entry.name.is_empty() && entry.whole)?;
    Some(entry.bytes)
}

/// Sends photos for as long as the page lives.
pub async fn keep_sending(shelf: Shelf, session: Session) {
    let (mut looked, mut failures, mut rest) = (None, 0_u32, 0_u32);
    let mut was_online = false;
    loop {
        sleep(GLANCE).await;
        if !shelf.ready.get_untracked() {
            continue;
        }
        let pulse = Some(shelf.pulse.get_untracked().1);
        if pulse != looked || shelf.photos.with_untracked(|all| !all.is_empty()) {
            looked = pulse;
            shelf.count_photos().await;
        }
        let online = shelf.online.get_untracked();
        rest = if online && !was_online {
            0
        } else {
            rest.saturating_sub(1)
        };
        was_online = online;
        if !online || rest > 0 || !shelf.is_on_line() || session.me.get_untracked().is_none() {
            continue;
        }
        match shelf.send_photos(&session.api()).await {
            Ok(()) => failures = 0,
            Err(_) => {
                failures += 1;
                rest = 2_u32.saturating_pow(failures).min(MAX_REST);
            }
        }
    }
}
