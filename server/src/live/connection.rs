//! One WebSocket: frames in, words to documents; what documents tell, frames out.
//!
//! The peer id that a frame claims counts for nothing: the connection is bound to the person and
//! device of its ticket, and the others are shown a peer id made from the connection. A follower
//! reads one book; what it says of changes or presence is dropped.

use std::collections::HashMap;
use std::sync::Arc;
use std::time::Duration;

use actix_ws::{AggregatedMessage, AggregatedMessageStream, CloseCode, CloseReason, Session};
use tokio::sync::{Notify, mpsc};
use tokio::time::{Instant, MissedTickBehavior, interval, sleep_until, timeout};

use super::frame::{self, Frame, VERSION};
use super::lines::Line;
use super::pace::Pace;
use super::talk::{Names, Presence};
use super::word::{Peer, Told, Who, Word};
use super::{Live, OUTBOX};
use crate::auth::limit::Limit;
use crate::store::{DocKey, Followed};
use shared::sync::is_document_id;

/// Something is said at least this often, or the line is dead.
const PULSE: Duration = Duration::from_secs(20);
/// Pulses without an answer before the line counts as dead.
const MAX_MISSED_PULSES: u32 = 3;
/// A frame that has not left after this long never will.
const SEND_PATIENCE: Duration = Duration::from_secs(30);
/// Documents that one connection may have open.
const MAX_DOCUMENTS: usize = 200;
/// Presence is a few words.
const MAX_PRESENCE_BYTES: usize = 16 * 1024;
/// So many words of presence at once, then one every so many milliseconds; more are dropped.
const PRESENCE: (u32, u32) = (20, 200);
/// Longest peer or session id.
const MAX_NAME_BYTES: usize = 200;

/// Why a line ends, as the other side is told.
type End = Option<CloseReason>;

struct Connection {
    live: Live,
    line: Line,
    /// What a follower may read, and until when.
    follows: Option<Followed>,
    peer: Peer,
    names: Option<Names>,
    presence: Limit,
    doors: HashMap<String, mpsc::Sender<Word>>,
}

/// Runs a connection until either side ends it.
pub async fn run(
    live: Live,
    line: Line,
    follows: Option<Followed>,
    mut session: Session,
    messages: AggregatedMessageStream,
) {
    let (outbox, told) = mpsc::channel(OUTBOX);
    let mut connection = Connection::new(live, line, follows, outbox);
    let end = connection.talk(&mut session, messages, told).await;
    connection.leave().await;
    // The line may be gone already.
    let _ = session.close(end).await;
}

/// Said to whoever was removed, or whose session, device or link has ended.
fn access_ended() -> End {
    ended(CloseCode::Policy, "access has ended")
}

fn ended(code: CloseCode, text: &str) -> End {
    Some(CloseReason {
        code,
        description: Some(text.to_owned()),
    })
}

async fn send(session: &mut Session, frame: Vec<u8>) -> Result<(), End> {
    match timeout(SEND_PATIENCE, session.binary(frame)).await {
        Ok(Ok(())) => Ok(()),
        Ok(Err(_)) | Err(_) => Err(None),
    }
}

impl Connection {
    fn new(live: Live, line: Line, follows: Option<Followed>, outbox: mpsc::Sender<Told>) -> Self {
        Self {
            live,
            peer: Peer {
                number: line.number,
                who: line.who.clone(),
                outbox,
                bell: Arc::new(Notify::new()),
            },
            line,
            follows,
            names: None,
            presence: Limit::new(PRESENCE.0, PRESENCE.1),
            doors: HashMap::new(),
        }
    }

    /// Until either side ends it; why.
    async fn talk(
        &mut self,
        session: &mut Session,
        mut messages: AggregatedMessageStream,
        mut told: mpsc::Receiver<Told>,
    ) -> End {
        let (live, bell) = (self.live.clone(), self.peer.bell.clone());
        let cut = self.line.cut.clone();
        let mut pulse = interval(PULSE);
        pulse.set_missed_tick_behavior(MissedTickBehavior::Delay);
        let mut missed = 0;
        let mut pace = Pace::new(Instant::now());
        let stopped = live.stopped();
        tokio::pin!(stopped);
        loop {
            let waits = pace.waits_until(Instant::now());
            let step = tokio::select! {
                message = messages.recv(), if waits.is_none() => {
                    missed = 0;
                    pace.count(Instant::now());
                    match message {
                        Some(Ok(message)) => self.take(message, session).await,
                        Some(Err(_)) => Err(ended(CloseCode::Size, "frame too large or broken")),
                        None => Err(None),
                    }
                }
                told = told.recv() => match told {
                    Some(Told::End) | None => Err(ended(CloseCode::Again, "try again")),
                    Some(_) if self.has_run_out() => Err(access_ended()),
                    Some(told) => match self.names.as_ref() {
                        Some(names) => send(session, names.frame(told)).await,
                        None => Ok(()),
                    },
                },
                () = sleep_until(waits.unwrap_or_else(Instant::now)), if waits.is_some() => Ok(()),
                () = &mut stopped => Err(ended(CloseCode::Away, "the server stops")),
                () = bell.notified() => Err(ended(CloseCode::Again, "try again")),
                () = cut.notified() => Err(access_ended()),
                _ = pulse.tick() => {
                    missed += 1;
                    if self.has_run_out() {
                        Err(access_ended())
                    } else if missed > MAX_MISSED_PULSES || session.ping(b"").await.is_err() {
                        Err(None)
                    } else {
                        Ok(())
                    }
                }
            };
            if let Err(end) = step {
                return end;
            }
        }
    }

