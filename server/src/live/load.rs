//! From stored chunks to a document and back, away from the async threads and behind
//! `catch_unwind`: a broken row must not take the server down.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use anyhow::{Context, anyhow};
use automerge::Automerge;
use tokio::task::spawn_blocking;

use super::Live;
use crate::store::{DocKey, Stored};

/// A loaded document.
#[derive(Debug)]
pub struct Loaded {
    /// The document.
    pub doc: Automerge,
    /// Its sequence in the record.
    pub seq: i64,
    /// The sequence of its snapshot.
    pub snapshot_seq: i64,
}

/// Loads a document; an empty one when the shop has none of this id.
///
/// # Errors
/// When the database fails or the record itself does not load.
pub async fn load(live: &Live, key: &DocKey) -> anyhow::Result<Loaded> {
    let stored = live.store.load_doc(key).await?.unwrap_or_default();
    let has_snapshot = stored.snapshot_seq > 0;
    match inflate(stored).await {
        Err(error) if has_snapshot => {
            tracing::warn!(
                doc = key.doc,
                error = format!("{error:#}"),
                "broken snapshot; the record is read instead"
            );
            live.store.drop_snapshot(key).await?;
            inflate(live.store.load_record(key).await?).await
        }
        loaded => loaded,
    }
}

async fn inflate(stored: Stored) -> anyhow::Result<Loaded> {
    spawn_blocking(move || {
        // One call for all chunks: one by one is thirty times slower.
        let doc = guarded(|| Automerge::load(&stored.chunks).context("loading the record"))?;
        Ok(Loaded {
            doc,
            seq: stored.seq,
            snapshot_seq: stored.snapshot_seq,
        })
    })
    .await?
}

/// Saves a document and checks that the bytes load to the same heads; `None` when they do not.
///
/// # Errors
/// When the bytes do not load again, or to something else.
pub async fn verified_snapshot(doc: Arc<Automerge>) -> anyhow::Result<Vec<u8>> {
    spawn_blocking(move || {
        guarded(|| {
            let bytes = doc.save();
            let again = Automerge::load(&bytes).context("loading the snapshot again")?;
            if again.get_heads() == doc.get_heads() {
                Ok(bytes)
            } else {
                Err(anyhow!("the snapshot loads to other heads"))
            }
        })
    })
    .await?
}

/// Turns a panic of the document engine into an error.
pub(super) fn guarded<T>(work: impl FnOnce() -> anyhow::Result<T>) -> anyhow::Result<T> {
    catch_unwind(AssertUnwindSafe(work))
        .unwrap_or_else(|_| Err(anyhow!("the document engine gave up")))
}
