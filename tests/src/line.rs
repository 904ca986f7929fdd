//! A line between a phone and the server that can be cut and mended, byte for byte otherwise.
//!
//! Each phone gets a line of its own, so that one can be in a dead spot while the other is not.

use std::net::SocketAddr;
use std::sync::Arc;

use anyhow::Result;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;

/// A TCP relay to one server. Cutting it closes every connection and refuses new ones.
#[derive(Debug)]
pub struct Line {
    /// Where the phone connects.
    pub near: SocketAddr,
    open: Arc<watch::Sender<bool>>,
}

impl Line {
    /// Opens a line to the server at `far`.
    ///
    /// # Errors
    /// When no port is free.
    pub async fn to(far: SocketAddr) -> Result<Self> {
        let listener = TcpListener::bind("127.0.0.1:0").await?;
        let near = listener.local_addr()?;
        let open = Arc::new(watch::Sender::new(true));
        let state = open.clone();
        tokio::spawn(async move {
            while let Ok((phone, _)) = listener.accept().await {
                if *state.borrow() {
                    tokio::spawn(relay(phone, far, state.subscribe()));
                }
            }
        });
        Ok(Self { near, open })
    }

    /// The phone walks into a dead spot.
    pub fn cut(&self) {
        self.open.send_replace(false);
    }

    /// The phone has signal again.
    pub fn mend(&self) {
        self.open.send_replace(true);
    }

    /// Address for the browser.
    #[must_use]
    pub fn url(&self) -> String {
        format!("http://{}", self.near)
    }
}

async fn relay(mut phone: TcpStream, far: SocketAddr, mut open: watch::Receiver<bool>) {
    let Ok(mut server) = TcpStream::connect(far).await else {
        return;
    };
    tokio::select! {
        _ = tokio::io::copy_bidirectional(&mut phone, &mut server) => {}
        _ = open.wait_for(|open| !open) => {}
    }
}
