//! The server as a process of its own, which can be killed.

use std::net::SocketAddr;
use std::process::Stdio;
use std::time::Duration;

use anyhow::{Context, Result};
use tokio::io::{AsyncBufReadExt, BufReader, Lines};
use tokio::process::{Child, ChildStdout, Command};
use tokio::time::{Instant, timeout};

use super::Plan;

/// How long a start may take on a busy machine.
const PATIENCE: Duration = Duration::from_secs(60);
/// The link comes right behind the address.
const LINK_PATIENCE: Duration = Duration::from_secs(5);

/// A running server.
#[derive(Debug)]
pub(super) struct Process {
    child: Child,
    /// Where it listens.
    pub(super) addr: SocketAddr,
    /// From the start of the process to its word where it is.
    pub(super) took: Duration,
    lines: Lines<BufReader<ChildStdout>>,
}

fn spawn(plan: &Plan) -> Result<Child> {
    Command::new(&plan.server)
        .args(["serve", "--listen", "127.0.0.1:0", "--data"])
        .arg(&plan.folder)
        .env("DATABASE_URL", &plan.database_url)
        .env("RUST_LOG", "error")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .kill_on_drop(true)
        .spawn()
        .with_context(|| format!("starting {}", plan.server.display()))
}

impl Process {
    /// Starts it and waits for its word.
    pub(super) async fn start(plan: &Plan) -> Result<Self> {
        let begun = Instant::now();
        let mut child = spawn(plan)?;
        let output = child.stdout.take().context("the server has no output")?;
        let mut lines = BufReader::new(output).lines();
        let first = timeout(PATIENCE, lines.next_line())
            .await
            .context("no word of the server")??
            .context("the server ended before it said where it is")?;
        let addr = first
            .strip_prefix("Baybook is at http://")
            .with_context(|| format!("the server says: {first}"))?;
        Ok(Self {
            child,
            addr: addr.parse()?,
            took: begun.elapsed(),
            lines,
        })
    }

    /// The one-time link, which an empty database gets. What the server says later is few words and
    /// fits in the pipe.
    pub(super) async fn set_up_link(&mut self) -> Result<String> {
        let link = async {
            while let Some(line) = self.lines.next_line().await? {
                if line.contains("/#/setup/") {
                    return Ok(line.trim().to_owned());
                }
            }
            anyhow::bail!("the server has ended")
        };
        timeout(LINK_PATIENCE, link).await.context(
            "no set-up link: name an empty database, this harness fills it with readings",
        )?
    }

    /// `SIGKILL`, and waits until it is gone.
    pub(super) async fn kill(&mut self) -> Result<()> {
        Ok(self.child.kill().await?)
    }
}

/// A start that is killed before anybody can know how far it came.
pub(super) async fn start_and_kill(plan: &Plan, after: Duration) -> Result<()> {
    let mut child = spawn(plan)?;
    tokio::time::sleep(after).await;
    Ok(child.kill().await?)
}
