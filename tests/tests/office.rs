//! The office's work: signing, adjusters, people, the library. Real browsers, one server.
//!
//! Needs `cargo xtask test`, which builds the phone's app and finds the browser. With
//! `BAYBOOK_TEST_PICTURES` set to a folder, the screens are kept there as pictures.

#[path = "office/signing.rs"]
mod signing;
#[path = "office/adjuster.rs"]
mod adjuster;
#[path = "office/people.rs"]
mod people;
#[path = "office/library.rs"]
mod library;
#[path = "office/new_job.rs"]
mod new_job;
#[path = "office/addresses.rs"]
mod addresses;

use anyhow::{Result, ensure};
use tests::bay::wait_until_shared;
use tests::phone::{Phone, Screen};

const DESK: Screen = Screen {
    width: 1280,
    height: 800,
    dark: false,
};

/// Opens the page where the open car is signed off and shared.
async fn open_signing(phone: &Phone) -> Result<()> {
    phone.tap("[data-test=tab-more]").await?;
    phone.tap("[data-test=go-sign]").await?;
    phone.see("[data-test=claims] li").await?;
    // The page started anew: what is not shared yet cannot be signed.
    wait_until_shared(phone).await
}

/// Signs the stage that stands on the page, open as things may be, and gives the code.
async fn sign(phone: &Phone) -> Result<String> {
    phone.tap("[data-test=sign]").await?;
    phone.tap("[data-test=sign-anyway]").await?;
    let code = phone.see("[data-test=signed-code] b").await?;
    Ok(code.text().await?)
}

/// Is the page no wider than the screen?
async fn fits(phone: &Phone, name: &str) -> Result<()> {
    let script =
        "return document.documentElement.scrollWidth > document.documentElement.clientWidth";
    let wide: bool = phone.driver.execute(script, vec![]).await?.convert()?;
    ensure!(!wide, "{name}: the page is wider than the screen");
    Ok(())
}
