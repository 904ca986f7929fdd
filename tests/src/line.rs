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
    /// Counts how often the phone changed networks.
    network: Arc<watch::Sender<u32>>,
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
        let network = Arc::new(watch::Sender::new(0));
        let (state, place) = (open.clone(), network.clone());
        tokio::spawn(async move {
            while let Ok((phone, _)) = listener.accept().await {
                if *state.borrow() {
                    tokio::spawn(relay(phone, far, state.subscribe(), place.subscribe()));
                }
            }
        });
        Ok(Self {
            near,
            open,
            network,
        })
    }

    /// The phone walks into a dead spot.
    pub fn cut(&self) {
        self.open.send_replace(false);
    }

    /// The phone has signal again.
    pub fn mend(&self) {
        self.open.send_replace(true);
    }

    /// The phone changes networks: what is open stays open and carries nothing more; what is opened
    /// anew works.
    pub fn change_network(&self) {
        self.network.send_modify(|count| *count += 1);
    }

    /// Address for the browser.
    #[must_use]
    pub fn url(&self) -> String {
        format!("http://{}", self.near)
    }
}

async fn relay(
    mut phone: TcpStream,
    far: SocketAddr,
    mut open: watch::Receiver<bool>,
    mut network: watch::Receiver<u32>,
) {
    let Ok(mut server) = TcpStream::connect(far).await else {
        return;
    };
    tokio::select! {
        _ = tokio::io::copy_bidirectional(&mut phone, &mut server) => return,
        _ = open.wait_for(|open| !open) => return,
        _ = network.changed() => {}
    }
    // Held, so that neither end hears of it.
    let _ = open.wait_for(|open| !open).await;
}
