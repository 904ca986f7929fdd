//! Reports of jobs as PDF: made away from the async threads, few at once, from the record alone.
//!
//! A report takes a core for a moment and memory for its photos, so at most [`AT_ONCE`] are made at
//! the same time; some wait for their turn, and whoever finds the queue full is told when to come
//! again. What the report says is the crate `report`'s.

use std::collections::HashMap;
use std::sync::Arc;
use std::time::Duration;

use anyhow::anyhow;
use report::{Input, Lack, Paper, album, compose, pdf, state_code};
use shared::book::{Automerge, ChangeHash, photos, read, since};
use shared::figures::Figures;
use shared::finding::Finding;
use shared::proof::Digest;
use shared::proof::statement::sign_offs;
use shared::solve::solve;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::task::spawn_blocking;
use tokio::time::timeout;

use crate::live::Live;
use crate::live::load::load;
use crate::store::{DocKey, Store, StoreError};

/// Files of photos by their digests in hexadecimal, or why they are not there.
type Files = HashMap<String, Result<Arc<Vec<u8>>, Lack>>;

/// Reports that are made at the same time.
pub const AT_ONCE: usize = 2;
/// Reports that may wait for their turn.
pub const IN_LINE: usize = 8;
/// How long one waits.
const PATIENCE: Duration = Duration::from_secs(10);

/// What a report is asked for with.
#[derive(Debug, Clone)]
pub struct Wish {
    /// Language and unit.
    pub figures: Figures,
    /// Size of the paper.
    pub paper: Paper,
    /// Name of the shop.
    pub shop_name: String,
    /// Now, RFC 3339 text.
    pub made_at: String,
}

/// Why there is no report.
#[derive(Debug)]
pub enum NoReport {
    /// The shop has no such book.
    NoBook,
    /// Too many are being made; come again later.
    Busy,
    /// The server's own fault.
    Failed(anyhow::Error),
}

impl From<anyhow::Error> for NoReport {
    fn from(error: anyhow::Error) -> Self {
        Self::Failed(error)
    }
}

/// A finished report.
#[derive(Debug)]
pub struct Printed {
    /// The file.
    pub bytes: Vec<u8>,
    /// The job's number, as people wrote it.
    pub number: String,
}

/// Makes reports, few at once.
#[derive(Debug)]
pub struct Press {
    turns: Arc<Semaphore>,
    line: Arc<Semaphore>,
}

impl Default for Press {
    fn default() -> Self {
        Self {
            turns: Arc::new(Semaphore::new(AT_ONCE)),
            line: Arc::new(Semaphore::new(AT_ONCE + IN_LINE)),
        }
    }
}

impl Press {
    /// The report of a job as it is in the record now.
    ///
    /// # Errors
    /// [`NoReport`].
    pub async fn print(&self, live: &Live, key: &DocKey, wish: Wish) -> Result<Printed, NoReport> {
        let turn = self.turn(PATIENCE).await?;
        let loaded = load(&live.store, key).await?;
        if loaded.seq == 0 {
            return Err(NoReport::NoBook);
        }
        let texts = live
            .store
            .statements(key)
            .await
            .map_err(anyhow::Error::from)?;
        let (records, broken) = photos(&loaded.doc);
        let files = files(&live.store, key, &records)
            .await
            .map_err(anyhow::Error::from)?;
        let work = move || {
            // Whoever asked may be gone; the turn ends with the work all the same.
            let _turn = turn;
            make(&loaded.doc, &texts, (&records, &broken, &files), &wish)
        };
        let made = spawn_blocking(work).await.map_err(|error| anyhow!(error))?;
        Ok(made?)
    }

    /// A place in the line and then a turn; both are given back when they are dropped.
    async fn turn(&self, patience: Duration) -> Result<[OwnedSemaphorePermit; 2], NoReport> {
        let place = self.line.clone().try_acquire_owned();
        let place = place.map_err(|_| NoReport::Busy)?;
        let turn = timeout(patience, self.turns.clone().acquire_owned()).await;
        let turn = turn.map_err(|_| NoReport::Busy)?;
        Ok([place, turn.map_err(anyhow::Error::from)?])
    }
}

/// The files of photos, as many as a report prints; the others are not read.
async fn files(
    store: &Store,
    key: &DocKey,
    records: &[shared::book::Photo],
) -> Result<Files, StoreError> {
    let mut files = Files::new();
    let mut room = pdf::MAX_ALL_PHOTO_BYTES;
    let here = store.photos(key).await?;
    for record in records.iter().filter(|record| record.struck.is_none()) {
        let digest = record.digest.parse::<Digest>().ok();
        let Some(digest) = digest.filter(|digest| here.contains(digest)) else {
            continue;
        };
        let size = usize::try_from(record.bytes).unwrap_or(usize::MAX);
        let file = match room.checked_sub(size) {
            Some(left) => {
                room = left;
                Ok(Arc::new(store.photo(key, &digest).await?.bytes))
            }
            None => Err(Lack::Large),
        };
        files.insert(record.digest.clone(), file);
    }
    Ok(files)
}

/// Everything that follows from the record, in one go.
fn make(
    doc: &Automerge,
    texts: &[String],
    (records, broken, files): (&[shared::book::Photo], &[Finding], &Files),
    wish: &Wish,
) -> anyhow::Result<Printed> {
    let (job, mut findings) = read(doc);
    findings.extend_from_slice(broken);
    let photos = album(&job, wish.figures, records, |digest| {
        files.get(digest).cloned().unwrap_or(Err(Lack::Absent))
    });
    let result = solve(&job);
    let signed: Vec<_> = sign_offs(texts)
        .into_iter()
        .map(|one| {
            let heads = &one.signed.statement().heads;
            let heads: Vec<ChangeHash> = heads.iter().map(|head| ChangeHash(head.0)).collect();
            (one, since(doc, &heads))
        })
        .collect();
    let heads: Vec<Digest> = doc.get_heads().iter().map(|head| Digest(head.0)).collect();
    let report = compose(&Input {
        job: &job,
        result: &result,
        findings: &findings,
        signed: Some(&signed),
        photos: &photos,
        shop: &wish.shop_name,
        state: &state_code(&heads),
        made_at: &wish.made_at,
        figures: wish.figures,
        paper: wish.paper,
    });
    Ok(Printed {
        bytes: pdf::write(&report)?,
        number: job.card.number.clone(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn few_have_a_turn_some_wait_and_the_rest_come_again() {
        let press = Arc::new(Press::default());
        let mut turns = Vec::new();
        for _ in 0..AT_ONCE {
            turns.push(press.turn(PATIENCE).await.unwrap());
        }
        let impatient = press.turn(Duration::ZERO).await;
        assert!(matches!(impatient, Err(NoReport::Busy)), "{impatient:?}");
        let waiting: Vec<_> = (0..IN_LINE)
            .map(|_| {
                let press = press.clone();
                tokio::spawn(async move { press.turn(PATIENCE).await.map(drop) })
            })
            .collect();
        while press.line.available_permits() > 0 {
            tokio::task::yield_now().await;
        }
        let late = press.turn(PATIENCE).await;
        assert!(matches!(late, Err(NoReport::Busy)), "{late:?}");
        drop(turns);
        for one in waiting {
            assert!(one.await.unwrap().is_ok());
        }
        assert_eq!(press.line.available_permits(), AT_ONCE + IN_LINE);
    }
}
