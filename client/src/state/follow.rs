//! One job followed with an adjuster's link: live, read only, nothing kept on this device.
//!
//! The line carries what the shop's phones write; the server takes nothing from it. When the line
//! breaks it comes back by itself, until the link is good no more.

use std::collections::HashMap;
use std::sync::Arc;
use std::time::Duration;

use futures_util::{FutureExt, select};
use gloo_net::http::Method;
use gloo_timers::future::sleep;
use leptos::prelude::*;
use shared::book::{Automerge, ChangeHash, Photo, Since, photos};
use shared::finding::Finding;
use shared::job::Job;
use shared::proof::Digest;
use shared::result::JobResult;
use shared::solve::solve;
use shared::sync::conversation::Guest;
use shared::sync::frame::Frame;
use shared::wire::{Code, Follow, FollowWith, Refusal};

use super::signing::{SignOff, sign_offs};
use crate::net::line::{self, Writer};
use crate::net::{Api, NetError};

/// Between two tries to get the line back.
const PATIENCE: Duration = Duration::from_secs(3);
/// Sign-offs are asked for again after this long.
const GLANCE: Duration = Duration::from_secs(10);

/// How it stands with the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// The link is being opened.
    Opening,
    /// What is shown is what the shop has.
    Live,
    /// No signal: what is shown may be older.
    Lost,
    /// The link was taken back, has run out, or never was one.
    Ended,
}

/// The followed job, as signals.
#[derive(Debug, Clone, Copy)]
pub struct Followed {
    /// The car.
    pub job: RwSignal<Arc<Job>>,
    /// What its readings say.
    pub result: RwSignal<Option<Arc<JobResult>>>,
    /// Its photos, hidden ones included.
    pub photos: RwSignal<Arc<Vec<Photo>>>,
    /// What is worth saying about the document.
    pub findings: RwSignal<Arc<Vec<Finding>>>,
    /// Sign-offs, the newest first.
    pub signed: RwSignal<Vec<SignOff>>,
    /// Name of the shop and the end of the link, once it is open.
    pub opened: RwSignal<Option<(String, String)>>,
    /// How it stands with the line.
    pub standing: RwSignal<Standing>,
    doc: StoredValue<Automerge, LocalStorage>,
    /// Token of the link.
    link: StoredValue<String>,
    /// The access token of its last opening.
    token: StoredValue<String>,
    /// Photos that came, for as long as the page is open.
    files: StoredValue<HashMap<String, Vec<u8>>>,
}

impl Followed {
    /// Follows the job of a link for as long as the page is shown.
    #[must_use]
    pub fn open(token: String) -> Self {
        let followed = Self {
            job: RwSignal::default(),
            result: RwSignal::new(None),
            photos: RwSignal::default(),
            findings: RwSignal::default(),
            signed: RwSignal::new(Vec::new()),
            opened: RwSignal::new(None),
            standing: RwSignal::new(Standing::Opening),
            doc: StoredValue::new_local(Automerge::new()),
            link: StoredValue::new(token.clone()),
            token: StoredValue::new(String::new()),
            files: StoredValue::new(HashMap::new()),
        };
        leptos::task::spawn_local(followed.keep_following(token));
        followed
    }

    /// What came into the book since these heads; follows its changes.
    #[must_use]
    pub fn since(&self, heads: &[Digest]) -> Option<Since> {
        self.job.track();
        let heads: Vec<ChangeHash> = heads.iter().map(|head| ChangeHash(head.0)).collect();
        self.doc.with_value(|doc| shared::book::since(doc, &heads))
    }

    /// Is what is shown what the shop has?
    #[must_use]
    pub fn is_live(self) -> bool {
        self.standing.get() == Standing::Live
    }

    /// Heads of the document.
    #[must_use]
    pub fn heads(self) -> Vec<Digest> {
        let heads = |doc: &Automerge| doc.get_heads().iter().map(|h| Digest(h.0)).collect();
        self.doc.with_value(heads)
    }

