//! Somebody who is removed, and devices that are taken back.

use anyhow::{Result, ensure};
use server::demo::PEOPLE;
use tests::bay::{demo_server, enter, fill_sign_in, open_car, picture, sign_in, wait_until_shared};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};
use thirtyfour::By;

use crate::DESK;

#[tokio::test(flavor = "multi_thread")]
async fn who_is_removed_shares_no_more_and_loses_nothing() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let (line_a, line_m) = (Line::to(server.addr).await?, Line::to(server.addr).await?);
    let (ana, marta) = (
        Phone::start("ana-leaves", PHONE).await?,
        Phone::start("marta-removes", DESK).await?,
    );
    sign_in(&ana, &line_a, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    sign_in(&marta, &line_m, &PEOPLE[0]).await?;
    marta
        .driver
        .goto(format!("{}/#/office/people", line_m.url()))
        .await?;
    marta.see("[data-test=people] .person").await?;

    // A device that is taken away signs in again, and all that was entered meanwhile is shared.
    let ana_opens = "for (const head of document.querySelectorAll('[data-test=people] .head')) \
                     if (head.innerText.includes('ana@')) head.click();";
    marta.driver.execute(ana_opens, vec![]).await?;
    marta.tap("[data-test=ask-revoke-device]").await?;
    marta.tap("[data-test=revoke-device]").await?;
    marta.see("[data-test=devices] .gone").await?;
    enter(&ana, "251.5").await?;
    ana.read("1 not shared yet").await?;
    ana.driver.goto(format!("{}/#/", line_a.url())).await?;
    ana.read("sharing waits until you sign in again").await?;
    picture(&ana, "device-revoked").await?;
    ana.driver
        .goto(format!("{}/#/sign-in", line_a.url()))
        .await?;
    fill_sign_in(&ana, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    wait_until_shared(&ana).await?;

    // A person who is removed is shut out at once; the phone keeps and shows what it has.
    marta.tap("[data-test=ask-remove]").await?;
    picture(&marta, "desk-remove").await?;
    marta.tap("[data-test=remove]").await?;
    marta.read("Ana Lind · left").await?;
    enter(&ana, "251").await?;
    ana.read("1 not shared yet").await?;
    ana.driver
        .goto(format!("{}/#/waiting", line_a.url()))
        .await?;
    ana.see("[data-test=save-unshared]").await?;
    picture(&ana, "removed").await?;
    ana.driver
        .goto(format!("{}/#/sign-in", line_a.url()))
        .await?;
    fill_sign_in(&ana, &PEOPLE[1]).await?;
    ana.see("[role=alert].error:not(:empty)").await?;
    picture(&ana, "removed-sign-in").await?;
    ana.close().await?;
    marta.close().await?;
    server.stop().await
}

/// One's own devices, reached from the settings: a lost phone is taken back after a question, and the
/// one in hand goes on.
#[tokio::test(flavor = "multi_thread")]
async fn a_lost_phone_is_taken_back_after_a_question() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let (lost, desk) = (
        Phone::start("ana-lost", PHONE).await?,
        Phone::start("ana-desk", DESK).await?,
    );
    for phone in [&lost, &desk] {
        sign_in(phone, &line, &PEOPLE[1]).await?;
        open_car(phone).await?;
    }
    desk.driver
        .goto(format!("{}/#/settings", line.url()))
        .await?;
    desk.tap("[data-test=devices-page]").await?;
    desk.see("[data-test=devices] li:nth-child(2)").await?;
    desk.read("this one").await?;
    let ask = "for (const row of document.querySelectorAll('[data-test=devices] li')) \
               if (/Chrome(?! \\(this one)/.test(row.innerText)) row.querySelector('button').click();";
    let question = "Its sessions and its key end at once";
    desk.driver.execute(ask, vec![]).await?;
    desk.read(question).await?;
    picture(&desk, "device-ask").await?;
    desk.tap("[data-test=devices] .notice button:last-of-type")
        .await?;
    desk.read_until_gone(question).await?;
    let gone = async || -> Result<usize> {
        let rows = By::Css("[data-test=devices] .gone");
        Ok(desk.driver.find_all(rows).await?.len())
    };
    ensure!(gone().await? == 0, "taken back without an answer");
    desk.driver.execute(ask, vec![]).await?;
    desk.tap("[data-test=revoke-device]").await?;
    desk.see("[data-test=devices] .gone").await?;
    ensure!(gone().await? == 1, "more than one is gone");
    desk.see("[data-test=ask-revoke-device]").await?;
    lost.driver.goto(format!("{}/#/", line.url())).await?;
    lost.read("sharing waits until you sign in again").await?;
    lost.close().await?;
    desk.close().await?;
    server.stop().await
}
