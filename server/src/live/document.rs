//! One open document: its peers, what they said, and what they are told.
//!
//! Order of every batch: admitted by the gate, one transaction, then the new document takes the
//! old one's place, then everybody is told. If the transaction fails, nobody hears of it.

mod snapshot;

use std::collections::HashMap;
use std::sync::atomic::Ordering;
use std::time::Duration;

use shared::sync::conversation::Host;
use shared::sync::gate::{Admitted, Role};
use tokio::sync::{mpsc, watch};
use tokio::time::{Instant, sleep};

use super::admit::{self, heads, new_change, projection};
use super::load::{Loaded, load, read_on};
use super::project::Version;
use super::word::{Peer, Told, Who, Word};
use super::{HeardBy, Live, OUTBOX, Reached};
use crate::store::{Batch, DocKey, Kept, Refused, Sender};

/// A document without peers is closed after this long.
const IDLE: Duration = Duration::from_secs(60);
/// A snapshot is worth its writing after this many changes.
const CHANGES_PER_SNAPSHOT: i64 = 200;
/// Times that a batch is tried again because another server moved the document on.
const TRIES: usize = 20;

/// A connection that has this many messages refused is ended, so that nobody fills the quarantine.
const MAX_REFUSALS: u32 = 20;

/// Presence is worth nothing late: it is dropped before it takes the room of what has to arrive.
const ROOM_FOR_SYNC: usize = OUTBOX / 2;

struct Talking {
    peer: Peer,
    /// What this connection had refused.
    refusals: u32,
    /// Were changes of it dropped?
    has_dropped: bool,
}

struct Document<'a> {
    live: &'a Live,
    key: &'a DocKey,
    host: Host,
    seq: i64,
    snapshot_seq: i64,
    peers: HashMap<u64, Talking>,
}

/// Runs a document until nobody needs it.
pub(super) async fn run(
    live: &Live,
    key: &DocKey,
    mut inbox: mpsc::Receiver<Word>,
    mut told: watch::Receiver<Reached>,
) {
    let loaded = match load(&live.store, key).await {
        Ok(loaded) => loaded,
        Err(error) => {
            tracing::error!(
                doc = key.doc,
                error = format!("{error:#}"),
                "a document does not open"
            );
            return;
        }
    };
    let mut document = Document::new(live, key, loaded);
    let mut answer = None;
    loop {
        let is_idle = document.peers.is_empty();
        let word = tokio::select! {
            word = inbox.recv() => word,
            // Fails when the door is gone; the inbox is told then as well.
            Ok(()) = told.changed() => {
                let latest = *told.borrow_and_update();
                document.follow(latest).await;
                continue;
            }
            () = sleep(IDLE), if is_idle => None,
        };
        match word {
            Some(Word::Stop { answer: asked }) => {
                answer = Some(asked);
                break;
            }
            Some(word) => document.hear(word).await,
            None => break,
        }
    }
    document.snapshot_if_worth().await;
    drop(inbox);
    if let Some(answer) = answer {
        // Nobody may be waiting any more.
        let _ = answer.send(());
    }
}

impl Drop for Document<'_> {
    /// Whatever ends a document, its connections must not wait for it in silence.
    fn drop(&mut self) {
        for talking in self.peers.values() {
            talking.peer.bell.notify_one();
        }
    }
}

impl<'a> Document<'a> {
    fn new(live: &'a Live, key: &'a DocKey, loaded: Loaded) -> Self {
        Self {
            live,
            key,
            host: Host::new(loaded.doc),
            seq: loaded.seq,
            snapshot_seq: loaded.snapshot_seq,
            peers: HashMap::new(),
        }
    }

