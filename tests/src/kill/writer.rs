//! Somebody who enters readings without pause: a replica that is never lost, as on a phone's disk,
//! and a line that breaks when the server dies.

use std::collections::HashSet;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use anyhow::{Context, Result, bail, ensure};
use shared::book::{self, ActorId, Automerge, ChangeHash, Intention, Stamp};
use shared::ids::ReadingId;
use shared::job::{Job, Reading};
use shared::sync::conversation::Guest;
use tokio::time::timeout;
use ulid::Ulid;

use super::look::Row;
use crate::device::Device;
use crate::shop::Person;

/// Readings that may wait for a word; then the writer waits too.
const MAX_WAITING: usize = 12;
/// How long a writer listens before it goes on entering.
const LISTENS: Duration = Duration::from_millis(5);

/// One writer on one book.
#[derive(Debug)]
pub(super) struct Writer {
    /// Who, at the address where the server is now.
    pub(super) who: Person,
    /// Readings since the last stock-taking.
    pub(super) entered: Vec<(ReadingId, Reading)>,
    /// Readings that were acknowledged since the last stock-taking.
    pub(super) acknowledged: Vec<ReadingId>,
    waiting: Vec<(ReadingId, ChangeHash)>,
    patterns: Vec<Reading>,
    count: usize,
    line: Device,
    doc: Automerge,
    guest: Guest,
    /// What the server refused: nothing here may be.
    refused: Option<String>,
    heard: Arc<AtomicU64>,
}

impl Writer {
    /// A writer for each of these people on a new book, which the first one shares.
    pub(super) async fn crew(
        book: &str,
        people: &[Person],
        heard: &Arc<AtomicU64>,
    ) -> Result<Vec<Self>> {
        let car = shared::demo::job();
        let (first, rest) = people.split_first().context("nobody")?;
        let mut first = Self::new(book, first, book::start(), &car, heard);
        let bare = Job {
            readings: Vec::new(),
            ..car.clone()
        };
        first.mean(&Intention::TakeOverJob {
            job: Box::new(bare),
        })?;
        first.share_all().await?;
        let base = first.doc.clone();
        let others = rest
            .iter()
            .map(|who| Self::new(book, who, base.clone(), &car, heard));
        Ok(std::iter::once(first).chain(others).collect())
    }

    fn new(book: &str, who: &Person, doc: Automerge, car: &Job, heard: &Arc<AtomicU64>) -> Self {
        let line = Device::new(book);
        let actor: ActorId = line.doc.get_actor().clone();
        let patterns = car
            .readings
            .iter()
            .filter(|reading| reading.replaces.is_none())
            .cloned();
        Self {
            who: who.clone(),
            entered: Vec::new(),
            acknowledged: Vec::new(),
            waiting: Vec::new(),
            patterns: patterns.collect(),
            count: 0,
            line,
            doc: doc.with_actor(actor),
            guest: Guest::default(),
            refused: None,
            heard: heard.clone(),
        }
    }

    /// Readings that were sent, or would have been, and are not acknowledged.
    pub(super) fn waiting(&self) -> impl Iterator<Item = ReadingId> {
        self.waiting.iter().map(|(id, _)| id.clone())
    }

    /// Enters and shares until the server is gone; then comes back with everything it knows.
    ///
    /// Fails when the server has refused something.
    pub(super) async fn work_until_the_line_breaks(mut self) -> Result<Self> {
        let broke = self.work().await;
        self.line.disconnect();
        match (self.refused.take(), broke) {
            (Some(why), _) => bail!("the server refused an honest writer: {why}"),
            (None, Ok(())) => bail!("a writer stopped by itself"),
            (None, Err(_)) => Ok(self),
        }
    }

    async fn work(&mut self) -> Result<()> {
        self.take_up_the_line().await?;
        loop {
            if self.waiting.len() < MAX_WAITING {
                self.enter()?;
            }
            self.say().await?;
            self.listen().await?;
        }
    }

