//! What travels on a line: documents' words as frames.

use super::frame::{self, Frame};
use super::word::Told;

/// Presence of a peer: passed on, never stored.
#[derive(Debug, Clone)]
pub struct Presence {
    /// Document id.
    pub doc: String,
    /// Peer id that the others see.
    pub from: String,
    /// The sender's session.
    pub session: String,
    /// Number within the session.
    pub count: u64,
    /// What it says.
    pub data: Vec<u8>,
}

/// The two ends of a line.
#[derive(Debug, Clone)]
pub struct Names {
    /// Our peer id.
    pub server: String,
    /// The peer id that the client chose; it is only shown back to itself.
    pub client: String,
}

impl Names {
    /// The frame that tells it.
    #[must_use]
    pub fn frame(&self, told: Told) -> Vec<u8> {
        let mut frame = Frame {
            sender: Some(self.server.clone()),
            target: Some(self.client.clone()),
            ..Frame::default()
        };
        match told {
            Told::Sync { doc, data } => {
                frame.kind = "sync".into();
                frame.document = Some(doc);
                frame.data = Some(data);
            }
            Told::Unavailable { doc } => {
                frame.kind = "doc-unavailable".into();
                frame.document = Some(doc);
            }
            Told::Refused { doc, reason } => {
                frame.kind = "error".into();
                frame.document = Some(doc);
                frame.message = Some(reason);
            }
            Told::Presence(presence) => {
                frame.kind = "ephemeral".into();
                frame.sender = Some(presence.from);
                frame.document = Some(presence.doc);
                frame.session = Some(presence.session);
                frame.count = Some(presence.count);
                frame.data = Some(presence.data);
            }
            Told::End => {
                frame.kind = "error".into();
                frame.message = Some("try-again".into());
            }
        }
        frame::encode(&frame)
    }

    /// The frame that lets a client in.
    #[must_use]
    pub fn welcome(&self) -> Vec<u8> {
        frame::encode(&Frame {
            kind: "peer".into(),
            sender: Some(self.server.clone()),
            target: Some(self.client.clone()),
            ..Frame::default()
        })
    }
}
