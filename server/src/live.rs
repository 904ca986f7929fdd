//! Live books: one task per open document, one per WebSocket.
//!
//! A connection turns frames into words for documents; a document admits changes, keeps them,
//! and answers. Nothing that tells of new changes leaves before they are on disk.

pub mod word;
pub mod pace;
pub mod connection;
pub mod document;
pub mod admit;
pub mod talk;
pub mod load;
pub mod lines;
pub mod nodes;
pub mod elsewhere;
pub mod projection;
pub mod project;
pub mod statement;
pub mod changes;

use std::collections::HashMap;
use std::future::Future;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

pub use shared::sync::frame;
use tokio::runtime::Handle;
use tokio::sync::{mpsc, oneshot, watch};
use tokio::task::JoinSet;

use crate::clock::Clock;
use crate::metrics::LiveFigures;
use crate::store::{DocKey, Store};
use project::Due;
use word::{Peer, Word};

/// Largest frame, whole or in pieces: the largest message of a book and what is around it.
pub const MAX_FRAME_BYTES: usize = shared::sync::gate::MAX_MESSAGE_BYTES + 64 * 1024;
/// What may wait for a slow line.
const OUTBOX: usize = 256;
/// Words that may wait for a document; then its connections wait.
const INBOX: usize = 64;

/// All open documents of this server.
#[derive(Debug, Clone)]
pub struct Live {
    /// The database.
    pub store: Store,
    /// The clock.
    pub clock: Clock,
    /// Documents outlive the worker that opened them.
    runtime: Handle,
    open: Arc<Mutex<Open>>,
    lines: lines::Lines,
    elsewhere: elsewhere::Elsewhere,
    /// Books whose rows are due.
    pub due: Due,
    /// Changes of readers that were dropped.
    pub dropped: Arc<AtomicU64>,
    /// What is counted for an operator.
    pub figures: LiveFigures,
    /// Is there a connection to hear the other servers on?
    listening: Arc<AtomicBool>,
    /// Turns true when the server stops; connections end then.
    stopping: Arc<watch::Sender<bool>>,
}

/// The ways to an open document.
#[derive(Debug)]
struct Door {
    words: mpsc::Sender<Word>,
    /// The latest sequence that this server was told of.
    latest: watch::Sender<Reached>,
}

/// How it became known that a document has moved on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum HeardBy {
    /// A notice.
    Notice,
    /// A look at the database.
    Look,
}

/// A sequence that a document has reached.
#[derive(Debug, Clone, Copy)]
struct Reached {
    seq: i64,
    by: HeardBy,
}

#[derive(Debug, Default)]
struct Open {
    documents: HashMap<DocKey, Door>,
    tasks: JoinSet<()>,
    closed: bool,
}

impl Live {
    /// No document is open; their tasks run on the runtime that calls.
    #[must_use]
    pub fn new(store: Store, clock: Clock) -> Self {
        let figures = LiveFigures::default();
        Self {
            store,
            elsewhere: elsewhere::Elsewhere::new(clock.mint()),
            clock,
            runtime: Handle::current(),
            open: Arc::default(),
            lines: Arc::default(),
            due: Due::new(figures.due.clone()),
            figures,
            dropped: Arc::default(),
            listening: Arc::default(),
            stopping: Arc::new(watch::Sender::new(false)),
        }
    }

    /// Lets a peer take part in a document, which is opened if it is not. Without an answer the
    /// document cannot be opened or the server stops.
    pub async fn join(&self, key: &DocKey, peer: Peer) -> Option<mpsc::Sender<Word>> {
        // A document that closes just now drops the question; the second try opens it again.
        for _ in 0..3 {
            let door = self.door(key)?;
            let (answer, joined) = oneshot::channel();
            let word = Word::Join {
                peer: peer.clone(),
                answer,
            };
            if door.send(word).await.is_ok() && joined.await.is_ok() {
                return Some(door);
            }
        }
        None
    }

    fn door(&self, key: &DocKey) -> Option<mpsc::Sender<Word>> {
        let mut open = self.lock();
        if open.closed {
            return None;
        }
        let known = open.documents.get(key).map(|door| &door.words);
        if let Some(words) = known.filter(|words| !words.is_closed()) {
            return Some(words.clone());
        }
        let (words, inbox) = mpsc::channel(INBOX);
        let begin = Reached {
            seq: 0,
            by: HeardBy::Notice,
        };
        let (latest, told) = watch::channel(begin);
        let door = Door {
            words: words.clone(),
            latest,
        };
        open.documents.insert(key.clone(), door);
        let (live, key) = (self.clone(), key.clone());
        while open.tasks.try_join_next().is_some() {}
        let task = async move {
            document::run(&live, &key, inbox, told).await;
            live.forget(&key);
        };
        open.tasks.spawn_on(task, &self.runtime);
        Some(words)
    }

    /// Runs something beside the documents, until the server stops.
    fn spawn(&self, work: impl Future<Output = ()> + Send + 'static) {
        let live = self.clone();
        let task = async move {
            tokio::select! {
                () = work => {}
                () = live.stopped() => {}
            }
        };
        self.lock().tasks.spawn_on(task, &self.runtime);
    }

    /// The documents that are open here.
    pub(crate) fn open_documents(&self) -> Vec<DocKey> {
        self.lock().documents.keys().cloned().collect()
    }

    /// The way to a document, if it is open here.
    fn open_door(&self, key: &DocKey) -> Option<mpsc::Sender<Word>> {
        let open = self.lock();
        open.documents.get(key).map(|door| door.words.clone())
    }

    /// A document has reached a sequence, perhaps on another server.
    fn moved(&self, key: &DocKey, seq: i64, by: HeardBy) {
        if let Some(door) = self.lock().documents.get(key) {
            // Told again even when it is the same, for a document that could not follow before.
            door.latest.send_modify(|latest| {
                *latest = Reached {
                    seq: seq.max(latest.seq),
                    by,
                };
            });
        }
    }

    /// Are the other servers heard?
    #[must_use]
    pub fn hears_others(&self) -> bool {
        self.listening.load(Ordering::Relaxed)
    }

    /// Has it been told to stop?
    #[must_use]
    pub fn is_stopping(&self) -> bool {
        *self.stopping.borrow()
    }

    /// Takes a document that has ended off the list, unless it has been opened anew.
    fn forget(&self, key: &DocKey) {
        let mut open = self.lock();
        let door = open.documents.get(key);
        if door.is_some_and(|door| door.words.is_closed()) {
            open.documents.remove(key);
        }
    }

    /// Waits until the server stops.
    pub async fn stopped(&self) {
        let mut stopping = self.stopping.subscribe();
        // The sender lives as long as we do.
        let _ = stopping.wait_for(|stops| *stops).await;
    }

    /// Ends all connections, and all documents after their work; opens no more.
    pub async fn stop(&self) {
        self.stopping.send_replace(true);
        let doors: Vec<_> = {
            let mut open = self.lock();
            open.closed = true;
            open.documents.drain().map(|(_, door)| door.words).collect()
        };
        for door in doors {
            let (answer, stopped) = oneshot::channel();
            if door.send(Word::Stop { answer }).await.is_ok() {
                // An error means that the document had ended by itself.
                let _ = stopped.await;
            }
        }
    }

    /// Ends all documents at once, as a power cut would.
    pub fn kill(&self) {
        self.stopping.send_replace(true);
        let mut open = self.lock();
        open.closed = true;
        open.documents.clear();
        open.tasks.abort_all();
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, Open> {
        self.open.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
