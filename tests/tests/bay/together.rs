//! Several people on one car: who is where, who is asked, and what nobody takes out of another's hand.

use anyhow::{Result, ensure};
use server::demo::PEOPLE;
use tests::bay::{
    apart, demo_server, enter, open_car, open_car_with_reasons, picture, sign_in, task,
    wait_until_shared,
};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};

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
    open_car_with_reasons(&ana).await?;
    let first = task(&ana).await?;
    jonas.read(&format!("Ana Lind is at {first}")).await?;
    enter(&ana, "251.5").await?;
    let second = apart(&ana, &first).await?;
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
async fn what_somebody_has_in_hand_stays_whatever_the_others_read() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let (ana, jonas) = (
        Phone::start("ana-under-the-car", PHONE).await?,
        Phone::start("jonas-reads", PHONE).await?,
    );
    for (phone, person) in [(&ana, &PEOPLE[1]), (&jonas, &PEOPLE[2])] {
        sign_in(phone, &line, person).await?;
        open_car_with_reasons(phone).await?;
    }
    // She is under the car by the time somebody else reads the same point, from the other side of
    // the beam.
    tokio::time::sleep(std::time::Duration::from_millis(2_500)).await;
    let (place, side) = (
        task(&ana).await?,
        ana.see("[data-test=side]").await?.text().await?,
    );
    // Nobody is sent there while she is; he goes by himself.
    ensure!(task(&jonas).await? != place, "both are sent to {place}");
    jonas.tap(".task").await?;
    jonas.see("[data-test=choose]").await?;
    let choose = "const all = [...document.querySelectorAll('[data-test=choose] button')];
      all.find((one) => one.innerText.startsWith(arguments[0])).click()";
    jonas
        .driver
        .execute(choose, vec![place.as_str().into()])
        .await?;
    ensure!(task(&jonas).await? == place, "another point was chosen");
    jonas.tap("[data-test=side]").await?;
    enter(&jonas, "251.5").await?;
    ana.read("read meanwhile by somebody else").await?;
    ensure!(
        task(&ana).await? == place,
        "the task changed under the tape"
    );
    ensure!(
        ana.see("[data-test=side]").await?.text().await? == side,
        "the switch was turned"
    );
    enter(&ana, "252").await?;
    let said = ana.see("[data-test=answer] .said p").await?.text().await?;
    ensure!(
        said.contains(&place) && said.contains("252.0 mm"),
        "{said} is not {place}"
    );
    ensure!(said.contains(&side), "{said} is not {side}");

    // Half a number holds a task at once.
    ana.read("251.5 mm").await?;
    let next = task(&ana).await?;
    ensure!(next != place, "the same point again");
    ana.press("4").await?;
    enter(&jonas, "251").await?;
    ana.read("251.0 mm").await?;
    ensure!(
        task(&ana).await? == next,
        "the task changed under half a number"
    );
    ana.close().await?;
    jonas.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_car_that_was_never_opened_here_says_what_stands_in_it() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let (line_a, line_b) = (Line::to(server.addr).await?, Line::to(server.addr).await?);
    let (ana, jonas) = (
        Phone::start("ana-opens", PHONE).await?,
        Phone::start("jonas-looks", PHONE).await?,
    );
    sign_in(&jonas, &line_b, &PEOPLE[2]).await?;
    let counts = jonas.see("[data-test=car] .counts").await?.text().await?;
    let stage = jonas.see("[data-test=car] .stage").await?.text().await?;
    sign_in(&ana, &line_a, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    ana.tap("header.bar a").await?;
    let own = ana.see("[data-test=car] .counts").await?.text().await?;
    ensure!(
        counts == own,
        "{counts} where it was not opened, {own} where it was"
    );
    ensure!(!stage.is_empty(), "no stage");

    // A colleague's new car is there without a reload.
    ana.tap("[data-test=new-job]").await?;
    ana.fill("input[name=number]", "4711").await?;
    ana.tap("button.primary").await?;
    ana.see("[data-test=enter]").await?;
    wait_until_shared(&ana).await?;
    jonas.read("4711").await?;
    picture(&jonas, "list").await?;
    ana.close().await?;
    jonas.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_half_written_on_findings_stays_with_what_it_is_about() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let (ana, jonas) = (
        Phone::start("ana-writes", PHONE).await?,
        Phone::start("jonas-reads-on", PHONE).await?,
    );
    for (phone, person) in [(&ana, &PEOPLE[1]), (&jonas, &PEOPLE[2])] {
        sign_in(phone, &line, person).await?;
        open_car_with_reasons(phone).await?;
    }
    enter(&ana, "251.5").await?;
    ana.tap("[data-test=tab-findings]").await?;
    // The list as it is before anybody else reads on: what is about 251.5 is opened and half written.
    ana.read("251.5 mm").await?;
    let write = "const of = [...document.querySelectorAll('details.concern')]
        .find((one) => one.textContent.includes('251.5 mm'));
      of.open = true;
      const why = of.querySelector('input[name=why]');
      why.focus();
      why.value = 'the tape hu'; why.dispatchEvent(new Event('input', { bubbles: true }));";
    ana.ask(write).await?;
    let places =
        "return [...document.querySelectorAll('details.concern')].findIndex((one) => one.open)";
    let before: i64 = ana.driver.execute(places, vec![]).await?.convert()?;
    // Each of these is another suspect, and those are told first.
    for number in ["263", "1963"] {
        enter(&jonas, number).await?;
    }
    ana.read("1963.0 mm").await?;
    let after =
        "const open = [...document.querySelectorAll('details.concern')].filter((one) => one.open);
      return open.map((one) => [one.textContent.includes('251.5 mm'),
        [...one.querySelectorAll('input[name=why]')].some((why) => why.value === 'the tape hu')])";
    let after = ana.driver.execute(after, vec![]).await?;
    let place: i64 = ana.driver.execute(places, vec![]).await?.convert()?;
    ensure!(
        *after.json() == serde_json::json!([[true, true]]),
        "opened at {before}, now at {place}: {:?}",
        after.json()
    );
    ana.close().await?;
    jonas.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn stage_and_setup_in_work_stay_when_somebody_else_begins_the_next() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let (ana, jonas) = (
        Phone::start("ana-stays", PHONE).await?,
        Phone::start("jonas-pulls", PHONE).await?,
    );
    for (phone, person) in [(&ana, &PEOPLE[1]), (&jonas, &PEOPLE[2])] {
        sign_in(phone, &line, person).await?;
        open_car(phone).await?;
    }
    let stage = async || -> Result<String> {
        let script = "const stage = document.querySelector('select[name=stage]');
          return stage.selectedOptions[0].textContent";
        Ok(ana.driver.execute(script, vec![]).await?.convert()?)
    };
    let before = stage().await?;
    jonas.tap("[data-test=tab-pull]").await?;
    jonas.tap("[data-test=begin-load]").await?;
    // Told, and nothing moves by itself, not even by looking at another part.
    ana.see("[data-test=newer-stage]").await?;
    ana.tap("[data-test=tab-findings]").await?;
    ana.see(".findings").await?;
    ana.tap("[data-test=tab-read]").await?;
    ana.see("[data-test=newer-stage]").await?;
    ensure!(
        stage().await? == before,
        "{} is not {before}",
        stage().await?
    );
    picture(&ana, "newer-stage").await?;
    ana.tap("[data-test=newer-stage]").await?;
    ana.read_until_gone("A later stage has begun").await?;
    ensure!(stage().await? != before, "still {before}");
    ana.close().await?;
    jonas.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_chosen_point_does_not_strike_out_what_somebody_else_has_just_read() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let (ana, jonas) = (
        Phone::start("ana-chooses", PHONE).await?,
        Phone::start("jonas-was-there", PHONE).await?,
    );
    for (phone, person) in [(&ana, &PEOPLE[1]), (&jonas, &PEOPLE[2])] {
        sign_in(phone, &line, person).await?;
        open_car_with_reasons(phone).await?;
        // The same point, unread, chosen from the list by both.
        phone.tap("button.task").await?;
        phone
            .tap("[data-test=choose] li:has(button:not(.done)) button")
            .await?;
        phone.read("chosen").await?;
    }
    ensure!(
        task(&ana).await? == task(&jonas).await?,
        "not the same point"
    );
    enter(&jonas, "251.5").await?;
    ana.read("read meanwhile by somebody else").await?;
    enter(&ana, "252").await?;
    ana.read("252.0 mm").await?;
    wait_until_shared(&ana).await?;
    let gone = "return document.querySelectorAll('.reading.gone').length";
    let gone: i64 = ana.driver.execute(gone, vec![]).await?.convert()?;
    ensure!(gone == 0, "one of the two was struck out");
    ana.close().await?;
    jonas.close().await?;
    server.stop().await
}
