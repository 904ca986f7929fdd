//! What must hold after a kill, in the database, in the document and in the log.

use std::collections::{HashMap, HashSet};

use anyhow::{Context, Result, bail, ensure};
use server::store::{Exported, Store};
use shared::book::{self, Automerge, ChangeHash};
use shared::ids::ReadingId;
use shared::job::{Job, Reading};
use shared::proof::bundle::{Bundle, extends};
use shared::proof::checkpoint::Checkpoint;
use shared::sync::replay::verify;
use sqlx::any::install_default_drivers;
use sqlx::{AnyConnection, Connection, Row as _};

use super::Book;

/// One change as the database has it.
#[derive(Debug)]
pub(super) struct Row {
    seq: i64,
    pub(super) hash: ChangeHash,
    bytes: Vec<u8>,
}

/// The changes of a book, read behind the server's back.
pub(super) async fn database(url: &str, book: &str) -> Result<Vec<Row>> {
    install_default_drivers();
    let mut connection = AnyConnection::connect(url).await?;
    let query = "SELECT c.seq, c.hash, c.bytes FROM doc_change c JOIN doc d \
                 ON d.shop_id = c.shop_id AND d.doc_id = c.doc_id AND c.seq <= d.seq \
                 WHERE c.doc_id = $1 ORDER BY c.seq";
    let found = sqlx::query(query)
        .bind(book)
        .fetch_all(&mut connection)
        .await?;
    let count: i64 = sqlx::query_scalar("SELECT COUNT(*) FROM doc_change WHERE doc_id = $1")
        .bind(book)
        .fetch_one(&mut connection)
        .await?;
    let seq: i64 = sqlx::query_scalar("SELECT seq FROM doc WHERE doc_id = $1")
        .bind(book)
        .fetch_one(&mut connection)
        .await?;
    connection.close().await?;
    ensure!(
        count == seq,
        "the book counts {seq} changes and has {count}"
    );
    let row = |row: &sqlx::any::AnyRow| {
        let hash: Vec<u8> = row.try_get("hash")?;
        Ok(Row {
            seq: row.try_get("seq")?,
            hash: ChangeHash(hash.try_into().ok().context("a hash of another length")?),
            bytes: row.try_get("bytes")?,
        })
    };
    found.iter().map(row).collect()
}

/// The record is whole: numbered without gaps, nothing twice, and everything acknowledged in it.
/// Says which readings it has.
pub(super) fn holds(rows: &[Row], book: &Book) -> Result<HashSet<ReadingId>> {
    let gap = rows.iter().zip(1..).find(|(row, seq)| row.seq != *seq);
    if let Some((row, seq)) = gap {
        bail!("the record has {} in the place of change {seq}", row.seq);
    }
    let hashes: HashSet<ChangeHash> = rows.iter().map(|row| row.hash).collect();
    ensure!(
        hashes.len() == rows.len(),
        "a change is in the record twice"
    );
    let chunks: Vec<u8> = rows.iter().flat_map(|row| row.bytes.clone()).collect();
    let doc = Automerge::load(&chunks).context("the record does not load")?;
    let there: HashSet<ChangeHash> = doc.get_changes_meta(&[]).iter().map(|m| m.hash).collect();
    ensure!(there == hashes, "the record is not what its hashes say");
    let (job, findings) = book::read(&doc);
    ensure!(findings.is_empty(), "the record says {findings:?}");
    job_holds(&job, book)?;
    Ok(job.readings.into_iter().map(|reading| reading.id).collect())
}

/// Every acknowledged reading is there as it was entered, and none twice.
pub(super) fn job_holds(job: &Job, book: &Book) -> Result<()> {
    let mut there: HashMap<&ReadingId, &Reading> = HashMap::new();
    for reading in &job.readings {
        let twice = there.insert(&reading.id, reading);
        ensure!(twice.is_none(), "reading {} is there twice", reading.id);
        ensure!(
            book.entered.get(&reading.id) == Some(reading),
            "reading {} is not as it was entered",
            reading.id
        );
    }
    let lost = book.acknowledged.iter().find(|id| !there.contains_key(*id));
    match lost {
        Some(id) => bail!("reading {id} was acknowledged and is LOST"),
        None => Ok(()),
    }
}

/// The shop's log as it was last seen.
#[derive(Debug, Default)]
pub(super) struct Log(Option<Checkpoint>);

impl Log {
    pub(super) fn entries(&self) -> u64 {
        self.0.as_ref().map_or(0, |head| head.size)
    }

    /// It verifies, and begins with what it was.
    pub(super) async fn goes_on(&mut self, url: &str) -> Result<()> {
        let bundle = export(url).await?;
        if let Some(fault) = verify(&bundle).fault {
            bail!("the log does not hold: {fault}");
        }
        if let Some(older) = &self.0 {
            extends(older, &bundle)
                .map_err(|fault| *fault)
                .context("the log has another past")?;
        }
        let key = bundle.key.parse()?;
        self.0 = Some(Checkpoint::open(&bundle.checkpoint, &key)?);
        Ok(())
    }
}

async fn export(url: &str) -> Result<Bundle> {
    let seed: [u8; 32] = *b"only a proposal: there is a key ";
    let store = Store::open(url, seed).await?;
    let exported = store.export_log(None).await;
    store.close().await?;
    match exported? {
        Exported::Bundle(bundle) => Ok(Bundle::parse(&bundle.to_lines()?).map_err(|fault| *fault)?),
        Exported::NoSuchShop(shops) => bail!("one of {shops:?}"),
    }
}
