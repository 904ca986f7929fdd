//! `cargo xtask pictures`: every screen and its main states as pictures, of a server with the demo car.

use anyhow::{Result, bail};

use crate::bundle::{Build, bundle};
use crate::run::{cargo, run};
use crate::tools::need_browser;

/// Makes the pictures into a folder; `--built` takes the app as it was built last.
pub(crate) fn pictures(options: &[&str]) -> Result<()> {
    let mut folder = crate::root()?.join("target/pictures");
    let mut is_built = false;
    let mut rest = options;
    loop {
        rest = match rest {
            [] => break,
            ["--built", more @ ..] => {
                is_built = true;
                more
            }
            ["--into", path, more @ ..] => {
                folder = std::path::absolute(path)?;
                more
            }
            [word, ..] => bail!("{word}? Known: --into FOLDER, --built"),
        };
    }
    let browser = need_browser()?;
    if !is_built {
        bundle(Build::Small)?;
    }
    run(cargo(&[
        "run",
        "--quiet",
        "--package",
        "tests",
        "--example",
        "pictures",
        "--",
    ])?
    .arg(&folder)
    .env("BAYBOOK_TEST_CHROMIUM", &browser.chromium)
    .env("BAYBOOK_TEST_CHROMEDRIVER", &browser.driver))
}
