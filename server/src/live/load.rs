//! From stored chunks to a document and back, away from the async threads and behind
//! `catch_unwind`: a broken row must not take the server down.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use anyhow::{Context, anyhow};
use automerge::{Automerge, ChangeHash};
use shared::proof::Digest;
use tokio::task::spawn_blocking;

use crate::store::{DocKey, Store, Stored};

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
pub async fn load(store: &Store, key: &DocKey) -> anyhow::Result<Loaded> {
    let stored = store.load_doc(key).await?.unwrap_or_default();
    let has_snapshot = stored.snapshot_seq > 0;
    match inflate(stored).await {
        Err(error) if has_snapshot => {
            tracing::warn!(
                doc = key.doc,
                error = format!("{error:#}"),
                "broken snapshot; the record is read instead"
            );
            store.drop_snapshot(key).await?;
            inflate(store.load_record(key).await?).await
        }
        loaded => loaded,
    }
}

/// A document with what its record has after a sequence, and the sequence then. The changes were
/// accepted when they were kept; that the document takes all of them is looked at all the same.
///
/// # Errors
/// When the database fails or the record itself does not load.
pub async fn read_on(
    store: &Store,
    key: &DocKey,
    doc: &Arc<Automerge>,
    seq: i64,
) -> anyhow::Result<(Automerge, i64)> {
    let later = store.changes_after(key, seq).await?;
    let seq = later.seq;
    let doc = doc.clone();
    let taken = spawn_blocking(move || {
        guarded(|| {
            let mut doc = Automerge::clone(&doc);
            doc.load_incremental(&later.chunks)
                .context("reading on in the record")?;
            let mut hashes = later.hashes.iter();
            let has = |hash: &Digest| doc.get_change_meta_by_hash(&ChangeHash(hash.0)).is_some();
            match hashes.all(has) {
                true => Ok(doc),
                false => Err(anyhow!("changes that the document does not take")),
            }
        })
    })
    .await?;
    match taken {
        Ok(doc) => Ok((doc, seq)),
        Err(error) => {
            tracing::warn!(
                doc = key.doc,
                error = format!("{error:#}"),
                "the whole record is read instead"
            );
            let loaded = inflate(store.load_record(key).await?).await?;
            Ok((loaded.doc, loaded.seq))
        }
    }
}

/// Does the record of a document load, all of it, and the snapshot to the same?
///
/// # Errors
/// When the database fails, or in words what does not hold.
pub async fn verify(store: &Store, key: &DocKey) -> anyhow::Result<()> {
    let stored = store.load_doc(key).await?.unwrap_or_default();
    let record = inflate(store.load_record(key).await?).await?;
    let rows = store.changes_after(key, 0).await?.hashes;
    let known = |hash: &Digest| {
        record
            .doc
            .get_change_meta_by_hash(&ChangeHash(hash.0))
            .is_some()
    };
    let count = record.doc.get_changes_meta(&[]).len();
    anyhow::ensure!(
        rows.len() == count && rows.iter().all(known),
        "the record has {} changes, the book made of it {count}",
        rows.len()
    );
    let cached = inflate(stored).await.context("the snapshot")?;
    anyhow::ensure!(
        cached.doc.get_heads() == record.doc.get_heads() && cached.seq == record.seq,
        "the snapshot is of another book than the record"
    );
    Ok(())
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
