//! The server is killed at any moment, again and again, while four people enter readings.
//!
//! A cycle: the server runs as a process of its own, four writers enter readings through the wire
//! without pause, `SIGKILL` at a moment that the seed chooses, a look at the database, start, a look
//! through the wire. After every cycle each reading that was acknowledged must be in the document
//! and in the database, nothing may be there twice, and the shop's log must verify and go on from
//! where it was. At the end everything that was ever entered must be there.
//!
//! The seed chooses the moments; what the machine makes of them differs from run to run. Killing a
//! process is no power cut: what the operating system has been given is written all the same.

mod dice;
mod process;
mod writer;
mod look;

use std::collections::HashMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use anyhow::{Context, Result, bail, ensure};
use shared::ids::ReadingId;
use shared::job::Reading;
use shared::wire::Role;

use crate::device::document_id;
use crate::shop::Person;
use dice::Dice;
use look::Log;
use process::Process;
use writer::Writer;

/// People who enter readings at once.
pub const WRITERS: usize = 4;
/// A kill waits for fewer acknowledgements than this, counted over all writers, so that a slow machine
/// is not killed before anybody has had one; and a little longer.
const ACKNOWLEDGED: u64 = 40;
/// The little longer.
const AND_MS: u64 = 60;
/// One kill in so many waits for nothing but time.
const BY_TIME: u64 = 4;
/// Longest time that such a one waits, and longest that any waits.
const TIME_MS: (u64, u64) = (900, 15_000);
/// One start in so many is killed before the server says where it is.
const EARLY: u64 = 10;
/// When a start is killed early, it is within this time.
const EARLY_MS: u64 = 120;
/// A book of the demo car has about three hundred readings; with this many a new one is begun.
const READINGS_PER_BOOK: usize = 600;
/// Access tokens are good for ten minutes.
const TOKENS_LAST: Duration = Duration::from_secs(300);

/// What to do.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The program, with the command line of `baybook`.
    pub server: PathBuf,
    /// An empty database.
    pub database_url: String,
    /// The server's own folder.
    pub folder: PathBuf,
    /// How often to kill.
    pub cycles: u32,
    /// Chooses the moments.
    pub seed: u64,
}

/// What was seen.
#[derive(Debug, Clone, Default)]
pub struct Figures {
    /// Times that the server was killed while people wrote.
    pub kills: u32,
    /// Times that it was killed before it said where it is.
    pub early_kills: u32,
    /// Books.
    pub books: usize,
    /// Readings that were entered.
    pub entered: usize,
    /// Readings that were acknowledged before one of the kills, each looked for after every later one.
    pub acknowledged: usize,
    /// Readings that had been sent and not acknowledged when the server was killed.
    pub in_flight: usize,
    /// Of those, how many were in the database all the same.
    pub in_flight_kept: usize,
    /// Entries of the log at the end.
    pub log_entries: u64,
    /// From the start of the process to its word where it is.
    pub restarts: Vec<Duration>,
}

impl Figures {
    /// Mean and longest restart.
    #[must_use]
    pub fn restart(&self) -> (Duration, Duration) {
        let count = u32::try_from(self.restarts.len().max(1)).unwrap_or(u32::MAX);
        let sum: Duration = self.restarts.iter().sum();
        let longest = self.restarts.iter().max().copied();
        (sum / count, longest.unwrap_or_default())
    }
}

/// One book, and everything that was entered in it.
#[derive(Debug)]
struct Book {
    id: String,
    entered: HashMap<ReadingId, Reading>,
    acknowledged: Vec<ReadingId>,
}

/// Runs the plan; `say` hears of each cycle.
///
/// # Errors
/// With the first thing that does not hold, and the cycle.
pub async fn run(plan: &Plan, mut say: impl FnMut(&str)) -> Result<Figures> {
    let mut round = Round::begin(plan).await?;
    for cycle in 1..=plan.cycles {
        let text = round
            .cycle()
            .await
            .with_context(|| format!("cycle {cycle} of seed {}", plan.seed))?;
        say(&format!("cycle {cycle}: {text}"));
    }
    round.end().await.context("at the end")
}

struct Round<'a> {
    plan: &'a Plan,
    dice: Dice,
    server: Process,
    owner: Person,
    people: Vec<Person>,
    signed_in: tokio::time::Instant,
    books: Vec<Book>,
    writers: Vec<Writer>,
    /// Acknowledgements that all writers have heard.
    heard: Arc<AtomicU64>,
    log: Log,
    figures: Figures,
}

impl<'a> Round<'a> {
    async fn begin(plan: &'a Plan) -> Result<Self> {
        let mut server = Process::start(plan).await?;
        let link = server.set_up_link().await?;
        let owner = Person::at(server.addr).set_up(&link).await?;
        let mut people = Vec::new();
        for number in 0..WRITERS {
            people.push(
                owner
                    .bring(&format!("writer{number}"), Role::Technician)
                    .await?,
            );
        }
        let mut round = Self {
            plan,
            dice: Dice::new(plan.seed),
            server,
            owner,
            people,
            signed_in: tokio::time::Instant::now(),
            books: Vec::new(),
            writers: Vec::new(),
            heard: Arc::default(),
            log: Log::default(),
            figures: Figures::default(),
        };
        round.begin_book().await?;
        Ok(round)
    }

