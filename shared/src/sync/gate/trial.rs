//! The last and dearest question: what happens when the changes are let in? Asked of a clone.

use std::sync::Arc;

use automerge::sync::{ChunkList, Message, State, SyncDoc};
use automerge::{Automerge, Change, PatchLog};

use super::{Refusal, knows};
use crate::book::{self, keep::keeps_the_record};
use crate::job::Job;

/// A change that is written otherwise than the engine would write it is accepted today, and the
/// saved document never loads again.
pub(super) fn is_canonical(change: &Change) -> bool {
    Change::from(change.decode()).raw_bytes() == change.raw_bytes()
}

/// The document after a message that carries these changes and no others, and its car.
pub(super) fn run(
    doc: &Arc<Automerge>,
    state: &mut State,
    mut message: Message,
    ready: &[Change],
) -> Result<Outcome, Refusal> {
    let plain: Vec<Vec<u8>> = ready
        .iter()
        .map(|change| change.raw_bytes().to_vec())
        .collect();
    message.changes = ChunkList::from(plain);
    let mut next = Automerge::clone(doc);
    let mut log = PatchLog::active();
    next.receive_sync_message_log_patches(state, message, &mut log)
        .map_err(|_| Refusal::DoesNotApply)?;
    if ready.is_empty() {
        return Ok(Outcome {
            doc: doc.clone(),
            job: None,
        });
    }
    if !ready.iter().all(|change| knows(&next, &change.hash())) {
        return Err(Refusal::DoesNotApply);
    }
    let again = Automerge::load(&next.save()).map_err(|_| Refusal::DoesNotLoad)?;
    if again.get_heads() != next.get_heads() {
        return Err(Refusal::DoesNotLoad);
    }
    let patches = next.make_patches(&mut log);
    keeps_the_record(doc, &next, &patches).map_err(|breach| Refusal::Record(breach.0))?;
    let (job, _) = book::read(&next);
    Ok(Outcome {
        doc: Arc::new(next),
        job: Some(job),
    })
}

/// What came of it.
pub(super) struct Outcome {
    pub doc: Arc<Automerge>,
    pub job: Option<Job>,
}
