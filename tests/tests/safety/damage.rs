//! Stored bytes go bad, in every place where they can.

use std::time::Duration;

use anyhow::{Context, Result, ensure};
use serde_json::json;
use server::demo::PEOPLE;
use shared::book::Intention;
use shared::job::Card;
use tests::bay::{demo_server, enter, open_car, picture, sign_in, wait_until_shared};
use tests::database::{Engine, Scratch};
use tests::device::Device;
use tests::line::Line;
use tests::phone::{PHONE, Phone};
use tests::shop::Person;
use ulid::Ulid;

use super::disk::{names, on_disk, wear};

const NOTICE: &str = "some of what this phone had stored (1) could not be read and is kept aside.";

#[tokio::test(flavor = "multi_thread")]
async fn a_damaged_entry_is_written_again_and_its_bytes_are_kept() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("worn", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    let before = names(&phone, "/change/").await?;
    line.cut();
    phone.read("no signal").await?;
    enter(&phone, "251.5").await?;
    phone
        .read("saved here · no signal · 1 not shared yet")
        .await?;
    enter(&phone, "263").await?;
    phone
        .read("saved here · no signal · 2 not shared yet")
        .await?;

    // The first of the two goes bad; the second builds on it.
    let after = names(&phone, "/change/").await?;
    let first = after
        .iter()
        .find(|name| !before.contains(name))
        .context("no entry")?;
    wear(&phone, first).await?;
    let worn = on_disk(&phone, &format!("return [...(await get('{first}'))]")).await?;
    phone.driver.refresh().await?;
    phone.read(NOTICE).await?;
    for text in ["251.5 mm", "263.0 mm", "2 not shared yet"] {
        phone.read(text).await?;
    }
    phone.read("Everything else is here.").await?;
    let kept = names(&phone, "damaged/").await?;
    picture(&phone, "damaged").await?;
    ensure!(
        kept.len() == 1 && kept[0].ends_with(first.rsplit('/').next().unwrap_or("?")),
        "{kept:?}"
    );
    // As they were found, behind a seal of twenty bytes.
    let script = format!("return [...(await get('{}')).slice(20)]", kept[0]);
    ensure!(
        on_disk(&phone, &script).await? == worn,
        "other bytes were kept"
    );
    ensure!(!names(&phone, "book/").await?.contains(first));

    // It is told once, and nothing is left to be done.
    phone.driver.refresh().await?;
    phone
        .read("saved here · no signal · 2 not shared yet")
        .await?;
    ensure!(!phone.text().await?.contains(NOTICE));
    line.mend();
    wait_until_shared(&phone).await?;
    for text in ["251.5 mm", "263.0 mm"] {
        phone.read(text).await?;
    }
    let refused = scratch.number("SELECT COUNT(*) FROM quarantine").await?;
    ensure!(refused == 0, "{refused} messages were refused");
    phone.close().await?;
    let other = Phone::start("other", PHONE).await?;
    sign_in(&other, &line, &PEOPLE[2]).await?;
    open_car(&other).await?;
    other.read("251.5 mm").await?;
    other.read("263.0 mm").await?;
    other.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn an_entry_is_shared_although_what_was_meant_is_damaged() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("meant", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    line.cut();
    phone.read("no signal").await?;
    enter(&phone, "251.5").await?;
    phone.read("saved here").await?;
    for part in ["/intent/", "/shared"] {
        for name in names(&phone, part).await? {
            wear(&phone, &name).await?;
        }
    }
    phone.driver.refresh().await?;
    phone.read("Everything else is here.").await?;
    phone.read("251.5 mm").await?;
    line.mend();
    wait_until_shared(&phone).await?;
    phone.read("251.5 mm").await?;
    let refused = scratch.number("SELECT COUNT(*) FROM quarantine").await?;
    ensure!(refused == 0, "{refused} messages were refused");
    ensure!(!phone.text().await?.contains("refused"));
    phone.close().await?;
    server.stop().await
}

/// Another phone of the shop on the book that this one has open.
pub(crate) async fn another_phone(phone: &Phone, addr: std::net::SocketAddr) -> Result<Device> {
    let url = phone.driver.current_url().await?.to_string();
    let book = url.split('/').rev().nth(1).context("no book is open")?;
    let sign_in = json!({ "email": PEOPLE[2].email, "password": PEOPLE[2].password });
    let jonas = Person::at(addr).enter("/api/session", &sign_in).await?;
    let mut device = Device::new(book);
    device.connect(&jonas).await?;
    device.offer().await?;
    while !device.is_shared() {
        device.hear().await?;
        device.offer().await?;
    }
    Ok(device)
}

/// Writes so many notes and then another number on the card.
async fn write_much(device: &mut Device, number: &str) -> Result<()> {
    for _ in 0..210 {
        let id = Ulid::generate().to_string();
        let text = "reads as before".into();
        device.mean(&Intention::WriteNote { id, text })?;
    }
    let card = Card {
        number: number.into(),
        ..device.job()?.card
    };
    device.mean(&Intention::DescribeJob { card })?;
    device.share().await
}

async fn wait_for_snapshots(phone: &Phone, count: usize) -> Result<Vec<String>> {
    let mut found = Vec::new();
    for _ in 0..600 {
        found = names(phone, "/snapshot/").await?;
        if found.len() == count {
            return Ok(found);
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    anyhow::bail!("{count} snapshots expected: {found:?}")
}

#[tokio::test(flavor = "multi_thread")]
async fn a_damaged_snapshot_is_made_up_for_by_the_one_before_and_the_changes_since() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("snapshots", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    let mut jonas = another_phone(&phone, server.addr).await?;
    write_much(&mut jonas, "4711").await?;
    phone.read("4711").await?;
    wait_for_snapshots(&phone, 1).await?;
    write_much(&mut jonas, "4712").await?;
    phone.read("4712").await?;
    let snapshots = wait_for_snapshots(&phone, 2).await?;
    enter(&phone, "251.5").await?;
    wait_until_shared(&phone).await?;
    line.cut();
    phone.read("no signal").await?;

    wear(&phone, &snapshots[1]).await?;
    phone.driver.refresh().await?;
    phone.read(NOTICE).await?;
    phone.read("Everything else is here.").await?;
    for text in ["4712", "251.5 mm", "shared · no signal"] {
        phone.read(text).await?;
    }
    ensure!(names(&phone, "damaged/").await?.len() == 1);
    phone.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_book_of_which_nothing_can_be_read_comes_from_the_server_with_what_was_meant()
-> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("ruin", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    line.cut();
    phone.read("no signal").await?;
    enter(&phone, "251.5").await?;
    phone.read("saved here").await?;
    for name in names(&phone, "/change/").await? {
        wear(&phone, &name).await?;
    }
    // Not even bytes any more.
    let shared = names(&phone, "/shared").await?;
    on_disk(&phone, &format!("await put('rubbish', '{}')", shared[0])).await?;
    let cover = names(&phone, "meta/").await?;
    wear(&phone, &cover[0]).await?;
    phone.driver.refresh().await?;
    phone
        .read("What is missing comes from the server as soon as there is signal.")
        .await?;
    phone.read("This book is not on this phone yet.").await?;
    phone.read("1 not shared yet").await?;

    line.mend();
    phone.read("251.5 mm").await?;
    wait_until_shared(&phone).await?;
    phone.close().await?;
    let other = Phone::start("other", PHONE).await?;
    sign_in(&other, &line, &PEOPLE[2]).await?;
    open_car(&other).await?;
    other.read("251.5 mm").await?;
    other.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_car_whose_cover_is_damaged_is_still_on_the_list() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("cover", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    let cover = names(&phone, "meta/").await?;
    line.cut();
    phone.read("no signal").await?;
    wear(&phone, &cover[0]).await?;
    phone.driver.goto(format!("{}/#/", line.url())).await?;
    phone.driver.refresh().await?;
    phone.see("[data-test=car]").await?;
    phone.read("2041").await?;
    phone.close().await?;
    server.stop().await
}
