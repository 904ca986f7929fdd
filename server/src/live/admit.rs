//! Is what a peer sent fit to become part of the book? Asked before anything is kept.
//!
//! Cheapest check first; the document engine sees foreign bytes only behind `catch_unwind`, and
//! only a clone of the document is ever changed. Counts are bounded before they are believed.

use std::collections::HashSet;
use std::sync::Arc;

use automerge::sync::{ChunkList, Message, State, SyncDoc};
use automerge::{Automerge, Change, ChangeHash};
use shared::book;
use shared::book::keep::keeps_the_record;
use tokio::task::spawn_blocking;

use super::load::guarded;
use super::{Live, claims};
use crate::store::{DocKey, NewChange, Projection, Sender};

/// Hashes that a message may name.
const MAX_HASHES: usize = 10_000;
/// Changes in one message.
const MAX_CHANGES: usize = 10_000;
/// Summaries in one message; the engine itself sends one.
const MAX_SUMMARIES: usize = 8;
/// Entries of a summary's Bloom filter, and what it may ask of us per entry.
const MAX_BLOOM_ENTRIES: u64 = 1_000_000;
const BLOOM_BITS: std::ops::RangeInclusive<u64> = 1..=32;
const BLOOM_PROBES: std::ops::RangeInclusive<u64> = 1..=16;
/// Changes that may wait for the ones they build on.
const MAX_WAITING: usize = 1_000;
/// Operations in one change: a person's entry has a few dozen, an imported job a few thousand.
const MAX_OPERATIONS: u64 = 100_000;
/// Magic number of a chunk, and the type of a plain change.
const CHUNK_MAGIC: [u8; 4] = [0x85, 0x6f, 0x4a, 0x83];
const PLAIN_CHANGE: u8 = 1;

/// Actor of a book's first change.
const NOBODY: [u8; 16] = [0; 16];

/// A message, and the document it meets.
#[derive(Debug, Clone)]
pub struct Question {
    /// The document as it is.
    pub doc: Arc<Automerge>,
    /// What we know of the peer.
    pub state: State,
    /// Earlier changes of this peer that still wait for others.
    pub waiting: Vec<Change>,
    /// The message, not yet trusted.
    pub data: Vec<u8>,
}

/// What the book becomes.
#[derive(Debug)]
pub struct Admitted {
    /// The document with the changes.
    pub doc: Arc<Automerge>,
    /// What we know of the peer now.
    pub state: State,
    /// Changes that wait for others.
    pub waiting: Vec<Change>,
    /// The changes to keep, in an order that can be applied.
    pub changes: Vec<NewChange>,
    /// What the job list shows.
    pub projection: Projection,
}

/// The answer.
#[derive(Debug)]
pub enum Ruling {
    /// It may be kept.
    Admitted(Box<Admitted>),
    /// It may not; a stable word and perhaps a subject.
    Refused(String),
}

/// Why a message is refused.
struct Flaw(String);

fn flaw(reason: impl Into<String>) -> Flaw {
    Flaw(reason.into())
}

/// Rules on a message.
///
/// # Errors
/// When the database fails or the sender is no member any more.
pub async fn rule(
    live: &Live,
    key: &DocKey,
    sender: &Sender,
    question: Question,
) -> anyhow::Result<Ruling> {
    let me = live.store.me(&key.shop, &sender.user).await?;
    anyhow::ensure!(me.is_some(), "the sender is no member any more");
    let actors = live
        .store
        .actors(&key.shop, &sender.user, &sender.device)
        .await?
        .into_iter()
        .collect();
    let ruling = spawn_blocking(move || {
        guarded(|| match weigh(question, &actors) {
            Ok(admitted) => Ok(Ruling::Admitted(Box::new(admitted))),
            Err(Flaw(reason)) => Ok(Ruling::Refused(reason)),
        })
    })
    .await?;
    // What makes the engine give up is the message's fault, not the server's.
    Ok(ruling.unwrap_or_else(|error| {
        tracing::warn!(
            error = format!("{error:#}"),
            "a message was too much for the engine"
        );
        Ruling::Refused("unreadable".into())
    }))
}

fn weigh(question: Question, actors: &HashSet<String>) -> Result<Admitted, Flaw> {
    let Question {
        doc,
        mut state,
        waiting,
        data,
    } = question;
    let mut message = Message::decode(&data).map_err(|_| flaw("unreadable"))?;
    check_counts(&message)?;
    let mut candidates = waiting;
    for chunk in message.changes.iter() {
        check_chunk(chunk)?;
        let change = Change::from_bytes(chunk.to_vec()).map_err(|_| flaw("unreadable"))?;
        if !knows(&doc, &change.hash()) {
            candidates.push(change);
        }
    }
    let (ready, waiting) = sort(&doc, candidates);
    if waiting.len() > MAX_WAITING {
        return Err(flaw("too-many-waiting"));
    }
    for change in &ready {
        check_actor(change, actors)?;
        check_form(change)?;
    }
    message.changes = ChunkList::from(
        ready
            .iter()
            .map(|change| change.raw_bytes().to_vec())
            .collect::<Vec<_>>(),
    );
    let mut next = Automerge::clone(&doc);
    next.receive_sync_message(&mut state, message)
        .map_err(|_| flaw("does-not-apply"))?;
    let doc = if ready.is_empty() {
        doc
    } else {
        check_whole(&next, &ready)?;
        keeps_the_record(&doc, &next).map_err(|breach| flaw(format!("record {}", breach.0)))?;
        Arc::new(next)
    };
    Ok(Admitted {
        projection: projection(&doc),
        doc,
        state,
        waiting,
        changes: ready.iter().map(new_change).collect::<Result<_, _>>()?,
    })
}

