//! How fast a server is with many lines: ours, and the stock server of the same open protocol beside
//! it in the same run. Measures, and gates nothing.
//!
//! A car has eight hands, each a replica with a line of its own that speaks the real protocol. A
//! reading is *relayed* when each of the other seven has it, and *durable* when whoever entered it
//! may rely on it: with ours that is the acknowledgement, which comes after the database has flushed
//! its log to the disk; the stock server tells nobody, so there it is the moment at which a new file
//! of the document shows up in its folder (written, not flushed).

mod hand;
mod peer;

use std::path::PathBuf;
use std::time::Duration;

use anyhow::Result;
use shared::book;
use shared::job::Job;
use tokio::task::JoinSet;
use tokio::time::{Instant, timeout};

use crate::device::document_id;
use hand::{Car, Hand, Heard};
pub use peer::{Kind, Peer};

/// Hands on one car.
pub const HANDS: usize = 8;
/// Readings of one measurement.
const READINGS: usize = 40;
/// Lines that are taken up at once.
const AT_ONCE: usize = 32;
/// How long anything may take on a busy machine.
const PATIENCE: Duration = Duration::from_secs(120);
/// The stock server gathers what it writes for a tenth of a second.
const QUIET: Duration = Duration::from_millis(250);

/// Middle and 95th percentile, in milliseconds.
#[derive(Debug, Clone, Copy)]
pub struct Spread {
    /// Half are below.
    pub middle_ms: f64,
    /// 95 of a hundred are below.
    pub most_ms: f64,
}

impl Spread {
    fn of(mut times: Vec<Duration>) -> Self {
        times.sort_unstable();
        let at = |share: f64| {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                clippy::cast_precision_loss,
                reason = "a place in a short list"
            )]
            let place = ((times.len().max(1) - 1) as f64 * share).round() as usize;
            times
                .get(place)
                .map_or(f64::NAN, |time| time.as_secs_f64() * 1e3)
        };
        Self {
            middle_ms: at(0.5),
            most_ms: at(0.95),
        }
    }
}

/// What one measurement of a car gave.
#[derive(Debug, Clone, Copy)]
pub struct Latency {
    /// From a reading's entry to the last of the other hands.
    pub relayed: Spread,
    /// From a reading's entry until it is durable.
    pub durable: Spread,
}

/// A server with many lines open.
#[derive(Debug)]
pub struct Crowd {
    /// What the server holds per line, with its share of the books, in bytes.
    pub bytes_per_line: f64,
    /// From the first line to the last one's answer.
    pub took: Duration,
    car: (Car, Vec<Hand>),
    /// The others go on listening, as phones do that lie about.
    idle: JoinSet<()>,
}

/// A car's book without readings.
fn begun(line: &Hand) -> Result<book::Automerge> {
    let mut doc = book::start().with_actor(line.actor());
    let bare = Job {
        readings: Vec::new(),
        ..shared::demo::job()
    };
    hand::mean(
        &mut doc,
        &book::Intention::TakeOverJob {
            job: Box::new(bare),
        },
    )?;
    Ok(doc)
}

/// A car with all its hands, each with the book as it is.
async fn car(peer: &Peer, readings: usize) -> Result<(Car, Vec<Hand>)> {
    let car = Car::new(&document_id());
    let mut first = Hand::new(&car);
    first.doc = begun(&first)?;
    for _ in 0..readings {
        first.enter()?;
    }
    first.connect(peer).await?;
    first.share().await?;
    let mut hands = vec![first];
    for _ in 1..HANDS {
        let mut hand = Hand::new(&car);
        hand.doc = hands[0].doc.clone().with_actor(hand.actor());
        hand.connect(peer).await?;
        hand.share().await?;
        hands.push(hand);
    }
    Ok((car, hands))
}

/// Opens so many lines, eight to a car.
///
/// # Errors
/// When the server does not take them.
pub async fn crowd(peer: &Peer, lines: usize) -> Result<Crowd> {
    let before = peer.resident_bytes()?;
    let begun = Instant::now();
    let mut tasks = JoinSet::new();
    let mut idle = JoinSet::new();
    let mut lie_about = |(_, hands): (Car, Vec<Hand>)| {
        for hand in hands {
            idle.spawn(hand.lie_about());
        }
    };
    for _ in 1..lines / HANDS {
        if tasks.len() >= AT_ONCE / HANDS
            && let Some(done) = tasks.join_next().await
        {
            lie_about(done??);
        }
        let peer = peer.clone();
        tasks.spawn(async move { timeout(PATIENCE, car(&peer, 0)).await? });
    }
    while let Some(done) = tasks.join_next().await {
        lie_about(done??);
    }
    let car = car(peer, 0).await?;
    let took = begun.elapsed();
    let grown = peer.resident_bytes()?.saturating_sub(before);
    #[expect(clippy::cast_precision_loss, reason = "a figure for people")]
    let bytes_per_line = grown as f64 / lines as f64;
    Ok(Crowd {
        bytes_per_line,
        took,
        car,
        idle,
    })
}

