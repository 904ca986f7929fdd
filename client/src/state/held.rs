//! One book in memory: its document, what is on disk, what the server has.
//!
//! This file refuses to know the store and the network; it says what has to be written and sent.

use automerge::sync::{Message, State, SyncDoc};
use automerge::{ActorId, Automerge, ChangeHash};
use serde::{Deserialize, Serialize};
use shared::book::{self, EditError, Intention, Stamp};
use shared::job::Job;
use shared::result::JobResult;
use shared::verdict::Verdict;

/// A book in memory.
#[derive(Debug)]
pub struct Held {
    /// The document.
    pub doc: Automerge,
    /// What we know of the server, since the line was opened.
    pub peer: State,
    /// Heads up to which everything is on disk.
    pub saved: Vec<ChangeHash>,
    /// Heads that the server has confirmed.
    pub shared: Vec<ChangeHash>,
    /// Times that the server refused what came from here.
    pub refusals: u32,
}

/// What the list of cars shows of a book.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Cover {
    /// Document id.
    pub id: String,
    /// The shop's number.
    pub number: String,
    /// The vehicle.
    pub vehicle: String,
    /// Label of the stage in work.
    pub stage: String,
    /// Quantities outside, unproven, within.
    pub counts: [usize; 3],
    /// Changes that the server does not have.
    pub unshared: usize,
    /// Heads that the server has confirmed, hexadecimal.
    pub shared: Vec<String>,
    /// RFC 3339 time of the last change seen here.
    pub at: String,
    /// Is the book on this phone?
    #[serde(default)]
    pub here: bool,
}

impl Held {
    /// A book that begins here.
    #[must_use]
    pub fn begin(actor: ActorId) -> Self {
        Self::of(book::start().with_actor(actor))
    }

    /// A book that only the server has so far.
    #[must_use]
    pub fn unknown(actor: ActorId) -> Self {
        Self::of(Automerge::new().with_actor(actor))
    }

    fn of(doc: Automerge) -> Self {
        Self {
            doc,
            peer: State::new(),
            saved: Vec::new(),
            shared: Vec::new(),
            refusals: 0,
        }
    }

    /// A book from what the store had; chunks that cannot be read are counted.
    #[must_use]
    pub fn load(
        snapshot: Option<&[u8]>,
        chunks: &[Vec<u8>],
        shared: &[String],
        actor: ActorId,
    ) -> (Self, usize) {
        let mut broken = 0;
        let mut doc = match snapshot.map(Automerge::load) {
            Some(Ok(doc)) => doc,
            Some(Err(_)) => {
                broken += 1;
                Automerge::new()
            }
            None => Automerge::new(),
        };
        for chunk in chunks {
            if !is_whole(chunk) || doc.load_incremental(chunk).is_err() {
                broken += 1;
            }
        }
        doc.set_actor(actor);
        let mut held = Self::of(doc);
        held.saved = held.doc.get_heads();
        let known = shared
            .iter()
            .filter_map(|hex| hex.parse::<ChangeHash>().ok());
        held.shared = known
            .filter(|hash| held.doc.get_change_meta_by_hash(hash).is_some())
            .collect();
        (held, broken)
    }

    /// Does an intention.
    ///
    /// # Errors
    /// [`EditError`]; nothing has changed then.
    pub fn act(&mut self, stamp: &Stamp, intention: &Intention) -> Result<(), EditError> {
        book::edit::apply(&mut self.doc, stamp, intention).map(|_| ())
    }

    /// Changes that are not on disk yet, taken as written; `None` when there are none.
    pub fn take_unsaved(&mut self) -> Option<Vec<u8>> {
        let heads = self.doc.get_heads();
        if heads == self.saved {
            return None;
        }
        let bytes = self.doc.save_after(&self.saved);
        self.saved = heads;
        Some(bytes)
    }

    /// Changes that the server does not have.
    #[must_use]
    pub fn unshared(&self) -> usize {
        self.doc.get_changes(&self.shared).len()
    }

    /// Actors of those changes, and of this session.
    #[must_use]
    pub fn actors(&self) -> Vec<String> {
        let mut actors: Vec<String> = self
            .doc
            .get_changes(&self.shared)
            .iter()
            .map(|change| change.actor_id().to_hex_string())
            .collect();
        actors.push(self.doc.get_actor().to_hex_string());
        actors.sort();
        actors.dedup();
        // The first change of every book is nobody's.
        actors.retain(|actor| actor.bytes().any(|byte| byte != b'0'));
        actors
    }

    /// The next message for the server, if there is anything to say.
    pub fn next_message(&mut self) -> Option<Vec<u8>> {
        self.doc
            .generate_sync_message(&mut self.peer)
            .map(Message::encode)
    }

    /// Takes a message of the server in.
    ///
    /// # Errors
    /// When it cannot be read; the document has not changed then.
    pub fn receive(&mut self, data: &[u8]) -> Result<(), String> {
        let message = Message::decode(data).map_err(|error| error.to_string())?;
        self.doc
            .receive_sync_message(&mut self.peer, message)
            .map_err(|error| error.to_string())?;
        if let Some(heads) = &self.peer.their_heads {
            let known: Vec<ChangeHash> = heads
                .iter()
                .copied()
                .filter(|hash| self.doc.get_change_meta_by_hash(hash).is_some())
                .collect();
            if !known.is_empty() {
                self.shared = known;
            }
        }
        Ok(())
    }

