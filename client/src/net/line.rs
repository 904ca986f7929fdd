//! The line to the server: a WebSocket that carries sync frames.
//!
//! This file refuses to know what the frames are about.

use std::time::Duration;

use futures_util::stream::{SplitSink, SplitStream};
use futures_util::{FutureExt, SinkExt, StreamExt, select};
use gloo_net::http::Method;
use gloo_net::websocket::Message;
use gloo_net::websocket::futures::WebSocket;
use gloo_timers::future::sleep;
use shared::sync::frame::{Frame, decode, encode};
use shared::wire::{AskTicket, Ticket};

use super::{Api, NetError};

/// How long the server may take to welcome a phone.
const WELCOME: Duration = Duration::from_secs(20);

/// What is written on the line.
pub struct Writer {
    sink: SplitSink<WebSocket, Message>,
    name: String,
}

/// What is read from the line.
pub struct Reader {
    stream: SplitStream<WebSocket>,
}

/// Makes actors known to be this person's on this device.
///
/// # Errors
/// [`NetError`]; with the actor when it is somebody else's.
pub async fn register(api: &Api, device: &str, actors: Vec<String>) -> Result<Ticket, NetError> {
    let ask = AskTicket {
        device: device.to_owned(),
        actors,
    };
    api.call(Method::POST, "/api/ticket", Some(&ask)).await
}

/// Opens a line and joins; `actors` are those that this device has changes of.
///
/// # Errors
/// [`NetError`] when there is no server or nobody is signed in.
pub async fn open(
    api: &Api,
    device: &str,
    actors: Vec<String>,
) -> Result<(Writer, Reader), NetError> {
    let ticket = register(api, device, actors).await?;
    open_with(&ticket.ticket).await
}

/// Opens a line with a ticket and joins.
///
/// # Errors
/// [`NetError`] when there is no server, or the ticket is not good.
pub async fn open_with(ticket: &str) -> Result<(Writer, Reader), NetError> {
    let origin = crate::platform::origin();
    let address = format!(
        "{}/sync?ticket={}",
        origin.replacen("http", "ws", 1),
        ticket
    );
    let (sink, stream) = WebSocket::open(&address)
        .map_err(|_| NetError::Offline)?
        .split();
    let mut writer = Writer {
        sink,
        name: format!("phone-{}", crate::platform::fresh_id()),
    };
    let mut reader = Reader { stream };
    writer
        .write(Frame {
            kind: "join".into(),
            ..Frame::default()
        })
        .await?;
    select! {
        // Where nobody answers, the browser would wait for minutes.
        () = sleep(WELCOME).fuse() => Err(NetError::Offline),
        frame = reader.read().fuse() => match frame? {
            frame if frame.kind == "peer" => Ok((writer, reader)),
            _ => Err(NetError::Offline),
        },
    }
}

impl Writer {
    /// Sends a frame.
    ///
    /// # Errors
    /// [`NetError::Offline`] when the line is gone.
    pub async fn write(&mut self, frame: Frame) -> Result<(), NetError> {
        let bytes = encode(&Frame {
            sender: Some(self.name.clone()),
            target: Some("baybook".into()),
            versions: vec!["1".into()],
            ..frame
        });
        self.sink
            .send(Message::Bytes(bytes))
            .await
            .map_err(|_| NetError::Offline)
    }
}

impl Reader {
    /// Waits for a frame.
    ///
    /// # Errors
    /// [`NetError::Offline`] when the line is gone.
    pub async fn read(&mut self) -> Result<Frame, NetError> {
        while let Some(Ok(message)) = self.stream.next().await {
            if let Message::Bytes(bytes) = message
                && let Ok(frame) = decode(&bytes)
            {
                return Ok(frame);
            }
        }
        Err(NetError::Offline)
    }
}
