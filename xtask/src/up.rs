//! `cargo xtask up`: from a fresh clone to a running server with the demo car.

use anyhow::{Result, bail};

use crate::bundle::{Build, bundle};
use crate::run::{cargo, run};

/// Builds the phone's app and the server, and starts it on SQLite with the demo car.
pub(crate) fn up(options: &[&str]) -> Result<()> {
    let mut listen = "127.0.0.1:8080";
    let mut data = "data";
    let mut language = None;
    let mut rest = options;
    while let [name, value, more @ ..] = rest {
        match *name {
            "--listen" => listen = value,
            "--data" => data = value,
            "--demo-language" => language = Some(value),
            other => bail!(
                "unknown option {other}; known: --listen ADDRESS:PORT, --data DIR, --demo-language CODE"
            ),
        }
        rest = more;
    }
    if let [word] = rest {
        bail!("{word}: an option and its value are expected, as in --listen 127.0.0.1:8080");
    }
    bundle(Build::Small)?;
    run(&mut cargo(&[
        "build",
        "--package",
        "server",
        "--bin",
        "baybook",
    ])?)?;
    let mut words = vec![
        "run",
        "--quiet",
        "--package",
        "server",
        "--bin",
        "baybook",
        "--",
        "serve",
        "--demo",
        "--data",
        data,
        "--listen",
        listen,
    ];
    if let Some(language) = language {
        words.extend(["--demo-language", language]);
    }
    run(&mut cargo(&words)?)
}
