//! `cargo xtask bench`: figures of the engine, the book, the report, the phone's app in a real Chromium,
//! and a server with many lines. Nothing fails for being slow.

use std::path::Path;
use std::process::Command;

use anyhow::{Context, Result, bail};

use crate::bundle::{Build, bundle};
use crate::run::{cargo, output, run};
use crate::tools::need_browser;

/// The engine's own figures.
const ENGINE: [&str; 6] = [
    "run",
    "--quiet",
    "--release",
    "--package",
    "shared",
    "--example",
];

/// Reports of the demo car and of a large one with 40 photos, written and timed.
const REPORT: [&str; 9] = [
    "run",
    "--quiet",
    "--release",
    "--package",
    "report",
    "--features",
    "pdf",
    "--example",
    "report",
];

/// Prints the figures.
pub(crate) fn bench() -> Result<()> {
    let browser = need_browser()?;
    bundle(Build::Bench)?;
    run(cargo(&ENGINE)?.arg("bench"))?;
    run(cargo(&ENGINE)?.arg("book_bench"))?;
    run(cargo(&REPORT)?
        .arg("--")
        .arg(crate::root()?.join("target/bench-reports")))?;
    beside_scipy()?;
    run(cargo(&[
        "run",
        "--quiet",
        "--package",
        "tests",
        "--example",
        "browser_bench",
    ])?
    .env("BAYBOOK_TEST_CHROMIUM", &browser.chromium)
    .env("BAYBOOK_TEST_CHROMEDRIVER", &browser.driver))?;
    crate::load::load(&[])
}

/// The same network, solved by numpy and scipy.
fn beside_scipy() -> Result<()> {
    if output(Command::new("python3").args(["-c", "import numpy, scipy"])).is_none() {
        eprintln!(
            "numpy and scipy are not here, so nothing is solved beside them: `pip install numpy scipy`"
        );
        return Ok(());
    }
    let Some(job) = output(cargo(&ENGINE)?.args(["bench", "--", "job"])) else {
        bail!("the benchmark did not print its job");
    };
    let root = crate::root()?;
    let file = root.join("target/bench-job.json");
    std::fs::write(&file, job).with_context(|| format!("writing {}", file.display()))?;
    let script = Path::new(&root).join("tests/oracle/speed.py");
    run(Command::new("python3").arg("-B").arg(script).arg(file))
}