    async fn hear(&mut self, word: Word) {
        match word {
            Word::Join { peer, answer } => {
                if answer.send(()).is_ok() {
                    let role = match peer.who {
                        Who::Member { .. } => Role::Write,
                        Who::Follower { .. } => Role::Read,
                    };
                    self.host.join(peer.number, role);
                    let talking = Talking {
                        peer,
                        refusals: 0,
                        has_dropped: false,
                    };
                    self.peers.insert(talking.peer.number, talking);
                }
            }
            Word::Leave { peer } => self.part(peer),
            Word::Presence { peer, told } => self.tell_others(peer, &told),
            Word::Sync { peer, asks, .. } if asks && self.seq == 0 => {
                self.tell(
                    peer,
                    Told::Unavailable {
                        doc: self.key.doc.clone(),
                    },
                );
            }
            Word::Sync { peer, data, .. } => self.sync(peer, data).await,
            Word::Stop { .. } => {}
        }
    }

    async fn sync(&mut self, from: u64, data: Vec<u8>) {
        let Some(who) = self.peers.get(&from).map(|t| t.peer.who.clone()) else {
            return;
        };
        let done = match who {
            Who::Member { sender, session } => self.admit(from, &sender, &session, data).await,
            Who::Follower { link } => self.listen(from, &link, data).await,
        };
        if let Err(error) = done {
            self.live.figures.failed.inc();
            tracing::error!(
                doc = self.key.doc,
                error = format!("{error:#}"),
                "a batch was not kept"
            );
            self.tell(from, Told::End);
            self.part(from);
        }
    }

    /// A follower says what it has, and is told what it has not. Nothing else is taken from it.
    async fn listen(&mut self, from: u64, link: &str, data: Vec<u8>) -> anyhow::Result<()> {
        let Some(question) = self.host.question(from, data) else {
            return Ok(());
        };
        let admitted = admit::hear_follower(self.live, self.key, link, question).await?;
        self.count_dropped(from, admitted.dropped);
        self.host.commit(from, admitted);
        self.answer(from);
        Ok(())
    }

    async fn admit(
        &mut self,
        from: u64,
        sender: &Sender,
        session: &str,
        data: Vec<u8>,
    ) -> anyhow::Result<()> {
        for _ in 0..TRIES {
            let Some(question) = self.host.question(from, data.clone()) else {
                return Ok(());
            };
            match admit::rule(self.live, self.key, (sender, session), question).await? {
                Ok(admitted) => {
                    if self.keep(from, sender, admitted).await? {
                        return Ok(());
                    }
                    self.read_on().await?;
                }
                Err(refusal) => {
                    self.live.figures.refuse(&refusal);
                    return self.refuse(from, sender, refusal.to_string(), data).await;
                }
            }
        }
        anyhow::bail!("other servers move this document on all the time")
    }

    /// Keeps what was admitted; false when another server was first.
    async fn keep(
        &mut self,
        from: u64,
        sender: &Sender,
        mut admitted: Admitted,
    ) -> anyhow::Result<bool> {
        let brings_news = !admitted.changes.is_empty();
        if brings_news {
            let changes = std::mem::take(&mut admitted.changes).into_iter();
            let batch = Batch {
                key: self.key.clone(),
                sender: sender.clone(),
                after_seq: self.seq,
                changes: changes.map(new_change).collect::<anyhow::Result<_>>()?,
                heads: heads(&admitted.doc),
                projection: projection(admitted.job.take().unwrap_or_default()),
            };
            let now_ms = self.live.clock.now_ms();
            let (figures, begun) = (&self.live.figures, Instant::now());
            match self.live.store.keep_changes(&batch, now_ms).await? {
                Kept::UpTo(seq) => self.seq = seq,
                Kept::MovedOn => return Ok(false),
            }
            figures.commit.observe(begun.elapsed().as_secs_f64());
            figures.accepted.inc();
            figures.changes.inc_by(batch.changes.len() as u64);
        }
        self.host.commit(from, admitted);
        if brings_news {
            self.answer_all();
            let version = Version {
                doc: self.host.doc().clone(),
                seq: self.seq,
            };
            self.live.due.add(self.key, Some(version));
            if self.seq - self.snapshot_seq >= CHANGES_PER_SNAPSHOT {
                self.snapshot().await;
            }
        } else {
            self.answer(from);
        }
        Ok(true)
    }

