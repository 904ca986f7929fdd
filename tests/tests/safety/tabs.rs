//! Two tabs of one phone on one book: each writes under its own name, one shares for both.

use anyhow::{Result, ensure};
use server::demo::PEOPLE;
use tests::bay::{demo_server, enter, open_car, sign_in, wait_until_shared};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};

/// Waits until the phone's store has nothing to do.
const IDLE: &str = r#"
  const opening = indexedDB.open("baybook");
  const store = await new Promise((done) => { opening.onsuccess = () => done(opening.result); });
  for (let round = 0; round < 5; round++) {
    const turn = store.transaction("entries", "readwrite");
    turn.objectStore("entries").get("nothing");
    await new Promise((done) => { turn.oncomplete = done; });
    await new Promise((done) => setTimeout(done, 100));
  }
  store.close();
"#;

/// Counts how often the page comes into sight or goes out of it.
const COUNT_TURNS: &str =
    "window.turns = 0; document.addEventListener('visibilitychange', () => { window.turns += 1; })";

/// How many of its readings the page shows with this text.
async fn count(phone: &Phone, text: &str) -> Result<usize> {
    let readings = phone
        .ask(
            "return [...document.querySelectorAll('.reading .what')].map((line) => line.innerText)",
        )
        .await?;
    let readings = readings.as_array().cloned().unwrap_or_default();
    let has = |line: &&serde_json::Value| line.as_str().is_some_and(|line| line.contains(text));
    Ok(readings.iter().filter(has).count())
}

#[tokio::test(flavor = "multi_thread")]
async fn two_tabs_measure_offline_and_both_readings_stand_in_both() -> Result<()> {
    measure_in_two(false).await
}

#[tokio::test(flavor = "multi_thread")]
async fn two_windows_side_by_side_see_each_other_at_once() -> Result<()> {
    measure_in_two(true).await
}

async fn measure_in_two(side_by_side: bool) -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("tabs", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    let first = phone.driver.window().await?;
    let address = phone.driver.current_url().await?.to_string();
    phone.ask(COUNT_TURNS).await?;
    let second = match side_by_side {
        true => phone.driver.new_window().await?,
        false => phone.driver.new_tab().await?,
    };
    phone.driver.switch_to_window(second.clone()).await?;
    phone.driver.goto(address).await?;
    phone.see("[data-test=enter]").await?;
    wait_until_shared(&phone).await?;
    let before = scratch.number("SELECT COUNT(*) FROM doc_change").await?;

    line.cut();
    phone.read("no signal").await?;
    enter(&phone, "251.5").await?;
    phone.driver.switch_to_window(first.clone()).await?;
    phone.read("251.5 mm").await?;
    if side_by_side {
        // It was in sight all the time, and nothing but the other window has told it.
        ensure!(phone.ask("return window.turns").await? == 0);
    }
    phone.read("no signal").await?;
    enter(&phone, "377").await?;
    phone.read("2 not shared yet").await?;
    phone.driver.switch_to_window(second.clone()).await?;
    phone.read("377.0 mm").await?;
    phone.read("2 not shared yet").await?;

    // Each alone, from the phone's disk.
    for tab in [&first, &second] {
        phone.driver.switch_to_window(tab.clone()).await?;
        phone.driver.refresh().await?;
        for text in ["251.5 mm", "377.0 mm", "2 not shared yet"] {
            phone.read(text).await?;
        }
    }

    line.mend();
    for tab in [&first, &second] {
        phone.driver.switch_to_window(tab.clone()).await?;
        wait_until_shared(&phone).await?;
        for text in ["251.5 mm", "377.0 mm"] {
            let shown = count(&phone, text).await?;
            ensure!(shown == 1, "{text} is shown {shown} times");
        }
    }
    let after = scratch.number("SELECT COUNT(*) FROM doc_change").await?;
    ensure!(after == before + 2, "{before} changes became {after}");
    let refused = scratch.number("SELECT COUNT(*) FROM quarantine").await?;
    ensure!(refused == 0, "{refused} messages were refused");
    phone.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn the_tab_that_is_seen_has_the_line_even_when_the_other_is_frozen() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("frozen", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    let address = phone.driver.current_url().await?.to_string();
    let first = phone.driver.window().await?;
    let second = phone.driver.new_tab().await?;
    // The phone freezes the tab in the background, which has the line; never one that is just
    // writing, because others would wait for that.
    phone.driver.switch_to_window(first.clone()).await?;
    phone.ask(IDLE).await?;
    let frozen = serde_json::json!({ "state": "frozen" });
    let method = "Page.setWebLifecycleState";
    phone.driver.cdp().send_raw(method, frozen).await?;
    phone.driver.switch_to_window(second).await?;
    phone.driver.goto(address).await?;
    phone.see("[data-test=enter]").await?;
    enter(&phone, "251.5").await?;
    wait_until_shared(&phone).await?;

    let active = serde_json::json!({ "state": "active" });
    phone.driver.switch_to_window(first).await?;
    phone.driver.cdp().send_raw(method, active).await?;
    phone.read("251.5 mm").await?;
    phone.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn two_people_on_one_phone_do_not_hold_each_other_up() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("one-phone", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    line.cut();
    phone.read("no signal").await?;
    enter(&phone, "251.5").await?;
    phone.read("1 not shared yet").await?;

    // Ana goes home; Jonas takes the phone.
    phone
        .driver
        .goto(format!("{}/#/settings", line.url()))
        .await?;
    phone.tap("[data-test=sign-out]").await?;
    phone.see("input[name=email]").await?;
    line.mend();
    sign_in(&phone, &line, &PEOPLE[2]).await?;
    open_car(&phone).await?;
    wait_until_shared(&phone).await?;
    let shown = count(&phone, "251.5 mm").await?;
    ensure!(shown == 1, "251.5 mm is shown {shown} times");
    let by = phone
        .ask("return [...document.querySelectorAll('.reading')].find((line) => line.innerText.includes('251.5 mm')).innerText")
        .await?;
    ensure!(
        by.as_str().is_some_and(|by| by.contains(PEOPLE[1].name)),
        "{by}"
    );
    phone.close().await?;
    server.stop().await
}
