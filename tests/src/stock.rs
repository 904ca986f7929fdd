//! The stock JavaScript automerge-repo client as a peer: a Node process that takes orders.
//!
//! `tests/stock-client/peer.mjs` says what can be ordered. `BAYBOOK_TEST_NODE` names the `node`
//! program; `cargo xtask test` sets it after it has installed the client's packages.

use std::path::Path;
use std::process::Stdio;
use std::time::Duration;

use anyhow::{Context, Result, bail};
use serde_json::Value;
use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader, Lines};
use tokio::process::{Child, ChildStdin, ChildStdout, Command};
use tokio::time::timeout;
use ulid::Ulid;

use crate::shop::Person;

/// How long an order may take; the client itself gives up a little earlier.
const PATIENCE: Duration = Duration::from_secs(30);

/// The `node` program, if there is one to test with. Without it a test can only say so.
#[must_use]
pub fn node() -> Option<String> {
    let found = std::env::var("BAYBOOK_TEST_NODE").ok();
    if found.is_none() {
        eprintln!(
            "\nSKIPPED: the stock client was not tried, because BAYBOOK_TEST_NODE is not set. \
             `cargo xtask test` installs the client and sets it.\n"
        );
    }
    found
}

/// A running client with a line to the server.
#[derive(Debug)]
pub struct StockClient {
    /// The actor that is registered for it.
    pub actor: String,
    orders: ChildStdin,
    answers: Lines<BufReader<ChildStdout>>,
    // Dropping it ends the process.
    _process: Child,
}

impl StockClient {
    /// Starts it with a ticket of this person's, for a device of its own with one new actor.
    ///
    /// # Errors
    /// When the server gives no ticket, or the process does not start.
    pub async fn start(node: &str, who: &Person) -> Result<Self> {
        let actor: String = Ulid::generate()
            .to_bytes()
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect();
        let device = Ulid::generate().to_string();
        let ticket = who.ticket(&device, std::slice::from_ref(&actor)).await?;
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("stock-client");
        let mut process = Command::new(node)
            .arg("peer.mjs")
            .arg(format!("ws://{}/sync?ticket={}", who.addr, ticket.ticket))
            .current_dir(folder)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .kill_on_drop(true)
            .spawn()
            .with_context(|| format!("starting {node}"))?;
        Ok(Self {
            actor,
            orders: process.stdin.take().context("no input")?,
            answers: BufReader::new(process.stdout.take().context("no output")?).lines(),
            _process: process,
        })
    }

    /// Gives an order, an object with `order` and what it needs, and waits for the answer.
    ///
    /// # Errors
    /// When the client cannot do it, with its own words.
    pub async fn order(&mut self, order: &Value) -> Result<Value> {
        let line = format!("{order}\n");
        self.orders.write_all(line.as_bytes()).await?;
        let answer = timeout(PATIENCE, self.answers.next_line())
            .await
            .with_context(|| format!("no answer to {order}"))??
            .with_context(|| format!("the client ended at {order}"))?;
        let answer: Value =
            serde_json::from_str(&answer).with_context(|| format!("{order}: {answer}"))?;
        match answer.get("failed") {
            Some(why) => bail!("{order}: {why}"),
            None => Ok(answer),
        }
    }
}

/// A running stock tus client that sends one file.
#[derive(Debug)]
pub struct StockSender {
    says: Lines<BufReader<ChildStdout>>,
    // Dropping it ends the process.
    _process: Child,
}

impl StockSender {
    /// Starts it; `tests/stock-client/tus.mjs` says what it wants to know.
    ///
    /// # Errors
    /// When the process does not start.
    pub fn start(node: &str, wish: &Value) -> Result<Self> {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("stock-client");
        let mut process = Command::new(node)
            .arg("tus.mjs")
            .arg(wish.to_string())
            .current_dir(folder)
            .stdout(Stdio::piped())
            .kill_on_drop(true)
            .spawn()
            .with_context(|| format!("starting {node}"))?;
        Ok(Self {
            says: BufReader::new(process.stdout.take().context("no output")?).lines(),
            _process: process,
        })
    }

    /// What it says next.
    ///
    /// # Errors
    /// When it says nothing any more.
    pub async fn says(&mut self) -> Result<Value> {
        let line = timeout(PATIENCE, self.says.next_line())
            .await
            .context("the stock client is silent")??
            .context("the stock client has ended")?;
        Ok(serde_json::from_str(&line)?)
    }

    /// Waits until it says that it is done, or that it failed.
    ///
    /// # Errors
    /// When it says nothing any more.
    pub async fn ends(&mut self) -> Result<Value> {
        loop {
            let said = self.says().await?;
            if said.get("done").is_some() || said.get("failed").is_some() {
                return Ok(said);
            }
        }
    }
}
