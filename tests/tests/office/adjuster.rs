//! An adjuster who follows, and pages that fit every screen.

use anyhow::{Context, Result, ensure};
use server::demo::PEOPLE;
use tests::bay::{demo_server, enter, open_car, picture, sign_in};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone, Screen};

use crate::{DESK, fits, open_signing, sign};

#[tokio::test(flavor = "multi_thread")]
async fn an_adjuster_follows_live_until_the_link_is_taken_back() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let (line_a, line_h) = (Line::to(server.addr).await?, Line::to(server.addr).await?);
    let ana = Phone::start("ana-shares", PHONE).await?;
    sign_in(&ana, &line_a, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    open_signing(&ana).await?;
    sign(&ana).await?;
    ana.fill("input[name=link-label]", "Nordic Insurance, B. Holm")
        .await?;
    ana.tap("[data-test=make-link]").await?;
    let link = ana.see("[data-test=link]").await?.text().await?;
    picture(&ana, "share").await?;
    let (_, secret) = link.split_once("/#/").context("no fragment in the link")?;

    // No account, another window: the page opens from the fragment and goes on by itself.
    let holm = Phone::start("holm-follows", PHONE).await?;
    holm.driver
        .goto(format!("{}/#/{secret}", line_h.url()))
        .await?;
    holm.read("live").await?;
    holm.see("[data-test=progress] li").await?;
    holm.see("[data-test=findings] li").await?;
    holm.read("Ana Lind").await?;
    holm.read("Unchanged since.").await?;
    picture(&holm, "follow").await?;
    fits(&holm, "follow").await?;
    // The field for a code is only compared with what is on the page.
    let writes = "return [...document.querySelectorAll('input:not([name=code]), textarea, form, [data-test=sign], [data-test=enter]')].length";
    let writes: i64 = holm.driver.execute(writes, vec![]).await?.convert()?;
    ensure!(writes == 0, "{writes} controls that write");
    // Nothing happens at a point, so none is a button or a stop of the keyboard.
    let points = "return [document.querySelectorAll('.body-view .point-mark').length, \
                  document.querySelectorAll('.body-view [role=button], .body-view [tabindex]').length]";
    let (points, buttons): (i64, i64) = holm.driver.execute(points, vec![]).await?.convert()?;
    ensure!(points > 0 && buttons == 0, "{buttons} of {points} points");
    for form in ["pdf", "page", "readings", "results"] {
        holm.tap(&format!("[data-test=report-{form}]")).await?;
        holm.see("[data-test=report-done]").await.context(form)?;
    }
    ana.tap("[data-test=tab-read]").await?;
    enter(&ana, "251.5").await?;
    holm.read("1 reading since sign-off").await?;

    // Out of reach, and back.
    line_h.cut();
    holm.read("no signal").await?;
    line_h.mend();
    holm.read_until_gone("no signal").await?;
    holm.read("live").await?;

    // Taken back: the page says so, and a fresh one opens nothing.
    open_signing(&ana).await?;
    ana.tap("[data-test=revoke-link]").await?;
    holm.see("[data-test=ended]").await?;
    holm.read("What is shown is how it was").await?;
    picture(&holm, "follow-ended").await?;
    holm.driver.refresh().await?;
    holm.read("This link was taken back or has run out").await?;
    let text = holm.text().await?;
    ensure!(!text.contains("What is shown"), "nothing is: {text}");
    ana.close().await?;
    holm.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn the_desk_and_the_adjusters_page_fit_every_screen() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    for (name, screen) in [
        ("phone", PHONE),
        (
            "phone-dark",
            Screen {
                dark: true,
                ..PHONE
            },
        ),
        ("desk", DESK),
        ("desk-dark", Screen { dark: true, ..DESK }),
    ] {
        let phone = Phone::start(&format!("office-{name}"), screen).await?;
        sign_in(&phone, &line, &PEOPLE[0]).await?;
        phone.tap("[data-test=office]").await?;
        phone.see("[data-test=signed-jobs] li").await?;
        // The demo car was changed after its sign-off.
        phone.tap("[data-test=what-changed]").await?;
        phone
            .read("because: tape lay over the exhaust hanger")
            .await?;
        phone.see("[data-test=backup] .caution").await?;
        picture(&phone, &format!("{name}-office")).await?;
        fits(&phone, name).await?;
        phone.tap("[data-test=desk-people]").await?;
        phone
            .tap("[data-test=people] .person:nth-child(2) .head")
            .await?;
        phone.see("[data-test=devices]").await?;
        phone.tap("[data-test=reset]").await?;
        phone.see("[data-test=link]").await?;
        picture(&phone, &format!("{name}-people")).await?;
        fits(&phone, name).await?;
        phone.tap("[data-test=desk-log]").await?;
        phone.see("[data-test=log] li").await?;
        picture(&phone, &format!("{name}-log")).await?;
        fits(&phone, name).await?;
        phone.driver.goto(format!("{}/#/", line.url())).await?;
        open_car(&phone).await?;
        open_signing(&phone).await?;
        phone
            .fill("input[name=link-label]", "Nordic Insurance, B. Holm")
            .await?;
        phone.tap("[data-test=make-link]").await?;
        let link = phone.see("[data-test=link]").await?.text().await?;
        picture(&phone, &format!("{name}-sign")).await?;
        fits(&phone, name).await?;
        let (_, secret) = link.split_once("/#/").context("no fragment in the link")?;
        phone
            .driver
            .goto(format!("{}/#/{secret}", line.url()))
            .await?;
        phone.see("[data-test=progress] li").await?;
        picture(&phone, &format!("{name}-follow")).await?;
        fits(&phone, name).await?;
        phone
            .driver
            .goto(format!("{}/#/office/links", line.url()))
            .await?;
        phone.see("[data-test=links] li").await?;
        picture(&phone, &format!("{name}-links")).await?;
        fits(&phone, name).await?;
        phone.close().await?;
    }
    server.stop().await
}
