//! A phone without a screen: a replica of one book, and a line to the server.

use std::net::SocketAddr;
use std::time::Duration;

use anyhow::{Context, Result, bail};
use automerge::sync::{Message as SyncMessage, State, SyncDoc};
use automerge::transaction::Transactable;
use automerge::{ActorId, AutoCommit, Automerge, ChangeHash, ROOT, ReadDoc};
use futures_util::{SinkExt, StreamExt};
use server::live::frame::{Frame, decode, encode};
use shared::book::{self, Intention, Stamp};
use shared::job::Job;
use tokio::net::TcpStream;
use tokio::time::{Instant, timeout, timeout_at};
use tokio_tungstenite::tungstenite::Message;
use tokio_tungstenite::{MaybeTlsStream, WebSocketStream, connect_async};
use ulid::Ulid;

use crate::shop::Person;

/// What is said when no frame comes.
pub const SILENCE: &str = "no answer";
/// How long an answer may take on a busy machine.
const PATIENCE: Duration = Duration::from_secs(60);

/// A document id: base58 with checksum of 16 bytes.
#[must_use]
pub fn document_id() -> String {
    bs58::encode(Ulid::generate().to_bytes())
        .with_check()
        .into_string()
}

/// A phone with one book.
#[derive(Debug)]
pub struct Device {
    /// Device id.
    pub device: String,
    /// Document id of the book.
    pub book: String,
    /// The replica.
    pub doc: AutoCommit,
    /// What was refused, as the server said.
    pub refused: Vec<String>,
    line: Option<Line>,
    /// The peer id that it claims.
    name: String,
}

#[derive(Debug)]
struct Line {
    socket: WebSocketStream<MaybeTlsStream<TcpStream>>,
    state: State,
}

impl Device {
    /// A phone that has no book of this id yet.
    #[must_use]
    pub fn new(book: &str) -> Self {
        Self {
            device: Ulid::generate().to_string(),
            book: book.to_owned(),
            doc: AutoCommit::new().with_actor(ActorId::from(Ulid::generate().to_bytes())),
            refused: Vec::new(),
            line: None,
            name: "phone".to_owned(),
        }
    }

    /// The actor this phone writes under.
    #[must_use]
    pub fn actor(&self) -> String {
        self.doc.get_actor().to_hex_string()
    }

    /// Writes something, with or without a line.
    ///
    /// # Errors
    /// When the replica refuses.
    pub fn write(&mut self, name: &str, value: i64) -> Result<()> {
        self.doc.put(ROOT, name, value)?;
        self.doc.commit();
        Ok(())
    }

    /// Starts a real book, as the app does: the first change that is the same on every phone.
    ///
    /// # Errors
    /// When the first change does not load.
    pub fn start_book(&mut self) -> Result<()> {
        let actor = self.doc.get_actor().clone();
        self.doc = AutoCommit::load(&book::start().save())?.with_actor(actor);
        Ok(())
    }

    /// Does what a person means, as one change.
    ///
    /// # Errors
    /// When the book refuses.
    pub fn mean(&mut self, intention: &Intention) -> Result<()> {
        let stamp = Stamp {
            by: "Ana".into(),
            at: "2027-01-15T08:00:00Z".into(),
            at_ms: 1_800_000_000_000,
            record: Ulid::generate().to_string(),
        };
        let actor = self.doc.get_actor().clone();
        let mut doc = Automerge::load(&self.doc.save())?.with_actor(actor.clone());
        book::edit::apply(&mut doc, &stamp, intention)?;
        self.doc = AutoCommit::load(&doc.save())?.with_actor(actor);
        Ok(())
    }

    /// The book as a car.
    ///
    /// # Errors
    /// When the replica does not load.
    pub fn job(&mut self) -> Result<Job> {
        Ok(book::read(&Automerge::load(&self.doc.save())?).0)
    }

    /// What is written under a name.
    ///
    /// # Errors
    /// When the replica is broken.
    pub fn read(&self, name: &str) -> Result<Option<i64>> {
        Ok(self
            .doc
            .get(ROOT, name)?
            .and_then(|(value, _)| value.as_i64()))
    }

    /// Takes up a line: a ticket, the WebSocket, the greeting.
    ///
    /// # Errors
    /// When the server does not let it in.
    pub async fn connect(&mut self, who: &Person) -> Result<()> {
        let ticket = who.ticket(&self.device, &[self.actor()]).await?;
        self.connect_with(who.addr, &ticket.ticket).await
    }

    /// Takes up a line with a ticket.
    ///
    /// # Errors
    /// When the server does not let it in.
    pub async fn connect_with(&mut self, addr: SocketAddr, ticket: &str) -> Result<()> {
        self.connect_as(addr, ticket, "phone").await
    }

    /// Takes up a line with a ticket, under a peer id of one's own choice.
    ///
    /// # Errors
    /// When the server does not let it in.
    pub async fn connect_as(&mut self, addr: SocketAddr, ticket: &str, name: &str) -> Result<()> {
        self.name = name.to_owned();
        let (socket, _) = connect_async(format!("ws://{addr}/sync?ticket={ticket}")).await?;
        self.line = Some(Line {
            socket,
            state: State::new(),
        });
        self.send(&Frame {
            kind: "join".into(),
            sender: Some(name.into()),
            versions: vec!["1".into()],
            ..Frame::default()
        })
        .await?;
        let peer = self.next().await?;
        if peer.kind != "peer" {
            bail!("{} instead of a greeting", peer.kind);
        }
        Ok(())
    }