    /// Shares until nothing waits.
    pub(super) async fn share_all(&mut self) -> Result<()> {
        self.take_up_the_line().await?;
        while self.guest.unshared(&self.doc) > 0 {
            self.say().await?;
            self.listen().await?;
            if let Some(why) = &self.refused {
                bail!("the server refused an honest writer: {why}");
            }
        }
        self.line.disconnect();
        Ok(())
    }

    async fn take_up_the_line(&mut self) -> Result<()> {
        self.line.connect(&self.who).await?;
        self.guest = Guest::new(self.guest.shared().to_vec());
        Ok(())
    }

    fn enter(&mut self) -> Result<()> {
        let pattern = &self.patterns[self.count % self.patterns.len()];
        let reading = Reading {
            id: ReadingId::parse(&Ulid::generate().to_string())?,
            set_aside: None,
            note: format!("number {} of this hand", self.count),
            ..pattern.clone()
        };
        self.count += 1;
        let hash = self.mean(&Intention::RecordReading {
            reading: reading.clone(),
        })?;
        self.waiting.push((reading.id.clone(), hash));
        self.entered.push((reading.id.clone(), reading));
        Ok(())
    }

    fn mean(&mut self, intention: &Intention) -> Result<ChangeHash> {
        let stamp = Stamp {
            by: "Ana".into(),
            at: "2027-01-15T08:00:00Z".into(),
            at_ms: 1_800_000_000_000,
            record: Ulid::generate().to_string(),
        };
        let hash = book::edit::apply(&mut self.doc, &stamp, intention)?;
        hash.context("nothing had to change")
    }

    async fn say(&mut self) -> Result<()> {
        let saved = self.doc.get_heads();
        match self.guest.next_message(&self.doc, &saved) {
            Some(message) => self.line.say("sync", message).await,
            None => Ok(()),
        }
    }

    async fn listen(&mut self) -> Result<()> {
        let Ok(frame) = timeout(LISTENS, self.line.next()).await else {
            return Ok(());
        };
        let frame = frame?;
        match frame.kind.as_str() {
            "sync" => {
                let data = frame.data.context("no data")?;
                if let Err(why) = self.guest.receive(&mut self.doc, &data) {
                    self.refused = Some(format!("and sends what does not apply: {why}"));
                }
                self.hear_what_is_shared();
            }
            "error" => self.refused = Some(frame.message.unwrap_or_default()),
            _ => {}
        }
        ensure!(self.refused.is_none(), "refused");
        Ok(())
    }

    /// By the rule of the phone's badge: shared is what the heads that the server has told cover.
    fn hear_what_is_shared(&mut self) {
        let unshared: HashSet<ChangeHash> = self
            .doc
            .get_changes_meta(self.guest.shared())
            .into_iter()
            .map(|meta| meta.hash)
            .collect();
        let (waiting, acknowledged) = std::mem::take(&mut self.waiting)
            .into_iter()
            .partition(|(_, hash)| unshared.contains(hash));
        self.waiting = waiting;
        let acknowledged: Vec<(ReadingId, ChangeHash)> = acknowledged;
        self.heard
            .fetch_add(acknowledged.len() as u64, Ordering::Relaxed);
        self.acknowledged
            .extend(acknowledged.into_iter().map(|(id, _)| id));
    }
}

/// What a device that knows nothing gets through the wire, which must be what the database has.
pub(super) async fn load_afresh(book: &str, who: &Person, rows: &[Row]) -> Result<Job> {
    let mut device = Device::new(book);
    device.connect(who).await?;
    device.share().await?;
    let doc = Automerge::load(&device.doc.save())?;
    let there: HashSet<ChangeHash> = doc.get_changes_meta(&[]).iter().map(|m| m.hash).collect();
    let kept: HashSet<ChangeHash> = rows.iter().map(|row| row.hash).collect();
    ensure!(
        there == kept,
        "{} changes in the database, {} through the wire",
        kept.len(),
        there.len()
    );
    let (job, findings) = book::read(&doc);
    ensure!(findings.is_empty(), "the book says {findings:?}");
    Ok(job)
}
