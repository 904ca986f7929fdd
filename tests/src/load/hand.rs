//! One hand on a car: a replica of the book and a line, as lean as the protocol allows.

use std::sync::{Arc, Mutex, PoisonError};

use anyhow::{Context, Result, bail};
use automerge::sync::{Message, State, SyncDoc};
use shared::book::{self, ActorId, Automerge, ChangeHash, Intention, Stamp};
use shared::ids::ReadingId;
use shared::job::Reading;
use tokio::sync::mpsc;
use ulid::Ulid;

use super::peer::{Kind, Peer};
use crate::device::{Device, SILENCE};

/// What happens to readings that are entered while somebody measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Heard {
    /// Another hand has it.
    Arrived,
    /// The server has said that it has it.
    Acknowledged,
}

/// A car, and whoever listens to what happens to its readings.
#[derive(Debug, Clone)]
pub(super) struct Car {
    /// Document id.
    pub(super) book: String,
    ears: Arc<Mutex<Option<mpsc::UnboundedSender<Heard>>>>,
}

impl Car {
    pub(super) fn new(book: &str) -> Self {
        Self {
            book: book.to_owned(),
            ears: Arc::default(),
        }
    }

    pub(super) fn listen(&self) -> mpsc::UnboundedReceiver<Heard> {
        let (ears, heard) = mpsc::unbounded_channel();
        *self.ears.lock().unwrap_or_else(PoisonError::into_inner) = Some(ears);
        heard
    }

    fn say(&self, heard: Heard) {
        let ears = self.ears.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(ears) = ears.as_ref() {
            // Nobody measures any more.
            let _ = ears.send(heard);
        }
    }
}

/// A hand.
#[derive(Debug)]
pub(super) struct Hand {
    /// The replica.
    pub(super) doc: Automerge,
    car: Car,
    line: Device,
    state: State,
    waiting: Option<ChangeHash>,
    pattern: Reading,
}

/// One change, as a person means it.
pub(super) fn mean(doc: &mut Automerge, intention: &Intention) -> Result<ChangeHash> {
    let stamp = Stamp {
        by: "Ana".into(),
        at: "2027-01-15T08:00:00Z".into(),
        at_ms: 1_800_000_000_000,
        record: Ulid::generate().to_string(),
    };
    book::edit::apply(doc, &stamp, intention)?.context("nothing had to change")
}

impl Hand {
    pub(super) fn new(car: &Car) -> Self {
        let line = Device::new(&car.book);
        let actor = line.doc.get_actor().clone();
        let readings = shared::demo::job().readings;
        let pattern = readings
            .into_iter()
            .find(|reading| reading.replaces.is_none());
        Self {
            doc: Automerge::new().with_actor(actor),
            car: car.clone(),
            line,
            state: State::new(),
            waiting: None,
            pattern: pattern.expect("the demo car has readings"),
        }
    }

    pub(super) fn actor(&self) -> ActorId {
        self.line.doc.get_actor().clone()
    }

    pub(super) async fn connect(&mut self, peer: &Peer) -> Result<()> {
        self.state = State::new();
        match (&peer.kind, &peer.person) {
            (Kind::Ours, Some(person)) => self.line.connect(person).await,
            // The stock server asks nobody who they are, but tells two of one name apart by nothing.
            _ => {
                let name = format!("phone-{}", Ulid::generate());
                self.line.connect_as(peer.addr, "none", &name).await
            }
        }
    }

    /// Enters a reading into the replica.
    pub(super) fn enter(&mut self) -> Result<ChangeHash> {
        let reading = Reading {
            id: ReadingId::parse(&Ulid::generate().to_string())?,
            set_aside: None,
            ..self.pattern.clone()
        };
        mean(&mut self.doc, &Intention::RecordReading { reading })
    }

    async fn offer(&mut self) -> Result<()> {
        if let Some(message) = self.doc.generate_sync_message(&mut self.state) {
            let asks = self.doc.get_heads().is_empty();
            let kind = if asks { "request" } else { "sync" };
            self.line.say(kind, message.encode()).await?;
        }
        Ok(())
    }

    /// Takes the next frame in, answers it, and says what it means for the readings.
    pub(super) async fn hear(&mut self) -> Result<()> {
        let frame = self.line.next().await?;
        match frame.kind.as_str() {
            "sync" => {
                let data = frame.data.context("no data")?;
                let message = Message::decode(&data)?;
                let before = self.doc.get_heads();
                self.doc.receive_sync_message(&mut self.state, message)?;
                let news = self.doc.get_heads() != before;
                if news {
                    for _ in self.doc.get_changes_meta(&before) {
                        self.car.say(Heard::Arrived);
                    }
                }
                self.offer().await?;
                self.hear_own();
                Ok(())
            }
            "error" | "doc-unavailable" => bail!("refused: {:?}", frame.message),
            _ => Ok(()),
        }
    }

    fn hear_own(&mut self) {
        let Some(own) = self.waiting else { return };
        let theirs = self.state.their_heads.clone().unwrap_or_default();
        let unshared = self.doc.get_changes_meta(&theirs);
        if !unshared.iter().any(|meta| meta.hash == own) {
            self.waiting = None;
            self.car.say(Heard::Acknowledged);
        }
    }

    /// Offers and hears until both sides have the same.
    pub(super) async fn share(&mut self) -> Result<()> {
        self.offer().await?;
        loop {
            self.hear().await?;
            let own = self.doc.get_heads();
            if !own.is_empty() && self.state.their_heads.as_ref() == Some(&own) {
                return Ok(());
            }
        }
    }

    /// Hears until the line ends; silence is no end.
    pub(super) async fn lie_about(mut self) {
        loop {
            match self.hear().await {
                Ok(()) => {}
                Err(error) if error.to_string() == SILENCE => {}
                Err(_) => return,
            }
        }
    }

    /// Enters a reading when told, and hears otherwise, until nobody tells any more.
    pub(super) async fn work(mut self, mut told: mpsc::Receiver<()>) -> Result<()> {
        loop {
            tokio::select! {
                order = told.recv() => match order {
                    Some(()) => {
                        self.waiting = Some(self.enter()?);
                        self.offer().await?;
                    }
                    None => return Ok(()),
                },
                heard = self.hear() => heard?,
            }
        }
    }
}
