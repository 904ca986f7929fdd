//! What connections and documents say to each other.

use std::sync::Arc;

use tokio::sync::{Notify, mpsc, oneshot};

use super::talk;
use crate::store::Sender;

/// Somebody on a connection.
#[derive(Debug, Clone)]
pub struct Peer {
    /// Number of the connection.
    pub number: u64,
    /// Who is behind it.
    pub who: Who,
    /// What is told to it.
    pub outbox: mpsc::Sender<Told>,
    /// Rung when the connection has to end: it does not keep up, or the document has ended.
    pub bell: Arc<Notify>,
}

/// Who is behind a connection.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Who {
    /// A member on a device; reads and writes.
    Member {
        /// Person and device.
        sender: Sender,
        /// Their session.
        session: String,
    },
    /// Somebody with a link to one job; reads.
    Follower {
        /// Link id.
        link: String,
    },
}

/// What a connection says to a document.
#[derive(Debug)]
pub enum Word {
    /// Takes part from now on.
    Join {
        /// Who.
        peer: Peer,
        /// Answered when it is in.
        answer: oneshot::Sender<()>,
    },
    /// A sync message.
    Sync {
        /// Number of the connection.
        peer: u64,
        /// As received, not yet trusted.
        data: Vec<u8>,
        /// Does the peer have nothing yet and ask for the document?
        asks: bool,
    },
    /// Presence, to be passed on.
    Presence {
        /// Number of the connection.
        peer: u64,
        /// What the others get.
        told: Told,
    },
    /// Takes part no longer.
    Leave {
        /// Number of the connection.
        peer: u64,
    },
    /// The server stops.
    Stop {
        /// Answered when all is kept.
        answer: oneshot::Sender<()>,
    },
}

/// What a document tells a connection.
#[derive(Debug, Clone)]
pub enum Told {
    /// A sync message of the document.
    Sync {
        /// Document id.
        doc: String,
        /// The message.
        data: Vec<u8>,
    },
    /// There is no such document, or not for you.
    Unavailable {
        /// Document id.
        doc: String,
    },
    /// Changes were refused and kept aside.
    Refused {
        /// Document id.
        doc: String,
        /// Why, as a stable word and a subject.
        reason: String,
    },
    /// Presence of another peer.
    Presence(talk::Presence),
    /// The server cannot go on with this connection.
    End,
}
