//! `cargo xtask probe`: a running server is asked everything that its own description allows, and
//! much that it does not (`tests/probe/probe.py`).

use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};

use anyhow::{Context, Result, bail};

use crate::run::{cargo, output, run};

/// The prober and the validator, at versions that were tried.
const PACKAGES: [&str; 2] = ["schemathesis==4.32.5", "openapi-spec-validator==0.9.0"];

/// A demo server of our own; dropping it ends it and removes its folder.
struct Server {
    child: Child,
    folder: PathBuf,
    address: String,
    owner: (String, String),
}

impl Drop for Server {
    fn drop(&mut self) {
        // It may have ended by itself; a folder that stays is named by the next run's error.
        let _ = self.child.kill();
        let _ = self.child.wait();
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

/// Builds the server, starts it with the demo shop, and probes it; `examples` per route.
pub(crate) fn probe(examples: &str) -> Result<()> {
    if examples.parse::<u32>().is_err() {
        bail!("{examples}: a number of examples per route is expected");
    }
    let python = need_prober()?;
    run(&mut cargo(&[
        "build",
        "--package",
        "server",
        "--bin",
        "baybook",
    ])?)?;
    let server = start()?;
    let (email, password) = &server.owner;
    let script = crate::root()?.join("tests/probe/probe.py");
    let mut probe = Command::new(python);
    probe.arg("-B").arg(script).arg(&server.address);
    run(probe.args([email, password, examples]))
}

fn start() -> Result<Server> {
    let folder = std::env::temp_dir().join(format!("baybook-probe-{}", std::process::id()));
    let mut child = Command::new(crate::root()?.join("target/debug/baybook"))
        .args(["serve", "--demo", "--listen", "127.0.0.1:0", "--data"])
        .arg(&folder)
        .env_remove("DATABASE_URL")
        .env("RUST_LOG", "error")
        .stdout(Stdio::piped())
        .spawn()
        .context("starting the server")?;
    let said = child.stdout.take().context("the server has no output")?;
    let mut server = Server {
        child,
        folder,
        address: String::new(),
        owner: (String::new(), String::new()),
    };
    for line in BufReader::new(said).lines() {
        let line = line?;
        if let Some(address) = line.strip_prefix("Baybook is at ") {
            server.address = address.to_owned();
        }
        // sign in as Marta Holm (owner): marta@demo.example  PASSWORD
        if let Some((_, data)) = line.split_once("(owner): ")
            && let Some((email, password)) = data.split_once("  ")
        {
            server.owner = (email.to_owned(), password.to_owned());
            return Ok(server);
        }
    }
    bail!("the server ended before it said who its owner is")
}

/// A Python of our own with the prober in it.
fn need_prober() -> Result<PathBuf> {
    let venv = crate::root()?.join("target/probe-venv");
    let python = venv.join("bin/python");
    let versions = "import importlib.metadata as m; \
                    print(*(f'{n}=={m.version(n)}' for n in ('schemathesis', 'openapi-spec-validator')))";
    let there = output(Command::new(&python).args(["-c", versions]));
    if there.is_some_and(|there| there.trim() == PACKAGES.join(" ")) {
        return Ok(python);
    }
    let installed = run(Command::new("python3").arg("-m").arg("venv").arg(&venv)).and_then(|()| {
        run(Command::new(&python)
            .args(["-m", "pip", "install", "--quiet"])
            .args(PACKAGES))
    });
    installed.or_else(|error| {
        bail!(
            "the prober cannot be installed ({error:#}). Install Python with venv \
             (apt-get install python3-venv), then: {} -m pip install {}",
            python.display(),
            PACKAGES.join(" ")
        )
    })?;
    Ok(python)
}
