//! Two versions of the phone's app at one address: a server's own bundle, and the same under other
//! names, as a release makes it.
//!
//! A relay in front of a real server. It answers for the few files that name the version itself, and
//! passes everything else on.

use std::net::SocketAddr;
use std::sync::Arc;

use anyhow::{Context, Result};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;

/// What the second version's boot script says beside doing what the first one's does.
const MARK: &str = "document.documentElement.dataset.version = 'second';\n";

/// The relay.
#[derive(Debug)]
pub struct Versions {
    near: SocketAddr,
    second: Arc<watch::Sender<bool>>,
}

/// The files of the second version that differ.
#[derive(Debug)]
struct Second {
    page: String,
    worker: String,
    boot_name: String,
    boot: String,
}

impl Versions {
    /// Opens the relay, which shows the first version.
    ///
    /// # Errors
    /// When no port is free, or the server's bundle is not what it should be.
    pub async fn of(far: SocketAddr) -> Result<Self> {
        let listener = TcpListener::bind("127.0.0.1:0").await?;
        let near = listener.local_addr()?;
        let files = Arc::new(Second::of(far).await?);
        let second = Arc::new(watch::Sender::new(false));
        let state = second.clone();
        tokio::spawn(async move {
            while let Ok((phone, _)) = listener.accept().await {
                let (files, state) = (files.clone(), state.clone());
                tokio::spawn(async move { relay(phone, far, &state, &files).await });
            }
        });
        Ok(Self { near, second })
    }

    /// From now on the address has the second version.
    pub fn release(&self) {
        self.second.send_replace(true);
    }

    /// Where the phone connects.
    #[must_use]
    pub fn near(&self) -> SocketAddr {
        self.near
    }
}

impl Second {
    async fn of(far: SocketAddr) -> Result<Self> {
        let fetch = async |path: &str| -> Result<String> {
            let answer = reqwest::get(format!("http://{far}{path}")).await?;
            Ok(answer.error_for_status()?.text().await?)
        };
        let (page, worker) = (fetch("/").await?, fetch("/sw.js").await?);
        let (_, rest) = page.split_once("/boot-").context("no boot script")?;
        let (hash, _) = rest.split_once(".js").context("no boot script")?;
        let old_name = format!("boot-{hash}.js");
        let boot_name = "boot-5ec0nd5ec0nd0000.js".to_owned();
        let (_, rest) = worker.split_once("\"baybook-").context("no version")?;
        let (version, _) = rest.split_once('"').context("no version")?;
        Ok(Self {
            page: page.replace(&old_name, &boot_name),
            worker: worker
                .replace(&old_name, &boot_name)
                .replace(&format!("\"baybook-{version}\""), "\"baybook-second\""),
            boot: format!("{MARK}{}", fetch(&format!("/{old_name}")).await?),
            boot_name,
        })
    }

    fn answer(&self, path: &str) -> Option<(&str, &'static str)> {
        match path {
            "/" => Some((&self.page, "text/html; charset=utf-8")),
            "/sw.js" => Some((&self.worker, "text/javascript")),
            path if path.strip_prefix('/') == Some(&self.boot_name) => {
                Some((&self.boot, "text/javascript"))
            }
            _ => None,
        }
    }
}

/// One request, or one WebSocket: the server is asked to close what is not upgraded, so that each
/// request is seen here.
async fn relay(
    mut phone: TcpStream,
    far: SocketAddr,
    is_second: &watch::Sender<bool>,
    files: &Second,
) -> Option<()> {
    let mut head = Vec::new();
    let end = loop {
        let mut part = [0; 4096];
        let count = phone
            .read(&mut part)
            .await
            .ok()
            .filter(|count| *count > 0)?;
        head.extend_from_slice(&part[..count]);
        if let Some(end) = head.windows(4).position(|four| four == b"\r\n\r\n") {
            break end + 4;
        }
    };
    let (head, body) = head.split_at(end);
    let head = String::from_utf8_lossy(head).into_owned();
    let path = head.split_whitespace().nth(1).unwrap_or_default();
    let path = path.split('?').next().unwrap_or_default();
    // The version of the moment of the request: browsers open lines before they need them.
    let second = is_second.borrow().then_some(files);
    if let Some((text, kind)) = second.and_then(|second| second.answer(path)) {
        let length = text.len();
        let answer = format!(
            "HTTP/1.1 200 OK\r\nContent-Type: {kind}\r\nCache-Control: no-cache\r\nContent-Length: {length}\r\nConnection: close\r\n\r\n{text}"
        );
        return phone.write_all(answer.as_bytes()).await.ok();
    }
    let head = head
        .replace("Connection: keep-alive", "Connection: close")
        .replace("connection: keep-alive", "connection: close");
    let mut server = TcpStream::connect(far).await.ok()?;
    server.write_all(head.as_bytes()).await.ok()?;
    server.write_all(body).await.ok()?;
    tokio::io::copy_bidirectional(&mut phone, &mut server)
        .await
        .ok()?;
    Some(())
}