    /// Has the time of a follower's link run out?
    fn has_run_out(&self) -> bool {
        let now_ms = self.live.clock.now_ms();
        let follows = self.follows.as_ref();
        follows.is_some_and(|followed| followed.expires_at_ms <= now_ms)
    }

    async fn take(&mut self, message: AggregatedMessage, session: &mut Session) -> Result<(), End> {
        match message {
            AggregatedMessage::Binary(bytes) => {
                let frame =
                    frame::decode(&bytes).map_err(|_| ended(CloseCode::Invalid, "not a frame"))?;
                self.hear(frame, session).await
            }
            AggregatedMessage::Ping(bytes) => session.pong(&bytes).await.map_err(|_| None),
            AggregatedMessage::Pong(_) => Ok(()),
            AggregatedMessage::Text(_) => Err(ended(CloseCode::Unsupported, "frames are binary")),
            AggregatedMessage::Close(_) => Err(None),
        }
    }

    async fn hear(&mut self, frame: Frame, session: &mut Session) -> Result<(), End> {
        match (frame.kind.as_str(), &self.names) {
            ("join", None) => {
                let names = self.greet(frame)?;
                send(session, names.welcome()).await?;
                self.names = Some(names);
                Ok(())
            }
            ("leave", _) => Err(None),
            (_, None) => Err(ended(CloseCode::Policy, "join first")),
            ("sync" | "request", Some(names)) => {
                let names = names.clone();
                let Some((doc, data)) = frame.document.zip(frame.data) else {
                    return Err(ended(CloseCode::Invalid, "no document or no data"));
                };
                match self.door(&doc).await {
                    Some(door) => {
                        let asks = frame.kind == "request";
                        let peer = self.peer.number;
                        // A document that has just ended is joined again at the next word.
                        if door.send(Word::Sync { peer, data, asks }).await.is_err() {
                            self.doors.remove(&doc);
                            return Err(ended(CloseCode::Again, "try again"));
                        }
                        Ok(())
                    }
                    None => send(session, names.frame(Told::Unavailable { doc })).await,
                }
            }
            ("ephemeral", Some(_)) => {
                self.pass_on(frame).await;
                Ok(())
            }
            // Kinds of later versions.
            _ => Ok(()),
        }
    }

    fn greet(&self, frame: Frame) -> Result<Names, End> {
        let speaks = frame.versions.is_empty() || frame.versions.iter().any(|v| v == VERSION);
        if !speaks {
            return Err(ended(
                CloseCode::Unsupported,
                "protocol version 1 is spoken here",
            ));
        }
        match frame.sender {
            Some(client) if client.len() <= MAX_NAME_BYTES => Ok(Names {
                server: "baybook".into(),
                client,
            }),
            _ => Err(ended(CloseCode::Invalid, "no peer id")),
        }
    }

    /// The way to a document, which this connection joins at its first word.
    async fn door(&mut self, doc: &str) -> Option<mpsc::Sender<Word>> {
        if let Some(door) = self.doors.get(doc).filter(|door| !door.is_closed()) {
            return Some(door.clone());
        }
        let follows = self.follows.as_ref();
        let is_its_own = follows.is_none_or(|followed| followed.book == doc);
        if !is_its_own || !is_document_id(doc) || self.doors.len() >= MAX_DOCUMENTS {
            return None;
        }
        let key = DocKey {
            shop: self.line.shop.clone(),
            doc: doc.to_owned(),
        };
        let door = self.live.join(&key, self.peer.clone()).await?;
        self.doors.insert(doc.to_owned(), door.clone());
        Some(door)
    }

    /// Presence goes to the others on a document that this connection has joined.
    async fn pass_on(&self, frame: Frame) {
        // Nothing is taken from a follower.
        if matches!(self.peer.who, Who::Follower { .. }) {
            return;
        }
        let (Some(doc), Some(data)) = (frame.document, frame.data) else {
            return;
        };
        let Some(door) = self.doors.get(&doc) else {
            return;
        };
        let session = frame.session.unwrap_or_default();
        if data.len() > MAX_PRESENCE_BYTES || session.len() > MAX_NAME_BYTES {
            return;
        }
        if self.presence.take("", self.live.clock.now_ms()).is_err() {
            return;
        }
        let peer = self.peer.number;
        let presence = Presence {
            doc,
            from: self.live.elsewhere.peer(peer),
            session,
            count: frame.count.unwrap_or(0),
            data,
        };
        self.live.whisper(&self.line.shop, &presence);
        let told = Told::Presence(presence);
        // Presence is worth nothing late; a document that has ended needs none.
        let _ = door.send(Word::Presence { peer, told }).await;
    }

    async fn leave(&mut self) {
        for (_, door) in self.doors.drain() {
            let peer = self.peer.number;
            // A document that has ended knows nobody.
            let _ = door.send(Word::Leave { peer }).await;
        }
    }
}
