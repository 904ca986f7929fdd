//! The gate: is what a peer sent fit to become part of a book? Asked before anything is kept.
//!
//! Foreign bytes can kill. Ten of them make the document engine divide by zero, twenty-eight claim
//! a million million operations, and a change that is merely written oddly is accepted and then
//! keeps the saved book from ever loading again. So every message passes here, cheapest question
//! first, and each question has a file of its own:
//!
//! 1. size, then counts and summaries of the raw message (`outline`);
//! 2. every change a plain chunk, whole, with its checksum (`chunk`), known ones skipped;
//! 3. what the changes claim to hold (`claims`), before anything is unpacked;
//! 4. whose they are, by the caller's word (`first` for the one that is nobody's);
//! 5. what they build on is here, or they wait (`waiting`);
//! 6. they are their authors' next ones (`author`), written as the engine writes (`trial`);
//! 7. a clone of the document takes them, is saved, loads again, keeps what is written once, and
//!    is read as a car (`trial`).
//!
//! [`weigh`] does it all behind `catch_unwind` and answers with what to keep or why not. A message is
//! let in whole or not at all. This module refuses to know databases, people and lines: who may
//! write under which actor is an argument, and the caller keeps the changes before it tells anyone.

mod bytes;
mod outline;
mod chunk;
mod claims;
mod waiting;
mod author;
mod first;
mod trial;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use automerge::sync::{Message, State};
use automerge::{ActorId, Automerge, Change, ChangeHash};

use crate::job::Job;
pub use waiting::Waiting;

/// Largest message: a job file of the most readings that there may be, imported as one change, takes
/// twelve million bytes.
pub const MAX_MESSAGE_BYTES: usize = 16 * 1024 * 1024;
/// Operations that a message may claim: so many, and one more for each of its bytes. A person's
/// entry takes about eight bytes per operation, an imported job sixteen.
const FREE_OPERATIONS: u64 = 20_000;
/// Bytes of text that a message may claim: so many, and eight for each of its bytes.
const FREE_TEXT_BYTES: u64 = 1024 * 1024;

/// What a peer may do with a book.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Its changes are weighed.
    Write,
    /// Its changes are dropped; it is told what others write.
    Read,
}

/// What is known of a peer in one book's conversation.
#[derive(Debug, Clone, Default)]
pub struct Meeting {
    /// What it has said that it has.
    pub state: State,
    /// Its changes that wait for others.
    pub waiting: Waiting,
}

/// A message, and the document it meets.
#[derive(Debug, Clone)]
pub struct Question {
    /// The document as it is on disk.
    pub doc: Arc<Automerge>,
    /// What is known of the peer.
    pub meeting: Meeting,
    /// What the peer may do.
    pub role: Role,
    /// The message, not yet trusted.
    pub data: Vec<u8>,
}

/// What the book becomes once the changes are kept.
#[derive(Debug)]
pub struct Admitted {
    /// The document with the changes.
    pub doc: Arc<Automerge>,
    /// What is known of the peer then.
    pub meeting: Meeting,
    /// The changes to keep, in an order that can be applied; all in one transaction.
    pub changes: Vec<Accepted>,
    /// The car as it is then, when anything changed.
    pub job: Option<Job>,
    /// How many changes of a reader were dropped, unread.
    pub dropped: usize,
}

/// One change to keep.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Accepted {
    /// Its hash.
    pub hash: ChangeHash,
    /// Who wrote it.
    pub actor: ActorId,
    /// Its number among its author's.
    pub seq: u64,
    /// The chunk as it was sent.
    pub bytes: Vec<u8>,
}

impl Accepted {
    /// A change as it is kept.
    #[must_use]
    pub fn of(change: &Change) -> Self {
        Self {
            hash: change.hash(),
            actor: change.actor_id().clone(),
            seq: change.seq(),
            bytes: change.raw_bytes().to_vec(),
        }
    }
}

/// Why a message is refused: a stable word, and what it is about.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// Larger, or of more things, than a book needs.
    #[error("too-large")]
    TooLarge,
    /// Not of the form.
    #[error("unreadable")]
    Unreadable,
    /// A summary that asks for too much.
    #[error("summary")]
    Summary,
    /// Something else than single plain changes.
    #[error("not-plain")]
    NotPlain,
    /// The bytes are not those that were sent off.
    #[error("checksum")]
    Checksum,
    /// Too much that builds on what is not here.
    #[error("too-many-waiting")]
    TooManyWaiting,
    /// An actor that is not this person's on this device.
    #[error("actor {0}")]
    Actor(String),
    /// Not the next change of this actor.
    #[error("sequence {0}")]
    Sequence(String),
    /// Nobody's change that holds something of somebody's.
    #[error("first-change")]
    FirstChange,
    /// Written otherwise than it would be.
    #[error("not-canonical")]
    NotCanonical,
    /// The document does not take it.
    #[error("does-not-apply")]
    DoesNotApply,
    /// The document would not load again.
    #[error("does-not-load")]
    DoesNotLoad,
    /// It alters what is written once.
    #[error("record {0}")]
    Record(String),
    /// The document engine gave up.
    #[error("engine")]
    Engine,
}