    /// Goes back to what the server has, under a new actor.
    pub fn back_to_shared(&mut self, actor: ActorId) {
        let base = self
            .doc
            .fork_at(&self.shared)
            .ok()
            .filter(|_| !self.shared.is_empty());
        let doc = base.unwrap_or_else(book::start);
        self.doc = doc.with_actor(actor);
        self.peer = State::new();
        self.saved = self.doc.get_heads();
        self.refusals += 1;
    }

    /// What the list of cars shows.
    #[must_use]
    pub fn cover(&self, id: &str, job: &Job, result: Option<&JobResult>, at: String) -> Cover {
        Cover {
            id: id.to_owned(),
            number: job.card.number.clone(),
            vehicle: job.card.vehicle.clone(),
            stage: job
                .stages
                .last()
                .map(|stage| stage.label.clone())
                .unwrap_or_default(),
            counts: result.map(counts).unwrap_or_default(),
            unshared: self.unshared(),
            shared: self.shared.iter().map(ToString::to_string).collect(),
            at,
            here: true,
        }
    }
}

/// Are these whole chunks, one after the other? The document engine passes over what is cut off.
///
/// A chunk is four magic bytes, four of a checksum, a type and a length in LEB128 before its data
/// (Automerge binary format, 'chunks'); the engine checks the checksum.
fn is_whole(mut bytes: &[u8]) -> bool {
    const MAGIC: [u8; 4] = [0x85, 0x6f, 0x4a, 0x83];
    while !bytes.is_empty() {
        if !bytes.starts_with(&MAGIC) || bytes.len() < 10 {
            return false;
        }
        let (mut length, mut shift, mut at) = (0_usize, 0, 9);
        loop {
            let Some(&byte) = bytes.get(at).filter(|_| shift < 32) else {
                return false;
            };
            length |= usize::from(byte & 0x7f) << shift;
            (shift, at) = (shift + 7, at + 1);
            if byte & 0x80 == 0 {
                break;
            }
        }
        match bytes.get(at + length..) {
            Some(rest) => bytes = rest,
            None => return false,
        }
    }
    true
}

/// Quantities outside, unproven, within in the latest stage with any.
#[must_use]
pub fn counts(result: &JobResult) -> [usize; 3] {
    let of_stage = |stage: &shared::result::StageResult| {
        let mut counts = [0; 3];
        let pairs = stage.pairs.iter().flat_map(|pair| {
            [
                &pair.right_higher_mm,
                &pair.centre_right_mm,
                &pair.right_rearward_mm,
                &pair.width_mm,
            ]
            .map(|judged| judged.verdict)
        });
        let points = stage.points.values().flat_map(|point| point.verdict);
        for verdict in pairs.chain(points).flatten() {
            counts[match verdict {
                Verdict::Outside => 0,
                Verdict::Unproven => 1,
                Verdict::Within => 2,
            }] += 1;
        }
        counts
    };
    let all = result.stages.iter().rev().map(of_stage);
    all.into_iter()
        .find(|counts| counts.iter().sum::<usize>() > 0)
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stamp() -> Stamp {
        Stamp {
            by: "Ana".into(),
            at: "2026-03-02T09:14:00Z".into(),
            at_ms: 0,
            record: "a".into(),
        }
    }

    fn note(id: &str) -> Intention {
        Intention::WriteNote {
            id: id.into(),
            text: "dented".into(),
        }
    }

    #[test]
    fn what_was_written_is_loaded_again() {
        let mut held = Held::begin(ActorId::from(&[1; 16][..]));
        let first = held.take_unsaved().unwrap();
        held.act(&stamp(), &note("n1")).unwrap();
        let second = held.take_unsaved().unwrap();
        assert_eq!(held.take_unsaved(), None);
        let (again, broken) = Held::load(None, &[first, second], &[], ActorId::from(&[2; 16][..]));
        assert_eq!(broken, 0);
        assert_eq!(again.doc.get_heads(), held.doc.get_heads());
        assert_eq!(again.unshared(), 2);
    }

    #[test]
    fn a_broken_chunk_is_counted_and_the_rest_is_there() {
        let mut held = Held::begin(ActorId::from(&[1; 16][..]));
        let first = held.take_unsaved().unwrap();
        let cut = first[..first.len() - 1].to_vec();
        let (again, broken) = Held::load(
            None,
            &[cut, first, vec![1, 2, 3]],
            &[],
            ActorId::from(&[2; 16][..]),
        );
        assert_eq!(broken, 2);
        assert_eq!(again.doc.get_heads(), held.doc.get_heads());
    }

    #[test]
    fn what_the_server_refuses_is_left_and_the_shared_part_stays() {
        let mut held = Held::begin(ActorId::from(&[1; 16][..]));
        held.act(&stamp(), &note("n1")).unwrap();
        held.shared = held.doc.get_heads();
        held.act(
            &Stamp {
                record: "b".into(),
                ..stamp()
            },
            &note("n2"),
        )
        .unwrap();
        assert_eq!(held.unshared(), 1);
        let kept = held.shared.clone();
        held.back_to_shared(ActorId::from(&[3; 16][..]));
        assert_eq!(held.doc.get_heads(), kept);
        assert_eq!(held.unshared(), 0);
        held.act(
            &Stamp {
                record: "c".into(),
                ..stamp()
            },
            &note("n2"),
        )
        .unwrap();
        assert_eq!(held.actors(), ["03".repeat(16)]);
    }
}