    /// A file of the followed job from the server. The link is opened anew: its token may be older
    /// than tokens get.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn file(self, path: &str) -> Result<Vec<u8>, NetError> {
        let form = FollowWith {
            token: self.link.get_value(),
        };
        let api = Api::default();
        let opened: Follow = api.open(Method::POST, "/api/follow", Some(&form)).await?;
        self.token.set_value(opened.access_token.clone());
        api.file_with_token(&opened.access_token, path).await
    }

    /// A photo of the followed job.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn photo(self, digest: &str) -> Result<Vec<u8>, NetError> {
        let known = self.files.with_value(|files| files.get(digest).cloned());
        if let Some(bytes) = known {
            return Ok(bytes);
        }
        let path = format!("/api/follow/photos/{digest}");
        let token = self.token.get_value();
        let bytes = match Api::default().file_with_token(&token, &path).await {
            // The token is older than tokens get.
            Err(error) if error.needs_sign_in() => self.file(&path).await?,
            answer => answer?,
        };
        if Digest::of(&bytes).to_string() != digest {
            return Err(NetError::Offline);
        }
        self.files.update_value(|files| {
            files.insert(digest.to_owned(), bytes.clone());
        });
        Ok(bytes)
    }

    /// Is the page gone?
    fn is_gone(self) -> bool {
        self.standing.try_get_untracked().is_none()
    }

    async fn keep_following(self, token: String) {
        let api = Api::default();
        while !self.is_gone() {
            let error = match self.follow(&api, &token).await {
                Ok(()) => NetError::Offline,
                Err(error) => error,
            };
            if self.is_gone() {
                return;
            }
            let ended = |refusal: &Refusal| refusal.code == Code::LinkInvalid;
            if matches!(&error, NetError::Refused(refusal) if ended(refusal)) {
                self.standing.set(Standing::Ended);
                return;
            }
            self.standing.set(Standing::Lost);
            sleep(PATIENCE).await;
        }
    }

    /// Opens the link and follows until the line ends.
    async fn follow(self, api: &Api, token: &str) -> Result<(), NetError> {
        let form = FollowWith {
            token: token.to_owned(),
        };
        let opened: Follow = api.open(Method::POST, "/api/follow", Some(&form)).await?;
        if self.is_gone() {
            return Ok(());
        }
        self.opened
            .set(Some((opened.shop_name.clone(), opened.expires_at.clone())));
        let (mut writer, mut reader) = line::open_with(&opened.ticket).await?;
        let mut guest = Guest::default();
        self.say(&mut guest, &mut writer, &opened.book).await?;
        self.glance(api, &opened).await?;
        while !self.is_gone() {
            let mut tired = sleep(GLANCE).fuse();
            select! {
                frame = reader.read().fuse() => {
                    if self.hear(&mut guest, frame?) {
                        self.glance(api, &opened).await?;
                    }
                    self.say(&mut guest, &mut writer, &opened.book).await?;
                }
                () = tired => self.glance(api, &opened).await?,
            }
        }
        Ok(())
    }

    /// Says what this page has; nothing of it can be new to the server.
    async fn say(self, guest: &mut Guest, writer: &mut Writer, book: &str) -> Result<(), NetError> {
        let message = self.doc.try_with_value(|doc| {
            let heads = doc.get_heads();
            let data = guest.next_message(doc, &heads)?;
            Some((heads.is_empty(), data))
        });
        let Some((asks, data)) = message.flatten() else {
            return Ok(());
        };
        let frame = Frame {
            kind: if asks { "request" } else { "sync" }.into(),
            document: Some(book.to_owned()),
            data: Some(data),
            ..Frame::default()
        };
        writer.write(frame).await
    }

    /// Takes a frame in; true when the car has changed.
    fn hear(self, guest: &mut Guest, frame: Frame) -> bool {
        let Some(data) = frame.data.filter(|_| frame.kind == "sync") else {
            return false;
        };
        let heard = self.doc.try_update_value(|doc| {
            let before = doc.get_heads();
            let received = guest.receive(doc, &data).is_ok();
            // Back on the line nothing may be new, and what is shown is what the shop has.
            let in_step = received && guest.is_in_step(doc);
            (in_step, received && doc.get_heads() != before)
        });
        let (in_step, changed) = heard.unwrap_or_default();
        if in_step && self.standing.try_get_untracked() != Some(Standing::Live) {
            self.standing.set(Standing::Live);
        }
        if !changed {
            return false;
        }
        let (job, mut findings) = self.doc.with_value(shared::book::read);
        let (photos, broken) = self.doc.with_value(photos);
        findings.extend(broken);
        if *self.photos.read_untracked().as_ref() != photos {
            self.photos.set(Arc::new(photos));
        }
        self.result.set(Some(Arc::new(solve(&job))));
        self.findings.set(Arc::new(findings));
        self.job.set(Arc::new(job));
        true
    }

    /// Looks at the sign-offs. The token of the link's opening lives minutes: then it is opened anew.
    async fn glance(self, api: &Api, opened: &Follow) -> Result<(), NetError> {
        let texts: Vec<String> = api
            .with_token(&opened.access_token, "/api/follow/statements")
            .await?;
        let signed = sign_offs(&texts);
        if !self.is_gone() && signed != self.signed.get_untracked() {
            self.signed.set(signed);
        }
        Ok(())
    }
}
