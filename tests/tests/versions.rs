//! A new version of the app: it waits, says so, and starts when a person asks, with nothing lost.
//!
//! Needs `cargo xtask test`, which builds the phone's app and finds the browser.

use anyhow::{Context, Result, ensure};
use serde_json::json;
use server::demo::PEOPLE;
use tests::bay::{
    demo_server, enter, open_car, picture, sign_in, wait_for_worker, wait_until_shared,
};
use tests::database::{Engine, Scratch};
use tests::device::Device;
use tests::line::Line;
use tests::phone::{PHONE, Phone};
use tests::shop::Person;
use tests::versions::Versions;

const VERSION: &str = "return document.documentElement.dataset.version ?? 'first'";

async fn version(phone: &Phone) -> Result<String> {
    Ok(phone.driver.execute(VERSION, vec![]).await?.convert()?)
}

async fn kept_versions(phone: &Phone) -> Result<Vec<String>> {
    let names = phone.ask("return await caches.keys()").await?;
    Ok(serde_json::from_value(names)?)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_new_version_waits_until_somebody_starts_it() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let versions = Versions::of(server.addr).await?;
    let line = Line::to(versions.near()).await?;
    let ana = Phone::start("versions", PHONE).await?;
    sign_in(&ana, &line, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    wait_for_worker(&ana).await?;
    let [first] = &kept_versions(&ana).await?[..] else {
        anyhow::bail!("one version is kept");
    };
    let first = first.clone();

    // It comes in the middle of work: the notice stands, nothing else happens.
    ana.press("25").await?;
    versions.release();
    ana.ask("await (await navigator.serviceWorker.ready).update()")
        .await?;
    ana.see("[data-test=new-version]").await?;
    picture(&ana, "new-version").await?;
    ensure!(version(&ana).await? == "first", "it started by itself");
    let kept = kept_versions(&ana).await?;
    ensure!(
        kept.contains(&first) && kept.len() == 2,
        "old files are gone: {kept:?}"
    );

    // Half a number is on the keypad: not now.
    ana.tap("[data-test=take-new-version]").await?;
    ana.read("half entered").await?;
    ensure!(version(&ana).await? == "first", "half a number was lost");

    // A start in the meantime, without signal, is still a start of the old one.
    line.cut();
    ana.driver.refresh().await?;
    ana.see("[data-test=enter]").await?;
    ana.see("[data-test=new-version]").await?;
    ensure!(version(&ana).await? == "first", "versions are mixed");

    // Whole readings are on the disk, shared or not; then it starts.
    enter(&ana, "251.5").await?;
    ana.read("1 not shared yet").await?;
    ana.tap("[data-test=take-new-version]").await?;
    for _ in 0..800 {
        if version(&ana).await.is_ok_and(|version| version == "second") {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    ana.see("[data-test=enter]").await?;
    ensure!(version(&ana).await? == "second", "it did not start");
    ana.read("251.5 mm").await?;
    ana.read_until_gone("A new version is here").await?;
    let kept = kept_versions(&ana).await?;
    ensure!(
        kept == ["baybook-second"],
        "old files are still there: {kept:?}"
    );
    line.mend();
    wait_until_shared(&ana).await?;
    ana.close().await?;
    server.stop().await
}

/// One tab takes the new version; the other is told, and goes on until its person agrees.
#[tokio::test(flavor = "multi_thread")]
async fn another_tab_is_not_started_anew_under_the_fingers() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let versions = Versions::of(server.addr).await?;
    let line = Line::to(versions.near()).await?;
    let ana = Phone::start("versions-tabs", PHONE).await?;
    sign_in(&ana, &line, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    wait_for_worker(&ana).await?;
    // The worker's second page is one that it controls from the start.
    ana.driver.refresh().await?;
    ana.see("[data-test=enter]").await?;
    let address = ana.driver.current_url().await?;
    let first_tab = ana.driver.window().await?;
    let second_tab = ana.driver.new_tab().await?;
    ana.driver.switch_to_window(second_tab).await?;
    ana.driver.goto(address.as_str()).await?;
    ana.see("[data-test=enter]").await?;
    versions.release();
    ana.ask("await (await navigator.serviceWorker.ready).update()")
        .await?;
    ana.tap("[data-test=take-new-version]").await?;
    for _ in 0..800 {
        if version(&ana).await.is_ok_and(|version| version == "second") {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    ensure!(version(&ana).await? == "second", "it did not start");
    ana.driver.switch_to_window(first_tab).await?;
    ana.see("[data-test=new-version]").await?;
    ensure!(
        version(&ana).await? == "first",
        "the other tab lost its page"
    );
    ana.tap("[data-test=take-new-version]").await?;
    for _ in 0..800 {
        if version(&ana).await.is_ok_and(|version| version == "second") {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    ensure!(
        version(&ana).await? == "second",
        "the other tab did not start"
    );
    ana.close().await?;
    server.stop().await
}

/// A newer app has raised the book's schema and written what this one does not know: this one reads
/// and writes on, says so, and loses nothing of it.
#[tokio::test(flavor = "multi_thread")]
async fn a_book_of_a_newer_version_is_read_and_nothing_of_it_is_lost() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let ana = Phone::start("newer-book", PHONE).await?;
    sign_in(&ana, &line, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    let address = ana.driver.current_url().await?;
    let id = address.fragment().context("no address")?;
    let id = id.split('/').nth(2).context("no id")?.to_owned();
    let form = json!({ "email": PEOPLE[2].email, "password": PEOPLE[2].password });
    let jonas = Person::at(server.addr).enter("/api/session", &form).await?;
    let mut newer = Device::new(&id);
    newer.connect(&jonas).await?;
    newer.share().await?;
    newer.write("schema", 99)?;
    newer.write("of_tomorrow", 7)?;
    newer.share().await?;
    ana.see("[data-test=newer-book]").await?;
    enter(&ana, "251.5").await?;
    wait_until_shared(&ana).await?;
    ana.driver.refresh().await?;
    ana.see("[data-test=newer-book]").await?;
    ana.read("251.5 mm").await?;
    ana.close().await?;
    let mut later = Device::new(&id);
    later.connect(&jonas).await?;
    later.share().await?;
    ensure!(
        later.read("of_tomorrow")? == Some(7),
        "what this version does not know was lost"
    );
    ensure!(later.read("schema")? == Some(99), "the schema was lowered");
    ensure!(
        later
            .job()?
            .readings
            .iter()
            .any(|r| r.entered == "251.5 mm"),
        "no reading"
    );
    server.stop().await
}