    /// A new book of the demo car without readings, shared by the first writer.
    async fn begin_book(&mut self) -> Result<()> {
        let id = document_id();
        self.writers = Writer::crew(&id, &self.people, &self.heard).await?;
        self.books.push(Book {
            id,
            entered: HashMap::new(),
            acknowledged: Vec::new(),
        });
        Ok(())
    }

    async fn cycle(&mut self) -> Result<String> {
        // Four people write; then the server is dead.
        let work: Vec<_> = self
            .writers
            .drain(..)
            .map(|writer| tokio::spawn(writer.work_until_the_line_breaks()))
            .collect();
        let runs_ms = self.wait_for_the_moment().await;
        self.server.kill().await?;
        self.figures.kills += 1;
        for task in work {
            self.writers.push(task.await??);
        }
        let waiting = self.take_stock();

        // What the dead server has left.
        let book = self.books.last().context("no book")?;
        let rows = look::database(&self.plan.database_url, &book.id).await?;
        let kept = look::holds(&rows, book)?;
        self.figures.in_flight += waiting.len();
        self.figures.in_flight_kept += waiting.iter().filter(|id| kept.contains(*id)).count();

        // It comes back, sometimes only after it was killed again.
        while self.dice.below(EARLY) == 0 {
            let after = Duration::from_millis(self.dice.below(EARLY_MS));
            process::start_and_kill(self.plan, after).await?;
            self.figures.early_kills += 1;
        }
        self.server = Process::start(self.plan).await?;
        self.figures.restarts.push(self.server.took);
        self.move_people().await?;
        let book = self.books.last().context("no book")?;
        let job = writer::load_afresh(&book.id, &self.owner, &rows).await?;
        look::job_holds(&job, book)?;
        self.log.goes_on(&self.plan.database_url).await?;

        let text = format!(
            "killed after {runs_ms} ms, back after {} ms, {} readings acknowledged, {} waiting, log of {}",
            self.server.took.as_millis(),
            book.acknowledged.len(),
            waiting.len(),
            self.log.entries(),
        );
        if job.readings.len() >= READINGS_PER_BOOK {
            self.finish_book().await?;
            self.begin_book().await?;
        }
        Ok(text)
    }

    /// Lets people write until a moment that the dice choose. Says how long that was.
    async fn wait_for_the_moment(&mut self) -> u128 {
        let begun = tokio::time::Instant::now();
        if self.dice.below(BY_TIME) == 0 {
            let time = Duration::from_millis(self.dice.below(TIME_MS.0));
            tokio::time::sleep(time).await;
        } else {
            let goal = self.heard.load(Ordering::Relaxed) + self.dice.below(ACKNOWLEDGED);
            let longest = Duration::from_millis(TIME_MS.1);
            while self.heard.load(Ordering::Relaxed) < goal && begun.elapsed() < longest {
                tokio::time::sleep(Duration::from_millis(1)).await;
            }
            tokio::time::sleep(Duration::from_millis(self.dice.below(AND_MS))).await;
        }
        begun.elapsed().as_millis()
    }

    /// What the writers have entered and heard so far; the readings that still wait for a word.
    fn take_stock(&mut self) -> Vec<ReadingId> {
        let mut waiting = Vec::new();
        if let Some(book) = self.books.last_mut() {
            for writer in &mut self.writers {
                book.entered.extend(writer.entered.drain(..));
                book.acknowledged.append(&mut writer.acknowledged);
                waiting.extend(writer.waiting());
            }
        }
        waiting
    }

    async fn move_people(&mut self) -> Result<()> {
        let signs_in = self.signed_in.elapsed() > TOKENS_LAST;
        for person in self.people.iter_mut().chain([&mut self.owner]) {
            *person = person.moved_to(self.server.addr);
            if signs_in {
                *person = person.sign_in_again().await?;
            }
        }
        if signs_in {
            self.signed_in = tokio::time::Instant::now();
        }
        for (writer, person) in self.writers.iter_mut().zip(&self.people) {
            writer.who = person.clone();
        }
        Ok(())
    }

    /// Everybody shares what still waits; then everything that was entered is acknowledged.
    async fn finish_book(&mut self) -> Result<()> {
        for writer in &mut self.writers {
            writer.share_all().await?;
        }
        let waiting = self.take_stock();
        ensure!(waiting.is_empty(), "{waiting:?} wait for ever");
        let book = self.books.last().context("no book")?;
        let rows = look::database(&self.plan.database_url, &book.id).await?;
        look::holds(&rows, book)?;
        if book.acknowledged.len() != book.entered.len() {
            bail!(
                "{} readings entered, {} acknowledged",
                book.entered.len(),
                book.acknowledged.len()
            );
        }
        Ok(())
    }

    /// Everybody shares the rest, and a fresh device loads every book.
    async fn end(mut self) -> Result<Figures> {
        self.figures.acknowledged = self.books.iter().map(|book| book.acknowledged.len()).sum();
        self.finish_book().await?;
        for book in &self.books {
            let rows = look::database(&self.plan.database_url, &book.id).await?;
            let job = writer::load_afresh(&book.id, &self.owner, &rows).await?;
            look::job_holds(&job, book)?;
            ensure!(
                job.readings.len() == book.entered.len(),
                "{}: {} readings entered, {} there",
                book.id,
                book.entered.len(),
                job.readings.len()
            );
        }
        self.log.goes_on(&self.plan.database_url).await?;
        self.server.kill().await?;
        self.figures.books = self.books.len();
        self.figures.entered = self.books.iter().map(|book| book.entered.len()).sum();
        self.figures.log_entries = self.log.entries();
        Ok(self.figures)
    }
}
