//! The record of changes on both databases: complete, in order, and with one writer at a time.

use anyhow::Result;
use automerge::transaction::Transactable;
use automerge::{ActorId, AutoCommit, Automerge, ROOT};
use server::store::{Batch, DocKey, Exported, Kept, NewChange, Projection, Sender, Store};
use shared::proof::Digest;
use shared::sync::replay::digest;
use shared::wire::Role;
use tests::database::Engine;
use tests::shop::{Person, Shop};

const DEVICE: &str = "01ARZ3NDEKTSV4RRFFQ69G5FAV";
const NOW_MS: i64 = 1_800_000_000_000;

fn key(who: &Person) -> DocKey {
    let shop = who
        .session
        .as_ref()
        .map(|s| s.me.shop.clone())
        .unwrap_or_default();
    DocKey {
        shop,
        doc: "book".into(),
    }
}

fn batch(
    key: &DocKey,
    who: &Person,
    after_seq: i64,
    changes: Vec<NewChange>,
    heads: Vec<Digest>,
) -> Batch {
    let user = who
        .session
        .as_ref()
        .map(|s| s.me.user.clone())
        .unwrap_or_default();
    Batch {
        key: key.clone(),
        sender: Sender {
            user,
            device: DEVICE.into(),
        },
        after_seq,
        changes,
        heads,
        projection: Projection {
            number: "7".into(),
            vehicle: "hatchback".into(),
        },
    }
}

fn change(doc: &mut AutoCommit, name: &str, value: i64) -> Result<NewChange> {
    let before = doc.get_heads();
    doc.put(ROOT, name, value)?;
    doc.commit();
    let change = doc.get_changes(&before).remove(0);
    Ok(NewChange {
        hash: digest(&change.hash()),
        actor: change.actor_id().to_hex_string(),
        actor_seq: i64::try_from(change.seq())?,
        bytes: change.raw_bytes().to_vec(),
    })
}

/// The heads of the record once it has a change as well.
async fn heads_with(store: &Store, key: &DocKey, change: &NewChange) -> Result<Vec<Digest>> {
    let mut chunks = store.load_doc(key).await?.unwrap_or_default().chunks;
    chunks.extend(&change.bytes);
    let doc = Automerge::load(&chunks)?;
    Ok(doc.get_heads().iter().map(digest).collect())
}

/// Two servers on one database write the same document at once, each again after it was second.
async fn race_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    marta.ticket(DEVICE, &[]).await?;
    ana.ticket(DEVICE, &[]).await?;
    let key = key(&marta);
    let mut writers = tokio::task::JoinSet::new();
    for (n, who) in [(1_u8, marta.clone()), (2, ana.clone())] {
        let (key, url) = (key.clone(), shop.scratch.url.clone());
        writers.spawn(async move {
            let store = Store::open(&url, [n; 32]).await?;
            let mut doc = AutoCommit::new().with_actor(ActorId::from([n; 16]));
            let mut seq = 0;
            for value in 0..25 {
                let change = change(&mut doc, &format!("by-{n}"), value)?;
                loop {
                    let heads = heads_with(&store, &key, &change).await?;
                    let batch = batch(&key, &who, seq, vec![change.clone()], heads);
                    match store.keep_changes(&batch, NOW_MS).await? {
                        Kept::UpTo(now) => break seq = now,
                        Kept::MovedOn => {
                            seq = store.load_doc(&key).await?.map_or(0, |stored| stored.seq);
                        }
                    }
                }
            }
            store.close().await?;
            anyhow::Ok(())
        });
    }
    while let Some(done) = writers.join_next().await {
        done??;
    }
    let count = shop
        .scratch
        .number("SELECT COUNT(*) FROM doc_change")
        .await?;
    let last = shop
        .scratch
        .number("SELECT MAX(seq) FROM doc_change")
        .await?;
    assert_eq!((count, last), (50, 50), "no gap, no double");
    let audit = shop
        .scratch
        .number("SELECT COUNT(*) FROM log_entry WHERE kind = 'changes-accepted'")
        .await?;
    assert_eq!(audit, 50, "one audit event per batch");
    let whole = shop
        .scratch
        .number("SELECT COUNT(*) - 1 - MAX(place) FROM log_entry")
        .await?;
    assert_eq!(whole, 0, "the audit log has no gap");
    let Exported::Bundle(bundle) = shop.running.app.store.export_log(None).await? else {
        anyhow::bail!("no log");
    };
    let report = shared::sync::replay::verify(&bundle);
    assert_eq!((report.fault, report.changes), (None, 50), "the log holds");
    let stored = shop
        .running
        .app
        .store
        .load_doc(&key)
        .await?
        .unwrap_or_default();
    let doc = Automerge::load(&stored.chunks)?;
    assert_eq!(doc.get_changes(&[]).len(), 50);
    let jobs: Vec<shared::wire::JobLine> = ana.read("/api/jobs").await?;
    assert_eq!(jobs.len(), 1);
    assert_eq!(jobs[0].vehicle, "hatchback");
    assert_eq!(jobs[0].last_activity, "2027-01-15T08:00:00Z");
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn race_on_sqlite() -> Result<()> {
    race_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn race_on_postgres() -> Result<()> {
    race_story(Engine::Postgres).await
}

fn heads(doc: &mut AutoCommit) -> Vec<Digest> {
    doc.get_heads().iter().map(digest).collect()
}

/// A snapshot never stands in for the record: without it the same document is there.
async fn snapshot_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    marta.ticket(DEVICE, &[]).await?;
    let (key, store) = (key(&marta), &shop.running.app.store);
    let mut doc = AutoCommit::new().with_actor(ActorId::from([7; 16]));
    let mut changes = Vec::new();
    // More than one statement holds.
    for value in 0..1200 {
        changes.push(change(&mut doc, "n", value)?);
    }
    let again = changes[3].clone();
    let kept = store
        .keep_changes(&batch(&key, &marta, 0, changes, heads(&mut doc)), NOW_MS)
        .await?;
    assert_eq!(kept, Kept::UpTo(1200));
    store.keep_snapshot(&key, 1200, doc.save(), NOW_MS).await?;
    store
        .keep_snapshot(&key, 1, b"older".to_vec(), NOW_MS)
        .await?;
    let later = change(&mut doc, "n", -1)?;
    store
        .keep_changes(
            &batch(&key, &marta, 1200, vec![later], heads(&mut doc)),
            NOW_MS,
        )
        .await?;
    let stored = store.load_doc(&key).await?.unwrap_or_default();
    assert_eq!((stored.seq, stored.snapshot_seq), (1201, 1200));
    assert_eq!(
        Automerge::load(&stored.chunks)?.get_heads(),
        doc.get_heads()
    );
    let record = store.load_record(&key).await?;
    assert_eq!(
        Automerge::load(&record.chunks)?.get_heads(),
        doc.get_heads()
    );
    // The same change cannot be in the record twice.
    assert!(
        store
            .keep_changes(&batch(&key, &marta, 1201, vec![again], Vec::new()), NOW_MS)
            .await
            .is_err()
    );
    assert_eq!(store.load_doc(&key).await?.unwrap_or_default().seq, 1201);
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn snapshot_on_sqlite() -> Result<()> {
    snapshot_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn snapshot_on_postgres() -> Result<()> {
    snapshot_story(Engine::Postgres).await
}
