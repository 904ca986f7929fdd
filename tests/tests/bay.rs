//! Small things of the bay that are felt every day: who is where, two people who set the same thing
//! differently, a list that stays under the finger, long names, one tap to take a reading back.
//!
//! Needs `cargo xtask test`, which builds the phone's app and finds the browser.

use anyhow::{Result, ensure};
use server::demo::PEOPLE;
use tests::bay::{demo_server, enter, open_car, picture, sign_in, wait_until_shared};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};
use thirtyfour::By;

#[tokio::test(flavor = "multi_thread")]
async fn others_see_what_somebody_reads_next() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let (ana, jonas) = (
        Phone::start("ana-is-at", PHONE).await?,
        Phone::start("jonas-sees", PHONE).await?,
    );
    sign_in(&jonas, &line, &PEOPLE[2]).await?;
    open_car(&jonas).await?;
    sign_in(&ana, &line, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    let task = async || anyhow::Ok(ana.see("[data-test=task]").await?.text().await?);
    let first = task().await?;
    jonas.read(&format!("Ana Lind is at {first}")).await?;
    enter(&ana, "251.5").await?;
    let mut second = task().await?;
    for _ in 0..100 {
        if second != first {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
        second = task().await?;
    }
    ensure!(first != second, "the same point again: {first}");
    jonas.read(&format!("Ana Lind is at {second}")).await?;
    ana.close().await?;
    jonas.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn two_people_who_set_the_same_thing_differently_are_asked() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let (line_a, line_b) = (Line::to(server.addr).await?, Line::to(server.addr).await?);
    let (ana, jonas) = (
        Phone::start("ana-sets", PHONE).await?,
        Phone::start("jonas-sets", PHONE).await?,
    );
    sign_in(&ana, &line_a, &PEOPLE[1]).await?;
    sign_in(&jonas, &line_b, &PEOPLE[2]).await?;
    let turn = ".point-line:nth-of-type(1) button";
    let turned = async |phone: &Phone, pressed: &str| {
        phone.tap(turn).await?;
        phone
            .see(&format!("{turn}[aria-pressed={pressed}]"))
            .await?;
        anyhow::Ok(())
    };
    for phone in [&ana, &jonas] {
        open_car(phone).await?;
        phone.tap("[data-test=tab-more]").await?;
        phone.see(&format!("{turn}[aria-pressed=false]")).await?;
    }
    line_a.cut();
    line_b.cut();
    ana.read("no signal").await?;
    jonas.read("no signal").await?;
    turned(&ana, "true").await?;
    turned(&jonas, "true").await?;
    turned(&jonas, "false").await?;
    line_a.mend();
    line_b.mend();
    // Told on every screen, asked with both values on Findings, and over for both when one has chosen.
    for phone in [&ana, &jonas] {
        phone.see("[data-test=conflict-here]").await?;
    }
    ana.tap("[data-test=conflict-here]").await?;
    let question = ana.see("[data-test=conflict]").await?.text().await?;
    for part in [
        "front rail, front hole · left",
        "‘trusted’",
        "‘not trusted’",
        "Which is right?",
    ] {
        ensure!(question.contains(part), "no {part} in: {question}");
    }
    picture(&ana, "conflict").await?;
    ana.tap("[data-test=conflict] [data-test=keep-value]:nth-of-type(1)")
        .await?;
    ana.read_until_gone("Which is right?").await?;
    jonas.read_until_gone("Which is right?").await?;
    wait_until_shared(&ana).await?;
    ana.close().await?;
    jonas.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_notice_moves_nothing_from_under_the_finger() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("notice", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[0]).await?;
    let top = async || -> Result<f64> {
        let script = "return document.querySelector('[data-test=car]').getBoundingClientRect().top";
        Ok(phone.driver.execute(script, vec![]).await?.convert()?)
    };
    let before = top().await?;
    let come = "dispatchEvent(new Event('new-version'))";
    phone.driver.execute(come, vec![]).await?;
    let notice = phone.see("[data-test=new-version]").await?;
    // Two pictures later it has its place.
    phone
        .ask("for (const _ of [1, 2]) { await new Promise(requestAnimationFrame); }")
        .await?;
    ensure!(
        (top().await? - before).abs() < 1.0,
        "the list moved from {before} to {}",
        top().await?
    );
    ensure!(
        notice.rect().await?.y.abs() < 200.0,
        "nobody sees the notice"
    );
    picture(&phone, "notice").await?;
    phone.tap("[data-test=later]").await?;
    phone.read_until_gone("A new version is here").await?;
    phone
        .ask("for (const _ of [1, 2]) { await new Promise(requestAnimationFrame); }")
        .await?;
    ensure!((top().await? - before).abs() < 1.0, "the list moved back");
    phone.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn long_names_are_read_whole_and_a_reading_is_taken_back_with_one_tap() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("long-names", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    let cut = "return [...document.querySelectorAll('.pick .shown')]
      .filter((one) => one.scrollHeight > one.clientHeight + 1 || one.scrollWidth > one.clientWidth + 1)
      .map((one) => one.innerText)";
    for kind in ["height", "offset", "split", "span", "datum_span"] {
        let choose = "const kind = document.querySelector('select[name=kind]');
          kind.value = arguments[0]; kind.dispatchEvent(new Event('change', { bubbles: true }))";
        phone.driver.execute(choose, vec![kind.into()]).await?;
        let cut: Vec<String> = phone.driver.execute(cut, vec![]).await?.convert()?;
        ensure!(cut.is_empty(), "cut: {cut:?}");
    }
    let choose = "const kind = document.querySelector('select[name=kind]');
      kind.value = 'height'; kind.dispatchEvent(new Event('change', { bubbles: true }))";
    phone.driver.execute(choose, vec![]).await?;
    // Enter stays above the bar of parts, whatever stands above it.
    enter(&phone, "251.5").await?;
    let covered = "const key = document.querySelector('[data-test=enter]').getBoundingClientRect();
      window.scrollTo(0, 0);
      const bar = document.querySelector('.tabs').getBoundingClientRect();
      return document.querySelector('[data-test=enter]').getBoundingClientRect().bottom - bar.top";
    let below: f64 = phone.driver.execute(covered, vec![]).await?.convert()?;
    ensure!(below <= 0.0, "Enter is {below} pixels below the bar");
    let shown = phone.see("[data-test=answer] .said").await?.text().await?;
    phone.tap("[data-test=undo]").await?;
    phone.see(".reading.gone").await?;
    let gone = phone.see(".reading.gone").await?.text().await?;
    ensure!(gone.contains("251.5 mm"), "{gone} after {shown}");
    ensure!(
        phone
            .driver
            .find(By::Css("[data-test=undo]"))
            .await
            .is_err(),
        "what is taken back can be taken back again"
    );
    phone.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn whoever_scrolled_down_to_enter_sees_what_the_book_says() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("scrolled", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    let page = phone.driver.find(By::Css("body")).await?;
    page.send_keys("1963").await?;
    let down = "document.querySelector('[data-test=enter]').scrollIntoView({ block: 'start' })";
    for (press, shows) in [
        ("[data-test=enter]", "[data-test=keep]"),
        ("[data-test=keep]", "[data-test=answer] .said"),
    ] {
        phone.driver.execute(down, vec![]).await?;
        let press = format!("document.querySelector('{press}').click()");
        phone.driver.execute(press, vec![]).await?;
        phone.see(shows).await?;
        phone
            .ask("for (const _ of [1, 2]) { await new Promise(requestAnimationFrame); }")
            .await?;
        let seen = "const said = document.querySelector(arguments[0]);
          const at = said.getBoundingClientRect();
          return [2, at.height - 2].every((down) =>
            said.contains(document.elementFromPoint(at.x + at.width / 2, at.y + down)))";
        let seen = phone.driver.execute(seen, vec![shows.into()]).await?;
        picture(&phone, "scrolled").await?;
        ensure!(seen.convert::<bool>()?, "{shows} is out of sight");
    }
    phone.close().await?;
    server.stop().await
}
