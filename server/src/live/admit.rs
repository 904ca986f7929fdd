//! The gate's edge: who may write under which actor, and a thread to weigh a message on.

use std::collections::HashSet;

use automerge::Automerge;
use shared::job::Job;
use shared::sync::gate::{Accepted, Admitted, Question, Refusal, weigh};
use tokio::task::spawn_blocking;

use super::Live;
use crate::store::{DocKey, NewChange, Projection, Sender};

/// Rules on a message.
///
/// # Errors
/// When the database fails or the sender is no member any more.
pub async fn rule(
    live: &Live,
    key: &DocKey,
    sender: &Sender,
    question: Question,
) -> anyhow::Result<Result<Admitted, Refusal>> {
    let me = live.store.me(&key.shop, &sender.user).await?;
    anyhow::ensure!(me.is_some(), "the sender is no member any more");
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

/// Every change of a document that was made here, for keeping.
///
/// # Errors
/// When an actor has made more changes than a database can count.
pub fn new_changes(doc: &Automerge) -> anyhow::Result<Vec<NewChange>> {
    let changes = doc.get_changes(&[]);
    changes.iter().map(Accepted::of).map(new_change).collect()
}

/// A change as a row.
///
/// # Errors
/// When its actor has made more changes than a database can count.
pub fn new_change(change: Accepted) -> anyhow::Result<NewChange> {
    Ok(NewChange {
        hash: change.hash.0.to_vec(),
        actor: change.actor.to_hex_string(),
        actor_seq: i64::try_from(change.seq)?,
        bytes: change.bytes,
    })
}

/// Number and vehicle as the card says; whatever is broken in the book is empty here.
#[must_use]
pub fn projection(job: Job) -> Projection {
    Projection {
        number: job.card.number,
        vehicle: job.card.vehicle,
    }
}