fn check_counts(message: &Message) -> Result<(), Flaw> {
    if message.heads.len() > MAX_HASHES
        || message.need.len() > MAX_HASHES
        || message.have.len() > MAX_SUMMARIES
        || message.changes.len() > MAX_CHANGES
    {
        return Err(flaw("too-large"));
    }
    for have in &message.have {
        if have.last_sync.len() > MAX_HASHES {
            return Err(flaw("too-large"));
        }
        check_bloom(&have.bloom.to_bytes())?;
    }
    Ok(())
}

/// No bytes mean no entries.
fn check_bloom(bytes: &[u8]) -> Result<(), Flaw> {
    if bytes.is_empty() {
        return Ok(());
    }
    let (entries, bits, probes) = claims::bloom(bytes).ok_or_else(|| flaw("unreadable"))?;
    if entries > MAX_BLOOM_ENTRIES || !BLOOM_BITS.contains(&bits) || !BLOOM_PROBES.contains(&probes)
    {
        return Err(flaw("summary"));
    }
    Ok(())
}

/// Only plain changes, one per chunk, of bounded claims: packed ones can claim any size.
fn check_chunk(chunk: &[u8]) -> Result<(), Flaw> {
    if !chunk.starts_with(&CHUNK_MAGIC) || chunk.get(8) != Some(&PLAIN_CHANGE) {
        return Err(flaw("not-plain"));
    }
    match claims::largest(chunk) {
        None => Err(flaw("unreadable")),
        Some(claimed) if claimed > MAX_OPERATIONS => Err(flaw("too-large")),
        Some(_) => Ok(()),
    }
}

/// The actor writes for this person on this device. Only the first change of a book is nobody's:
/// it is the same on every device, of whatever version.
fn check_actor(change: &Change, actors: &HashSet<String>) -> Result<(), Flaw> {
    let actor = change.actor_id().to_hex_string();
    let is_first = change.actor_id().to_bytes() == NOBODY
        && change.seq() == 1
        && change.timestamp() == 0
        && change.deps().is_empty();
    if is_first || actors.contains(&actor) {
        Ok(())
    } else {
        Err(flaw(format!("actor {actor}")))
    }
}

/// A change that is written otherwise than it would be is accepted today and never loads again.
fn check_form(change: &Change) -> Result<(), Flaw> {
    let again = Change::from(change.decode());
    if again.raw_bytes() == change.raw_bytes() {
        Ok(())
    } else {
        Err(flaw("not-canonical"))
    }
}

/// Everything that was admitted is in, and the whole loads again from its saved bytes.
fn check_whole(next: &Automerge, ready: &[Change]) -> Result<(), Flaw> {
    if !ready.iter().all(|change| knows(next, &change.hash())) {
        return Err(flaw("does-not-apply"));
    }
    let again = Automerge::load(&next.save()).map_err(|_| flaw("does-not-load"))?;
    if again.get_heads() == next.get_heads() {
        Ok(())
    } else {
        Err(flaw("does-not-load"))
    }
}

fn knows(doc: &Automerge, hash: &ChangeHash) -> bool {
    doc.get_change_meta_by_hash(hash).is_some()
}

/// Those whose dependencies are all here, in order, and those that still wait.
fn sort(doc: &Automerge, candidates: Vec<Change>) -> (Vec<Change>, Vec<Change>) {
    let mut here = HashSet::new();
    let mut ready = Vec::new();
    let mut waiting = candidates;
    loop {
        let before = ready.len();
        let mut still = Vec::new();
        for change in waiting {
            if here.contains(&change.hash()) {
                continue;
            }
            if change
                .deps()
                .iter()
                .all(|dep| here.contains(dep) || knows(doc, dep))
            {
                here.insert(change.hash());
                ready.push(change);
            } else {
                still.push(change);
            }
        }
        waiting = still;
        if ready.len() == before {
            return (ready, waiting);
        }
    }
}

/// Every change of a document that was made here, for keeping.
///
/// # Errors
/// When an actor has made more changes than a database can count.
pub fn new_changes(doc: &Automerge) -> anyhow::Result<Vec<NewChange>> {
    let changes = doc.get_changes(&[]);
    let kept = changes
        .iter()
        .map(|change| new_change(change).map_err(|Flaw(reason)| anyhow::anyhow!(reason)));
    kept.collect()
}

fn new_change(change: &Change) -> Result<NewChange, Flaw> {
    Ok(NewChange {
        hash: change.hash().0.to_vec(),
        actor: change.actor_id().to_hex_string(),
        actor_seq: i64::try_from(change.seq()).map_err(|_| flaw("sequence"))?,
        bytes: change.raw_bytes().to_vec(),
    })
}

/// Number and vehicle as the card says; whatever is broken in the book is empty here.
fn projection(doc: &Automerge) -> Projection {
    let (job, _) = book::read(doc);
    Projection {
        number: job.card.number,
        vehicle: job.card.vehicle,
    }
}
