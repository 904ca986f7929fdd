//! One person with one hand: what the book answers, and what stays where it is.

use anyhow::{Result, ensure};
use server::demo::PEOPLE;
use tests::bay::{demo_server, enter, open_car, open_car_with_reasons, picture, sign_in};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};
use thirtyfour::By;

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
    open_car_with_reasons(&phone).await?;
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

/// Two entries of the demo car that contradict each other; the second is the newest.
async fn contradict(phone: &Phone) -> Result<()> {
    enter(phone, "251.5").await?;
    phone.read("251.5 mm").await?;
    enter(phone, "263").await?;
    phone.see("[data-test=read-it-again]").await?;
    Ok(())
}

#[tokio::test(flavor = "multi_thread")]
async fn a_contradicted_reading_is_read_again_where_it_stands() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("again", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car_with_reasons(&phone).await?;
    contradict(&phone).await?;
    let of = phone
        .see("[data-test=answer] .said p")
        .await?
        .text()
        .await?;
    phone.tap("[data-test=read-it-again]").await?;
    // Its task stands there again, and the next number takes its place.
    let place = of.split(" · ").nth(1).unwrap_or_default().to_owned();
    ensure!(!place.is_empty(), "no place in {of}");
    let task = phone.see("[data-test=task]").await?.text().await?;
    ensure!(task.contains(&place), "{task} is not {of}");
    enter(&phone, "252").await?;
    phone.read("252.0 mm").await?;
    let gone = phone.see(".reading.gone").await?.text().await?;
    ensure!(gone.contains("263.0 mm"), "{gone}");
    phone.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn of_two_that_contradict_each_other_either_can_be_set_aside() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("either", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car_with_reasons(&phone).await?;
    contradict(&phone).await?;
    phone.tap("[data-test=tab-findings]").await?;
    // The group of the newest reading.
    let group = "const of = [...document.querySelectorAll('details.concern')];
      return of.findIndex((one) => one.querySelectorAll('.doubted-part').length === 2 &&
        one.textContent.includes('263.0 mm'))";
    let mut place = -1;
    for _ in 0..800 {
        place = phone
            .driver
            .execute(group, vec![])
            .await?
            .convert::<i64>()?;
        if place >= 0 {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    ensure!(place >= 0, "no group of two: {}", phone.text().await?);
    let act = format!(
        "const place = (() => {{ {group} }})();
      const part = document.querySelectorAll('details.concern')[place]
        .querySelectorAll('.doubted-part')[1];
      const why = part.querySelector('input[name=why]');
      why.value = 'the tape hung'; why.dispatchEvent(new Event('input', {{ bubbles: true }}));
      const text = part.querySelector('p').innerText;
      await Promise.resolve();
      part.querySelector('[data-test=set-aside]').click();
      return text"
    );
    let second = phone.ask(&act).await?;
    let second = second.as_str().unwrap_or_default().to_owned();
    phone.tap("[data-test=tab-read]").await?;
    let gone = phone.see(".reading.gone").await?.text().await?;
    ensure!(gone.contains("the tape hung"), "{gone}");
    let is_second = second.split(" · ").all(|part| gone.contains(part));
    ensure!(is_second, "{second} was to go: {gone}");
    phone.close().await?;
    server.stop().await
}
