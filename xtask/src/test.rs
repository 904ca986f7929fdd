//! `cargo xtask test`: everything that must hold, on this machine, from nothing.

use anyhow::Result;

use crate::bundle::{Build, bundle};
use crate::check::check;
use crate::postgres::Postgres;
use crate::run::{cargo, run};
use crate::tools::{need_accessibility, need_browser, need_stock_client};

/// Checks, then runs the tests of every crate: unit, both databases, real Chromium, the stock
/// client of the open protocol, the rules of accessibility.
pub(crate) fn test() -> Result<()> {
    let browser = need_browser()?;
    let stock = need_stock_client()?;
    need_accessibility()?;
    let postgres = Postgres::start()?;
    check()?;
    bundle(Build::Small)?;
    run(cargo(&["test", "--workspace", "--no-fail-fast"])?
        .env("BAYBOOK_TEST_POSTGRES", &postgres.url)
        .env("BAYBOOK_TEST_NODE", &stock.node)
        .env("BAYBOOK_TEST_CHROMIUM", &browser.chromium)
        .env("BAYBOOK_TEST_CHROMEDRIVER", &browser.driver))
}
