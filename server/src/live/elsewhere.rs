//! Presence between servers on one database: said to the others, passed on to this one's phones.
//!
//! It is never stored, and worth nothing late: what cannot go out at once, or is too long for a
//! notice, is not told to other servers.

use std::sync::{Arc, Mutex, PoisonError};

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD_NO_PAD;
use tokio::sync::mpsc;

use super::Live;
use super::talk::Presence;
use super::word::{Told, Word};
use crate::store::{DocKey, Notice, Whisper};

/// What may wait to be told to the other servers.
const WAITING: usize = 64;
/// No connection of this server has this number.
const NOBODY: u64 = 0;

/// The way to the other servers.
#[derive(Debug, Clone)]
pub(super) struct Elsewhere {
    /// Name of this server, until it ends.
    node: Arc<str>,
    out: mpsc::Sender<Whisper>,
    waiting: Arc<Mutex<Option<mpsc::Receiver<Whisper>>>>,
}

impl Elsewhere {
    pub(super) fn new(node: String) -> Self {
        let (out, waiting) = mpsc::channel(WAITING);
        Self {
            node: node.into(),
            out,
            waiting: Arc::new(Mutex::new(Some(waiting))),
        }
    }

    /// What waits; once.
    fn take(&self) -> Option<mpsc::Receiver<Whisper>> {
        let mut waiting = self.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        waiting.take()
    }

    /// What the others see as the sender of a connection's presence; no two servers use the same.
    pub(super) fn peer(&self, number: u64) -> String {
        format!("peer-{}-{number}", self.node)
    }
}

impl Live {
    /// Tells the other servers of presence.
    pub(super) fn whisper(&self, shop: &str, presence: &Presence) {
        if !self.store.is_shared() {
            return;
        }
        let whisper = Whisper {
            node: self.elsewhere.node.to_string(),
            shop: shop.to_owned(),
            doc: presence.doc.clone(),
            from: presence.from.clone(),
            session: presence.session.clone(),
            count: presence.count,
            data: STANDARD_NO_PAD.encode(&presence.data),
        };
        // Full: the next one tells more.
        let _ = self.elsewhere.out.try_send(whisper);
    }

    /// Carries what is said to the other servers, one after the other.
    pub(super) async fn carry_whispers(&self) {
        let Some(mut waiting) = self.elsewhere.take() else {
            return;
        };
        while let Some(whisper) = waiting.recv().await {
            if let Err(error) = self.store.say(&Notice::Presence(whisper)).await {
                tracing::debug!(%error, "presence was not told to the other servers");
            }
        }
    }

    /// Passes presence from another server on to those who have the document open here.
    pub(super) fn hear_whisper(&self, whisper: Whisper) {
        if *whisper.node == *self.elsewhere.node {
            return;
        }
        let Ok(data) = STANDARD_NO_PAD.decode(&whisper.data) else {
            return;
        };
        let key = DocKey {
            shop: whisper.shop,
            doc: whisper.doc,
        };
        let told = Told::Presence(Presence {
            doc: key.doc.clone(),
            from: whisper.from,
            session: whisper.session,
            count: whisper.count,
            data,
        });
        if let Some(door) = self.open_door(&key) {
            // A document with a full inbox has better things to do.
            let _ = door.try_send(Word::Presence { peer: NOBODY, told });
        }
    }
}
