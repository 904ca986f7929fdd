//! The server refuses what a phone wrote: everything that can be is written again, the rest is kept.

use anyhow::{Context, Result, ensure};
use serde_json::Value;
use server::demo::PEOPLE;
use shared::book::Intention;
use shared::job::Reading;
use tests::bay::{demo_server, enter, open_car, sign_in, wait_until_shared};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};

use super::damage::another_phone;
use super::disk::{names, text};

/// The readings that were meant on this phone, oldest first.
pub(crate) async fn readings(phone: &Phone) -> Result<Vec<Reading>> {
    let mut readings = Vec::new();
    for name in names(phone, "/intent/").await? {
        let meant: Value = serde_json::from_str(&text(phone, &name).await?)?;
        if let Intention::RecordReading { reading } =
            serde_json::from_value(meant["intention"].clone())?
        {
            readings.push(reading);
        }
    }
    Ok(readings)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_refused_phone_goes_on_and_says_what_could_not_be_written_again() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("refused", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    let address = phone.driver.current_url().await?.to_string();
    line.cut();
    phone.read("no signal").await?;
    for number in ["251.5", "263", "377"] {
        enter(&phone, number).await?;
    }
    phone
        .read("saved here · no signal · 3 not shared yet")
        .await?;

    // Somebody who means no good has a reading of the same name on the server before.
    let meant = readings(&phone).await?;
    ensure!(meant.len() == 3, "{meant:?}");
    let mut jonas = another_phone(&phone, server.addr).await?;
    let mut reading = meant.into_iter().next().context("no reading")?;
    reading.by = "somebody".into();
    reading.note = "not what Ana read".into();
    jonas.mean(&Intention::RecordReading { reading })?;
    jonas.share().await?;

    line.mend();
    phone
        .read("the server refused what this phone wrote")
        .await?;
    phone.read("Entries written again: 2").await?;
    phone.read("1 could not be written again").await?;
    wait_until_shared(&phone).await?;
    for text in ["263.0 mm", "377.0 mm", "not what Ana read"] {
        phone.read(text).await?;
    }
    let refused = scratch.number("SELECT COUNT(*) FROM quarantine").await?;
    ensure!(refused == 1, "{refused} messages were refused");
    for part in ["/document", "/story"] {
        let kept = names(&phone, part).await?;
        ensure!(kept.len() == 1 && kept[0].starts_with("kept/"), "{kept:?}");
    }

    // What was left out stays legible, also after a new start.
    phone.driver.goto(address).await?;
    phone.driver.refresh().await?;
    phone.see("[data-test=enter]").await?;
    wait_until_shared(&phone).await?;
    let story = names(&phone, "/story").await?;
    let story: Value = serde_json::from_str(&text(&phone, &story[0]).await?)?;
    ensure!(
        story["left"][0]["intention"]["record_reading"]["reading"]["entered"] == "251.5 mm",
        "{story}"
    );
    ensure!(story["left"][0]["stamp"]["by"] == PEOPLE[1].name, "{story}");
    phone.close().await?;

    let other = Phone::start("other", PHONE).await?;
    sign_in(&other, &line, &PEOPLE[2]).await?;
    open_car(&other).await?;
    for text in ["263.0 mm", "377.0 mm", "not what Ana read"] {
        other.read(text).await?;
    }
    other.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn both_tabs_of_a_refused_phone_stand_on_the_new_replica() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("refused-tabs", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    let address = phone.driver.current_url().await?.to_string();
    let first = phone.driver.window().await?;
    let second = phone.driver.new_window().await?;
    phone.driver.switch_to_window(second.clone()).await?;
    phone.driver.goto(address).await?;
    phone.see("[data-test=enter]").await?;
    wait_until_shared(&phone).await?;
    line.cut();
    phone.read("no signal").await?;
    enter(&phone, "251.5").await?;
    phone.driver.switch_to_window(first.clone()).await?;
    phone.read("1 not shared yet").await?;
    enter(&phone, "263").await?;
    phone
        .read("saved here · no signal · 2 not shared yet")
        .await?;

    let meant = readings(&phone).await?;
    let mut jonas = another_phone(&phone, server.addr).await?;
    let mut reading = meant.into_iter().next().context("no reading")?;
    reading.note = "not what Ana read".into();
    jonas.mean(&Intention::RecordReading { reading })?;
    jonas.share().await?;

    line.mend();
    for tab in [&second, &first] {
        phone.driver.switch_to_window(tab.clone()).await?;
        phone.read("not what Ana read").await?;
        phone.read("263.0 mm").await?;
        wait_until_shared(&phone).await?;
    }
    // Both go on, and nothing more is refused.
    for (tab, number) in [(&first, "377"), (&second, "391")] {
        phone.driver.switch_to_window(tab.clone()).await?;
        enter(&phone, number).await?;
        wait_until_shared(&phone).await?;
    }
    for tab in [&first, &second] {
        phone.driver.switch_to_window(tab.clone()).await?;
        phone.read("377.0 mm").await?;
        phone.read("391.0 mm").await?;
    }
    let refused = scratch.number("SELECT COUNT(*) FROM quarantine").await?;
    ensure!(refused == 1, "{refused} messages were refused");
    phone.close().await?;
    server.stop().await
}