/// Rules on a message; `may_write` says whether an actor is this person's on this device.
///
/// Takes as long as loading the book does, so the caller keeps it away from threads that others
/// wait for.
///
/// # Errors
/// [`Refusal`]; nothing of the message may be used then.
pub fn weigh(
    question: Question,
    may_write: impl Fn(&ActorId) -> bool,
) -> Result<Admitted, Refusal> {
    // Everything in it is a clone or a shared document that is only read.
    catch_unwind(AssertUnwindSafe(|| pass(question, may_write))).unwrap_or(Err(Refusal::Engine))
}

/// One change on its own, unpacked after its form and its claims were looked at. It may still be
/// anybody's, and written oddly; the caller guards against a panic of the engine.
///
/// # Errors
/// [`Refusal`] when it is no plain change or claims more than a book needs.
pub(super) fn open(bytes: &[u8]) -> Result<Change, Refusal> {
    if bytes.len() > MAX_MESSAGE_BYTES {
        return Err(Refusal::TooLarge);
    }
    let (_, contents) = chunk::open(bytes)?;
    let claimed = claims::of(contents).ok_or(Refusal::Unreadable)?;
    bear(bytes.len() as u64, claimed)?;
    Change::try_from(bytes).map_err(|_| Refusal::Unreadable)
}

/// Refuses what claims more than its bytes can hold.
fn bear(bytes: u64, claimed: claims::Claims) -> Result<(), Refusal> {
    let too_much = claimed.operations > FREE_OPERATIONS + bytes
        || claimed.text_bytes > FREE_TEXT_BYTES + 8 * bytes;
    match too_much {
        true => Err(Refusal::TooLarge),
        false => Ok(()),
    }
}

fn pass(question: Question, may_write: impl Fn(&ActorId) -> bool) -> Result<Admitted, Refusal> {
    let Question {
        doc,
        meeting: Meeting { mut state, waiting },
        role,
        data,
    } = question;
    if data.len() > MAX_MESSAGE_BYTES {
        return Err(Refusal::TooLarge);
    }
    let chunks = outline::chunks(&data)?;
    let (fresh, dropped) = match role {
        Role::Write => (unpack(&doc, &waiting, &chunks)?, 0),
        Role::Read => (Vec::new(), chunks.len()),
    };
    for change in &fresh {
        check_author(change, &may_write)?;
    }
    let (ready, waiting) = waiting.sort(&doc, fresh)?;
    if !ready.is_empty() {
        let mut history = author::History::of(&doc);
        for change in &ready {
            history.follow(change)?;
            if !trial::is_canonical(change) {
                return Err(Refusal::NotCanonical);
            }
        }
    }
    let message = Message::decode(&data).map_err(|_| Refusal::Unreadable)?;
    let trial::Outcome { doc, job } = trial::run(&doc, &mut state, message, &ready)?;
    Ok(Admitted {
        doc,
        meeting: Meeting { state, waiting },
        changes: ready.iter().map(Accepted::of).collect(),
        job,
        dropped,
    })
}

/// The changes that are not known yet, unpacked after their claims have been added up.
fn unpack(doc: &Automerge, waiting: &Waiting, chunks: &[&[u8]]) -> Result<Vec<Change>, Refusal> {
    let mut unknown = Vec::new();
    let mut bytes: u64 = 0;
    let mut claimed = claims::Claims::default();
    for chunk in chunks {
        let (hash, contents) = chunk::open(chunk)?;
        if knows(doc, &hash) || waiting.has(&hash) {
            continue;
        }
        bytes += chunk.len() as u64;
        claimed = claimed.and(claims::of(contents).ok_or(Refusal::Unreadable)?);
        unknown.push(*chunk);
    }
    bear(bytes, claimed)?;
    let changes = unknown.into_iter().map(Change::try_from);
    changes
        .collect::<Result<_, _>>()
        .map_err(|_| Refusal::Unreadable)
}

fn check_author(change: &Change, may_write: impl Fn(&ActorId) -> bool) -> Result<(), Refusal> {
    if first::is_nobodys(change) {
        return match first::is_a_beginning(change) {
            true => Ok(()),
            false => Err(Refusal::FirstChange),
        };
    }
    let actor = change.actor_id();
    match may_write(actor) {
        true => Ok(()),
        false => Err(Refusal::Actor(actor.to_hex_string())),
    }
}

fn knows(doc: &Automerge, hash: &ChangeHash) -> bool {
    doc.get_change_meta_by_hash(hash).is_some()
}

#[cfg(test)]
mod tests;
