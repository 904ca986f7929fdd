//! Somebody who is removed.

use anyhow::Result;
use server::demo::PEOPLE;
use tests::bay::{demo_server, enter, fill_sign_in, open_car, picture, sign_in, wait_until_shared};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};

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
