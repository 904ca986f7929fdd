//! `cargo xtask bench`: figures, native and in a real Chromium. Nothing fails for being slow.

use anyhow::Result;

use crate::bundle::{Build, bundle};
use crate::run::{cargo, run};
use crate::tools::need_browser;

/// Prints the figures.
pub(crate) fn bench() -> Result<()> {
    let browser = need_browser()?;
    bundle(Build::Bench)?;
    run(&mut cargo(&[
        "run",
        "--quiet",
        "--release",
        "--package",
        "shared",
        "--example",
        "bench",
    ])?)?;
    run(cargo(&[
        "run",
        "--quiet",
        "--package",
        "tests",
        "--example",
        "browser_bench",
    ])?
    .env("BAYBOOK_TEST_CHROMIUM", &browser.chromium)
    .env("BAYBOOK_TEST_CHROMEDRIVER", &browser.driver))
}
