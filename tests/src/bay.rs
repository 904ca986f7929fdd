//! People of the demo shop at work on their phones.

use std::path::PathBuf;

use anyhow::Result;
use server::config::Config;
use server::demo::DemoPerson;
use server::{Running, start};
use thirtyfour::By;

use crate::database::Scratch;
use crate::line::Line;
use crate::phone::Phone;

/// What the badge says, in English and Spanish, when the server has everything.
const SHARED: [&str; 2] = ["shared", "compartido"];

/// A server with the demo shop and its car.
///
/// # Errors
/// When it does not start.
pub async fn demo_server(scratch: &Scratch) -> Result<Running> {
    let checked = Config::check(
        "127.0.0.1:0".parse()?,
        Some(scratch.url.clone()),
        scratch.folder.clone(),
        None,
    )?;
    start(Config {
        demo: true,
        ..checked
    })
    .await
}

/// Somebody of the demo shop signs in on a phone.
///
/// # Errors
/// When the list of cars does not come.
pub async fn sign_in(phone: &Phone, line: &Line, person: &DemoPerson) -> Result<()> {
    phone.driver.goto(format!("{}/", line.url())).await?;
    fill_sign_in(phone, person).await?;
    phone.see("[data-test=car]").await?;
    // What is reloaded without signal comes from there.
    wait_for_worker(phone).await
}

/// Fills in the form that is shown, and sends it.
///
/// # Errors
/// When there is no such form.
pub async fn fill_sign_in(phone: &Phone, person: &DemoPerson) -> Result<()> {
    phone.fill("input[name=email]", person.email).await?;
    phone.fill("input[name=password]", person.password).await?;
    phone.tap("button.primary").await
}

/// Opens the first car, and waits until it is shared.
///
/// # Errors
/// When it does not come.
pub async fn open_car(phone: &Phone) -> Result<()> {
    phone.tap("[data-test=car]").await?;
    phone.see("[data-test=enter]").await?;
    wait_until_shared(phone).await
}

/// The same, and waits until its reasons are there: what is read next changes with them.
///
/// # Errors
/// When they do not come.
pub async fn open_car_with_reasons(phone: &Phone) -> Result<()> {
    open_car(phone).await?;
    phone.read("settles what is open").await
}

/// Types a number as a tape would, and Enter; keeps it when the book asks.
///
/// # Errors
/// When the book has no answer to it.
pub async fn enter(phone: &Phone, number: &str) -> Result<()> {
    // The way here may lead from the other app: a page that is being left has nothing to type into.
    phone.see("[data-test=enter]").await?;
    let page = phone.driver.find(By::Css("body")).await?;
    page.send_keys(number).await?;
    page.send_keys("\u{e007}").await?;
    phone.see("[data-test=undo], [data-test=keep]").await?;
    if phone.driver.find(By::Css("[data-test=keep]")).await.is_ok() {
        phone.tap("[data-test=keep]").await?;
        phone.see("[data-test=undo]").await?;
    }
    Ok(())
}

/// The place of the task in hand, as it stands on Read.
///
/// # Errors
/// When Read is not on the screen.
pub async fn task(phone: &Phone) -> Result<String> {
    Ok(phone.see("[data-test=task]").await?.text().await?)
}

/// Waits until somebody is to read another point than this, and says which.
///
/// # Errors
/// When they are still sent to this one.
pub async fn apart(phone: &Phone, from: &str) -> Result<String> {
    for _ in 0..400 {
        let now = task(phone).await?;
        if now != from {
            return Ok(now);
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    anyhow::bail!("still sent to {from}")
}

/// Waits until the badge says that the server has everything.
///
/// # Errors
/// When it goes on saying something else.
pub async fn wait_until_shared(phone: &Phone) -> Result<()> {
    // The page may be drawn anew between finding and reading.
    let shown = async || {
        let badge = phone.see(".bar .badge").await?;
        anyhow::Ok(badge.text().await.unwrap_or_default())
    };
    // A line that was cut is tried again after half a minute at most.
    for _ in 0..1200 {
        if SHARED.contains(&shown().await?.as_str()) {
            return Ok(());
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    anyhow::bail!("the badge says '{}'", shown().await?)
}

/// Waits until the app's files are kept for when there is no signal.
///
/// # Errors
/// When the browser keeps none.
pub async fn wait_for_worker(phone: &Phone) -> Result<()> {
    phone
        .ask("await navigator.serviceWorker.ready; return true")
        .await?;
    Ok(())
}

/// Waits until the office's app is kept too: its pages then start without signal.
///
/// # Errors
/// When it does not come.
pub async fn wait_for_office(phone: &Phone) -> Result<()> {
    let script = "
      const kept = async () => {
        const caches_ = await Promise.all((await caches.keys()).map((name) => caches.open(name)));
        const files = await Promise.all(caches_.map((cache) => cache.keys()));
        return files.flat().filter((file) => /\\/office-[^/]*\\.(js|wasm)$/.test(file.url)).length;
      };
      for (let turns = 0; turns < 600; turns += 1) {
        if (await kept() >= 2) { return true; }
        await new Promise((done) => setTimeout(done, 100));
      }
      throw new Error('the other app is not kept');";
    phone.ask(script).await?;
    Ok(())
}

/// Keeps a picture when pictures are asked for (`BAYBOOK_TEST_PICTURES`, a folder).
///
/// # Errors
/// When it cannot be written.
pub async fn picture(phone: &Phone, name: &str) -> Result<()> {
    match std::env::var("BAYBOOK_TEST_PICTURES") {
        Ok(folder) => {
            phone
                .picture(&PathBuf::from(folder).join(format!("{name}.png")))
                .await
        }
        Err(_) => Ok(()),
    }
}
