//! The gate's edge: who may write under which actor, and a thread to weigh a message on.

use std::collections::HashSet;

use automerge::{Automerge, ChangeHash};
use shared::job::Job;
use shared::proof::Digest;
use shared::sync::gate::{Accepted, Admitted, Question, Refusal, weigh};
use shared::sync::replay::digest;
use tokio::task::spawn_blocking;

use super::Live;
use crate::store::{DocKey, NewChange, Projection, Sender};

/// Rules on a message.
///
/// # Errors
/// When the database fails, or the sender is no member any more, or their session or device has ended.
pub async fn rule(
    live: &Live,
    key: &DocKey,
    (sender, session): (&Sender, &str),
    question: Question,
) -> anyhow::Result<Result<Admitted, Refusal>> {
    let may_write = live.store.may_write(&key.shop, sender, session).await?;
    anyhow::ensure!(may_write, "the sender's access has ended");
    let actors: HashSet<String> = live
        .store
        .actors(&key.shop, &sender.user, &sender.device)
        .await?
        .into_iter()
        .collect();
    let ruling =
        spawn_blocking(move || weigh(question, |who| actors.contains(&who.to_hex_string())))
            .await?;
    if matches!(ruling, Err(Refusal::Engine)) {
        tracing::warn!(doc = key.doc, "a message was too much for the engine");
    }
    Ok(ruling)
}

/// What a follower says it has; changes that it sends are dropped by the gate.
///
/// # Errors
/// When the database fails, the link is good no more, or the message is none.
pub async fn hear_follower(
    live: &Live,
    key: &DocKey,
    link: &str,
    question: Question,
) -> anyhow::Result<Admitted> {
    let now_ms = live.clock.now_ms();
    let followed = live.store.followed(&key.shop, link, now_ms).await?;
    let its_own = followed.is_some_and(|followed| followed.book == key.doc);
    anyhow::ensure!(its_own, "the link is good no more");
    let admitted = spawn_blocking(move || weigh(question, |_| false)).await??;
    // The gate's promise; a change without an author must never be kept.
    anyhow::ensure!(admitted.changes.is_empty(), "a follower's change passed");
    Ok(admitted)
}

/// Every change of a document that was made here since it had these heads, for keeping.
///
/// # Errors
/// When an actor has made more changes than a database can count.
pub fn new_changes(doc: &Automerge, since: &[ChangeHash]) -> anyhow::Result<Vec<NewChange>> {
    let changes = doc.get_changes(since);
    changes.iter().map(Accepted::of).map(new_change).collect()
}

/// A change as a row.
///
/// # Errors
/// When its actor has made more changes than a database can count.
pub fn new_change(change: Accepted) -> anyhow::Result<NewChange> {
    Ok(NewChange {
        hash: digest(&change.hash),
        actor: change.actor.to_hex_string(),
        actor_seq: i64::try_from(change.seq)?,
        bytes: change.bytes,
    })
}

/// Heads of a document as the log writes them.
#[must_use]
pub fn heads(doc: &Automerge) -> Vec<Digest> {
    doc.get_heads().iter().map(digest).collect()
}

/// Number and vehicle as the card says; whatever is broken in the book is empty here.
#[must_use]
pub fn projection(job: Job) -> Projection {
    Projection {
        number: job.card.number,
        vehicle: job.card.vehicle,
    }
}
