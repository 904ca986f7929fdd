//! A server to measure, as a process of its own that can be started again over the same folder.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::sync::Arc;

use anyhow::{Context, Result};
use tokio::io::{AsyncBufReadExt, BufReader, Lines};
use tokio::process::{Child, ChildStdout, Command};
use tokio::sync::Mutex;

use crate::shop::Person;

/// Which server.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// `baybook serve`.
    Ours,
    /// `tests/stock-server/server.mjs`.
    Stock,
}

/// A running server.
#[derive(Debug, Clone)]
pub struct Peer {
    /// Which.
    pub kind: Kind,
    /// Where it listens.
    pub addr: SocketAddr,
    /// Whoever opens lines to ours.
    pub person: Option<Person>,
    program: PathBuf,
    folder: PathBuf,
    process: Arc<Mutex<Running>>,
    number: u32,
}

#[derive(Debug)]
struct Running {
    child: Child,
    // Kept open, so that whatever the server says has a reader.
    _said: Lines<BufReader<ChildStdout>>,
}

impl Peer {
    /// Starts ours over an empty folder, and sets its shop up.
    ///
    /// # Errors
    /// When it does not start.
    pub async fn ours(program: &Path, folder: &Path) -> Result<Self> {
        let (addr, mut running) = start(Kind::Ours, program, folder).await?;
        let link = loop {
            let line = running._said.next_line().await?.context("no link")?;
            if line.contains("/#/setup/") {
                break line.trim().to_owned();
            }
        };
        let person = Person::at(addr).set_up(&link).await?;
        Self::of(Kind::Ours, addr, running, Some(person), (program, folder))
    }

    /// Starts the stock server over an empty folder; the program is `node`.
    ///
    /// # Errors
    /// When it does not start.
    pub async fn stock(program: &Path, folder: &Path) -> Result<Self> {
        let (addr, running) = start(Kind::Stock, program, folder).await?;
        Self::of(Kind::Stock, addr, running, None, (program, folder))
    }

    fn of(
        kind: Kind,
        addr: SocketAddr,
        running: Running,
        person: Option<Person>,
        (program, folder): (&Path, &Path),
    ) -> Result<Self> {
        Ok(Self {
            kind,
            addr,
            person,
            program: program.to_owned(),
            folder: folder.to_owned(),
            number: running.child.id().context("it has ended")?,
            process: Arc::new(Mutex::new(running)),
        })
    }

    /// Ends it and starts it again over what it has kept.
    ///
    /// # Errors
    /// When it does not start.
    pub async fn restart(&mut self) -> Result<()> {
        let mut process = self.process.lock().await;
        process.child.kill().await?;
        let (addr, running) = start(self.kind, &self.program, &self.folder).await?;
        self.number = running.child.id().context("it has ended")?;
        *process = running;
        self.addr = addr;
        self.person = self.person.take().map(|person| person.moved_to(addr));
        Ok(())
    }

    /// Memory that the process holds (proc(5)).
    ///
    /// # Errors
    /// On a system that does not tell.
    pub fn resident_bytes(&self) -> Result<u64> {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.number))?;
        let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
        let kilobytes = line.and_then(|rest| rest.split_whitespace().next());
        Ok(kilobytes.context("no VmRSS")?.parse::<u64>()? * 1024)
    }

    /// Names of the files that the stock server keeps of a document, in no order that matters.
    ///
    /// # Errors
    /// When its folder cannot be read.
    pub(super) fn files(&self, book: &str) -> Result<Vec<PathBuf>> {
        let mut found = Vec::new();
        if self.kind == Kind::Stock && book.len() > 2 {
            let (head, rest) = book.split_at(2);
            for part in ["incremental", "snapshot"] {
                let folder = self.folder.join(head).join(rest).join(part);
                // Made with the first file in it.
                for entry in std::fs::read_dir(folder).into_iter().flatten() {
                    found.push(entry?.path());
                }
            }
            found.sort_unstable();
        }
        Ok(found)
    }
}

async fn start(kind: Kind, program: &Path, folder: &Path) -> Result<(SocketAddr, Running)> {
    let mut command = Command::new(program);
    match kind {
        Kind::Ours => command
            .args(["serve", "--listen", "127.0.0.1:0", "--data"])
            .env_remove("DATABASE_URL")
            .env("RUST_LOG", "error"),
        Kind::Stock => command
            .arg("server.mjs")
            .current_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("stock-server")),
    };
    let mut child = command
        .arg(folder)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .kill_on_drop(true)
        .spawn()
        .with_context(|| format!("starting {}", program.display()))?;
    let mut said = BufReader::new(child.stdout.take().context("no output")?).lines();
    let first = said.next_line().await?.context("it said nothing")?;
    let addr = first.trim_start_matches("Baybook is at http://").parse()?;
    Ok((addr, Running { child, _said: said }))
}
