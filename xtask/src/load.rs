//! `cargo xtask load`: how fast a server is with many lines, ours and the stock one in one run.

use anyhow::Result;

use crate::run::{cargo, run};
use crate::tools::need_stock_server;

/// Builds the server as it is shipped, and measures; the options are the load's own.
pub(crate) fn load(options: &[&str]) -> Result<()> {
    let node = need_stock_server()?;
    let build = [
        "build",
        "--release",
        "--package",
        "server",
        "--bin",
        "baybook",
    ];
    run(&mut cargo(&build)?)?;
    let server = crate::root()?.join("target/release/baybook");
    // The document engine, which is what works here, is optimised in a plain build as well.
    let load = [
        "run",
        "--quiet",
        "--package",
        "tests",
        "--bin",
        "load",
        "--",
    ];
    let mut load = cargo(&load)?;
    load.arg("--server")
        .arg(server)
        .arg("--node")
        .arg(node.node);
    run(load.args(options))
}