    /// What a follower writes is dropped; it is counted, and said once per line.
    fn count_dropped(&mut self, from: u64, dropped: usize) {
        let Some(talking) = self.peers.get_mut(&from).filter(|_| dropped > 0) else {
            return;
        };
        self.live
            .dropped
            .fetch_add(dropped as u64, Ordering::Relaxed);
        if !std::mem::replace(&mut talking.has_dropped, true) {
            tracing::warn!(
                doc = self.key.doc,
                dropped,
                "a follower's changes were dropped"
            );
        }
    }

    async fn refuse(
        &mut self,
        from: u64,
        sender: &Sender,
        reason: String,
        bytes: Vec<u8>,
    ) -> anyhow::Result<()> {
        self.set_aside(sender, reason.clone(), bytes).await?;
        if let Some(talking) = self.peers.get_mut(&from) {
            talking.refusals += 1;
            anyhow::ensure!(
                talking.refusals <= MAX_REFUSALS,
                "too many refusals on one line"
            );
        }
        self.tell(
            from,
            Told::Refused {
                doc: self.key.doc.clone(),
                reason,
            },
        );
        Ok(())
    }

    async fn set_aside(
        &self,
        sender: &Sender,
        reason: String,
        bytes: Vec<u8>,
    ) -> anyhow::Result<()> {
        let refused = Refused {
            id: self.live.clock.mint(),
            key: self.key.clone(),
            sender: sender.clone(),
            reason,
            bytes,
        };
        let now_ms = self.live.clock.now_ms();
        Ok(self.live.store.quarantine(refused, now_ms).await?)
    }

    /// Another server may have written; when reading it fails, the next look tries again.
    async fn follow(&mut self, latest: Reached) {
        if latest.seq <= self.seq {
            return;
        }
        if latest.by == HeardBy::Look {
            self.live.figures.missed.inc();
        }
        if let Err(error) = self.read_on().await {
            tracing::error!(
                doc = self.key.doc,
                error = format!("{error:#}"),
                "another server's changes were not read"
            );
        }
    }

    /// Another server has written: its changes are read from the record, and told.
    async fn read_on(&mut self) -> anyhow::Result<()> {
        let (doc, seq) = read_on(&self.live.store, self.key, self.host.doc(), self.seq).await?;
        self.host.replace(doc);
        self.seq = seq;
        self.answer_all();
        Ok(())
    }

    fn answer_all(&mut self) {
        let numbers: Vec<u64> = self.peers.keys().copied().collect();
        for number in numbers {
            self.answer(number);
        }
    }

    /// Sends what this peer does not know yet, if it has said what it knows.
    fn answer(&mut self, to: u64) {
        if let Some(data) = self.host.next_message(to) {
            self.tell(
                to,
                Told::Sync {
                    doc: self.key.doc.clone(),
                    data,
                },
            );
        }
    }

    fn tell(&mut self, to: u64, told: Told) {
        let Some(talking) = self.peers.get(&to) else {
            return;
        };
        let room = talking.peer.outbox.capacity();
        if matches!(told, Told::Presence(_)) && room < ROOM_FOR_SYNC {
            return;
        }
        if talking.peer.outbox.try_send(told).is_err() {
            // It does not keep up. Its line ends, and the phone comes back for the rest.
            talking.peer.bell.notify_one();
            self.part(to);
        }
    }

    fn part(&mut self, peer: u64) {
        self.peers.remove(&peer);
        self.host.leave(peer);
    }

    /// Where somebody is in the bay is for the shop's own people.
    fn tell_others(&mut self, from: u64, told: &Told) {
        let is_member = |t: &Talking| matches!(t.peer.who, Who::Member { .. });
        let members = self.peers.iter().filter(|(_, t)| is_member(t));
        let others = members.map(|(number, _)| *number).filter(|n| *n != from);
        for number in others.collect::<Vec<_>>() {
            self.tell(number, told.clone());
        }
    }
}