impl Crowd {
    /// Measures one of its cars while all lines are open.
    ///
    /// # Errors
    /// When a reading does not arrive.
    pub async fn measure(self, peer: &Peer) -> Result<Latency> {
        let Self { car, mut idle, .. } = self;
        let (car, hands) = car;
        let latency = measure(peer, &car, hands).await?;
        anyhow::ensure!(idle.try_join_next().is_none(), "a line has ended");
        Ok(latency)
    }
}

/// The files of a document once none is written any more: the stock server writes late, and several
/// changes into one file, so that a file of the reading before would count for the next.
async fn quiet(peer: &Peer, book: &str) -> Result<Vec<PathBuf>> {
    let mut files = peer.files(book)?;
    if peer.kind == Kind::Ours {
        return Ok(files);
    }
    loop {
        tokio::time::sleep(QUIET).await;
        let now = peer.files(book)?;
        if now == files {
            return Ok(now);
        }
        files = now;
    }
}

/// One reading after the other, each by another hand.
async fn measure(peer: &Peer, car: &Car, hands: Vec<Hand>) -> Result<Latency> {
    let mut heard = car.listen();
    let mut orders = Vec::new();
    let mut tasks = JoinSet::new();
    for hand in hands {
        let (order, told) = tokio::sync::mpsc::channel(1);
        orders.push(order);
        tasks.spawn(hand.work(told));
    }
    let (mut relayed, mut durable) = (Vec::new(), Vec::new());
    for number in 0..READINGS {
        let files = quiet(peer, &car.book).await?;
        let begun = Instant::now();
        orders[number % HANDS].send(()).await?;
        let (mut others, mut own) = (0, None);
        while others < HANDS - 1 || own.is_none() {
            let wait = if own.is_none() && peer.kind == Kind::Stock {
                Duration::from_millis(1)
            } else {
                PATIENCE
            };
            match timeout(wait, heard.recv()).await {
                Ok(Some(Heard::Arrived)) => {
                    others += 1;
                    if others == HANDS - 1 {
                        relayed.push(begun.elapsed());
                    }
                }
                // The stock server's word is no promise.
                Ok(Some(Heard::Acknowledged)) if peer.kind == Kind::Ours => {
                    own = Some(begun.elapsed());
                }
                Ok(Some(Heard::Acknowledged)) => {}
                Ok(None) => anyhow::bail!("the hands are gone"),
                Err(_) if peer.kind == Kind::Ours => anyhow::bail!("a reading did not arrive"),
                Err(_) => anyhow::ensure!(begun.elapsed() < PATIENCE, "a reading did not arrive"),
            }
            if own.is_none() && peer.kind == Kind::Stock && peer.files(&car.book)? != files {
                own = Some(begun.elapsed());
            }
        }
        durable.extend(own);
    }
    Ok(Latency {
        relayed: Spread::of(relayed),
        durable: Spread::of(durable),
    })
}

/// A car whose book has so many readings: how long one more takes, and how long a device that knows
/// nothing waits for the whole book, from an open one and from a server that was just started.
///
/// # Errors
/// When something does not arrive.
pub async fn grown(peer: &mut Peer, readings: usize) -> Result<(Latency, Duration, Duration)> {
    let (car, hands) = car(peer, readings).await?;
    let book = car.book.clone();
    let latency = measure(peer, &car, hands).await?;
    let open = fetch(peer, &book).await?;
    peer.restart().await?;
    let cold = fetch(peer, &book).await?;
    Ok((latency, open, cold))
}

/// Everything of a book, for a device that has nothing.
async fn fetch(peer: &Peer, book: &str) -> Result<Duration> {
    let car = Car::new(book);
    let mut hand = Hand::new(&car);
    hand.connect(peer).await?;
    let begun = Instant::now();
    timeout(PATIENCE, hand.share()).await??;
    anyhow::ensure!(!hand.doc.get_heads().is_empty(), "nothing came");
    Ok(begun.elapsed())
}