    /// Drops the line without a word.
    pub fn disconnect(&mut self) {
        self.line = None;
    }

    /// Sends a frame.
    ///
    /// # Errors
    /// Without a line.
    pub async fn send(&mut self, frame: &Frame) -> Result<()> {
        let line = self.line.as_mut().context("no line")?;
        let bytes = encode(frame);
        line.socket.send(Message::Binary(bytes.into())).await?;
        Ok(())
    }

    /// Sends bytes that may be no frame.
    ///
    /// # Errors
    /// Without a line.
    pub async fn send_bytes(&mut self, bytes: Vec<u8>) -> Result<()> {
        let line = self.line.as_mut().context("no line")?;
        line.socket.send(Message::Binary(bytes.into())).await?;
        Ok(())
    }

    /// Sends a message of the WebSocket that may be no frame at all.
    ///
    /// # Errors
    /// Without a line.
    pub async fn send_message(&mut self, message: Message) -> Result<()> {
        let line = self.line.as_mut().context("no line")?;
        Ok(line.socket.send(message).await?)
    }

    /// Waits for the next frame.
    ///
    /// # Errors
    /// When none comes, or the line ends.
    pub async fn next(&mut self) -> Result<Frame> {
        let line = self.line.as_mut().context("no line")?;
        // The server's pings are no answer.
        let until = Instant::now() + PATIENCE;
        loop {
            let message = timeout_at(until, line.socket.next())
                .await
                .context(SILENCE)?
                .context("the line has ended")??;
            match message {
                Message::Binary(bytes) => return Ok(decode(&bytes)?),
                Message::Close(reason) => bail!("the line was closed: {reason:?}"),
                _ => {}
            }
        }
    }

    /// Sends a sync message for the book.
    ///
    /// # Errors
    /// Without a line.
    pub async fn say(&mut self, kind: &str, data: Vec<u8>) -> Result<()> {
        let frame = Frame {
            kind: kind.into(),
            sender: Some(self.name.clone()),
            target: Some("baybook".into()),
            document: Some(self.book.clone()),
            data: Some(data),
            ..Frame::default()
        };
        self.send(&frame).await
    }

    /// Sends what the server does not know yet; false when there is nothing to say.
    ///
    /// # Errors
    /// Without a line.
    pub async fn offer(&mut self) -> Result<bool> {
        let line = self.line.as_mut().context("no line")?;
        let Some(message) = self.doc.sync().generate_sync_message(&mut line.state) else {
            return Ok(false);
        };
        let asks = self.doc.get_heads().is_empty();
        self.say(if asks { "request" } else { "sync" }, message.encode())
            .await?;
        Ok(true)
    }

    /// Takes one frame in. Returns its kind.
    ///
    /// # Errors
    /// When none comes.
    pub async fn hear(&mut self) -> Result<String> {
        let frame = self.next().await?;
        match frame.kind.as_str() {
            "sync" => {
                let message = SyncMessage::decode(&frame.data.context("no data")?)?;
                let line = self.line.as_mut().context("no line")?;
                self.doc
                    .sync()
                    .receive_sync_message(&mut line.state, message)?;
            }
            "error" => self.refused.push(frame.message.unwrap_or_default()),
            _ => {}
        }
        Ok(frame.kind)
    }

    /// Offers and hears until the server has said that it has everything of this phone.
    ///
    /// # Errors
    /// When an answer does not come.
    pub async fn share(&mut self) -> Result<()> {
        while !self.is_shared() {
            self.offer().await?;
            match self.hear().await?.as_str() {
                // Somebody says where they are.
                "sync" | "ephemeral" => {}
                _ => bail!("refused: {:?}", self.refused),
            }
        }
        Ok(())
    }

    /// Hears and answers until this phone has these heads.
    ///
    /// # Errors
    /// When they do not come.
    pub async fn hear_until(&mut self, heads: &[ChangeHash]) -> Result<()> {
        while self.doc.get_heads() != heads {
            self.hear().await?;
            self.offer().await?;
        }
        Ok(())
    }

    /// Waits until the server ends the line, and says with which words; what was on its way before is
    /// passed over.
    ///
    /// # Errors
    /// When it does not.
    pub async fn wait_for_end(&mut self) -> Result<String> {
        let line = self.line.as_mut().context("no line")?;
        loop {
            let message = timeout(PATIENCE, line.socket.next())
                .await
                .context("the line goes on")?;
            match message {
                Some(Ok(Message::Close(Some(reason)))) => return Ok(reason.reason.to_string()),
                Some(Ok(Message::Ping(_) | Message::Pong(_) | Message::Binary(_))) => {}
                other => bail!("{other:?} instead of an end"),
            }
        }
    }

    /// Does the server have, on disk, everything of this phone?
    pub fn is_shared(&mut self) -> bool {
        let heads = self.doc.get_heads();
        self.line
            .as_ref()
            .is_some_and(|line| line.state.their_heads.as_ref() == Some(&heads))
    }
}
