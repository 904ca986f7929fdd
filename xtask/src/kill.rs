//! `cargo xtask kill`: the server is killed at any moment while people write, and nothing is lost.

use anyhow::Result;

use crate::postgres::Postgres;
use crate::run::{cargo, run};

/// Builds the server and runs the harness against it; the options are the harness's own, and
/// `--postgres` starts a server to write into.
pub(crate) fn kill(options: &[&str]) -> Result<()> {
    run(&mut cargo(&[
        "build",
        "--package",
        "server",
        "--bin",
        "baybook",
    ])?)?;
    let server = crate::root()?.join("target/debug/baybook");
    let (started, rest): (Vec<&str>, Vec<&str>) =
        options.iter().partition(|option| **option == "--postgres");
    let postgres = match started.is_empty() {
        true => None,
        false => Some(Postgres::start()?),
    };
    let mut harness = cargo(&[
        "run",
        "--quiet",
        "--package",
        "tests",
        "--bin",
        "kill",
        "--",
    ])?;
    harness.arg("run").arg("--server").arg(server).args(rest);
    if let Some(postgres) = &postgres {
        harness.arg("--database-url").arg(&postgres.url);
    }
    run(&mut harness)
}
