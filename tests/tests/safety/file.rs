//! What is not shared is always in sight, and can be taken off the phone as a file without a server.

use anyhow::{Context, Result, ensure};
use automerge::Automerge;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::Value;
use server::demo::PEOPLE;
use shared::book::{self, Intention};
use tests::bay::{
    demo_server, enter, open_car, picture, sign_in, wait_for_office, wait_until_shared,
};
use tests::database::{Engine as Database, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};

use super::damage::another_phone;
use super::refusal::readings;

/// The values of the readings in a document.
fn entered(document: &[u8]) -> Result<Vec<String>> {
    let (job, _) = book::read(&Automerge::load(document)?);
    Ok(job
        .readings
        .into_iter()
        .map(|reading| reading.entered)
        .collect())
}

fn decoded(text: &Value) -> Result<Vec<u8>> {
    Ok(STANDARD.decode(text.as_str().context("no text")?)?)
}

async fn badge(phone: &Phone) -> Result<String> {
    Ok(phone.see(".bar [data-test=unshared]").await?.text().await?)
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_not_shared_is_in_sight_everywhere_and_goes_into_a_file() -> Result<()> {
    let scratch = Scratch::new(Database::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("file", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    ensure!(badge(&phone).await? == "shared");
    open_car(&phone).await?;
    wait_for_office(&phone).await?;
    line.cut();
    phone.read("no signal").await?;
    enter(&phone, "251.5").await?;
    enter(&phone, "263").await?;
    phone.read("2 not shared yet").await?;
    for page in ["", "settings", "new", "waiting"] {
        phone
            .driver
            .goto(format!("{}/#/{page}", line.url()))
            .await?;
        // The page before had a badge too.
        let mut said = String::new();
        for _ in 0..800 {
            said = badge(&phone).await.unwrap_or_default();
            if said == "2 not shared yet" {
                break;
            }
            tokio::time::sleep(std::time::Duration::from_millis(50)).await;
        }
        ensure!(said == "2 not shared yet", "#/{page} says '{said}'");
    }
    // A second book, so that one knows of the other.
    phone.driver.goto(format!("{}/#/new", line.url())).await?;
    phone.fill("input[name=number]", "77").await?;
    phone.fill("input[name=vehicle]", "van, invented").await?;
    phone.tap("button.primary").await?;
    phone.see("[data-test=enter]").await?;
    phone.read(" not shared yet").await?;
    let badge_text = badge(&phone).await?;
    let numbers: Vec<u64> = badge_text
        .split_whitespace()
        .filter_map(|word| word.parse().ok())
        .collect();
    ensure!(
        numbers.len() == 2 && numbers[0] + 2 == numbers[1],
        "{badge_text}"
    );
    picture(&phone, "not-shared-in-all").await?;

    // Nobody is signed in any more, and there is no server.
    phone
        .driver
        .goto(format!("{}/#/settings", line.url()))
        .await?;
    phone
        .read("stay on this phone until somebody signs in")
        .await?;
    phone.tap("[data-test=sign-out]").await?;
    phone.see("input[name=email]").await?;
    phone.tap("[data-test=unshared]").await?;
    phone.read("van, invented").await?;
    phone.read("251.5 mm").await?;
    picture(&phone, "waiting").await?;
    let file = phone.download("[data-test=save-unshared]", ".json").await?;
    let parcel: Value = serde_json::from_slice(&file)?;
    ensure!(parcel["format"] == "baybook-not-shared" && parcel["version"] == 1);
    let books = parcel["books"].as_array().context("no books")?;
    ensure!(books.len() == 2, "{} books", books.len());
    let demo = books
        .iter()
        .find(|book| book["number"] == "2041")
        .context("no demo car")?;
    ensure!(demo["unshared"] == 2);
    let meant = demo["meant"].as_array().context("nothing meant")?;
    let words: Vec<&Value> = meant
        .iter()
        .map(|meant| &meant["intention"]["record_reading"]["reading"]["entered"])
        .collect();
    ensure!(words == ["251.5 mm", "263 mm"], "{words:?}");
    ensure!(
        meant
            .iter()
            .all(|meant| meant["stamp"]["by"] == PEOPLE[1].name)
    );
    let readings = entered(&decoded(&demo["document"])?)?;
    for number in ["251.5 mm", "263 mm"] {
        ensure!(
            readings.iter().filter(|entered| *entered == number).count() == 1,
            "{number}"
        );
    }
    let van = books
        .iter()
        .find(|book| book["number"] == "77")
        .context("no van")?;
    ensure!(van["unshared"].as_u64() > Some(10));

    let whole = phone.download("[data-test=save-book]", ".baybook").await?;
    let (job, _) = book::read(&Automerge::load(&whole)?);
    ensure!(["77", "2041"].contains(&job.card.number.as_str()) && !job.points.is_empty());

    line.mend();
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    for _ in 0..600 {
        if badge(&phone).await? == "shared" {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    ensure!(
        badge(&phone).await? == "shared",
        "the badge says '{}'",
        badge(&phone).await?
    );
    phone.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn what_the_server_refused_can_be_read_and_taken_along() -> Result<()> {
    let scratch = Scratch::new(Database::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("refused-file", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    line.cut();
    phone.read("no signal").await?;
    enter(&phone, "251.5").await?;
    phone
        .read("saved here · no signal · 1 not shared yet")
        .await?;
    let mut reading = readings(&phone).await?.pop().context("no reading")?;
    let mut jonas = another_phone(&phone, server.addr).await?;
    reading.note = "not what Ana read".into();
    jonas.mean(&Intention::RecordReading { reading })?;
    jonas.share().await?;
    line.mend();
    phone.read("1 could not be written again").await?;
    picture(&phone, "refused").await?;
    wait_until_shared(&phone).await?;

    phone
        .driver
        .goto(format!("{}/#/waiting", line.url()))
        .await?;
    phone.see("[data-test=kept]").await?;
    picture(&phone, "waiting-refused").await?;
    phone
        .read("another entry of the same name is there already")
        .await?;
    phone.read("251.5 mm").await?;
    let file = phone.download("[data-test=save-unshared]", ".json").await?;
    let parcel: Value = serde_json::from_slice(&file)?;
    let kept = &parcel["books"][0]["kept"][0];
    ensure!(
        kept["story"]["left"][0]["intention"]["record_reading"]["reading"]["entered"] == "251.5 mm",
        "{kept}"
    );
    let refused = entered(&decoded(&kept["document"])?)?;
    ensure!(
        refused.iter().any(|entered| entered == "251.5 mm"),
        "{refused:?}"
    );
    phone.close().await?;
    server.stop().await
}
