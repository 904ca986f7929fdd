//! Two people, two phones, one car: real browsers of 360 × 640, offline and back.
//!
//! Needs `cargo xtask test`, which builds the phone's app and finds the browser. With
//! `BAYBOOK_TEST_PICTURES` set to a folder, every screen is kept there as a picture.

use anyhow::{Context, Result, ensure};
use server::demo::PEOPLE;
use tests::bay::{
    demo_server, enter, open_car, picture, sign_in, wait_for_worker, wait_until_shared,
};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone, Screen};

#[tokio::test(flavor = "multi_thread")]
async fn two_phones_measure_one_car_offline_and_come_together_without_loss() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let (line_a, line_b) = (Line::to(server.addr).await?, Line::to(server.addr).await?);
    let (ana, jonas) = (
        Phone::start("ana", PHONE).await?,
        Phone::start("jonas", PHONE).await?,
    );
    sign_in(&ana, &line_a, &PEOPLE[1]).await?;
    sign_in(&jonas, &line_b, &PEOPLE[2]).await?;
    picture(&ana, "jobs").await?;
    open_car(&ana).await?;
    open_car(&jonas).await?;
    picture(&ana, "read").await?;
    wait_for_worker(&ana).await?;

    // Both walk into a dead spot and go on measuring.
    line_a.cut();
    line_b.cut();
    ana.read("no signal").await?;
    jonas.read("no signal").await?;
    enter(&ana, "251.5").await?;
    enter(&ana, "263").await?;
    enter(&jonas, "377").await?;
    ana.read("2 not shared yet").await?;
    jonas.read("1 not shared yet").await?;
    picture(&ana, "read-offline").await?;

    // The app starts again without any signal, with everything that was entered.
    ana.driver.refresh().await?;
    ana.see("[data-test=enter]").await?;
    ana.read("2 not shared yet").await?;
    ana.read("251.5 mm").await?;
    ana.read("263.0 mm").await?;

    // Signal again: each has what both entered.
    line_a.mend();
    line_b.mend();
    for phone in [&ana, &jonas] {
        for value in ["251.5 mm", "263.0 mm", "377.0 mm"] {
            phone
                .read(value)
                .await
                .with_context(|| format!("waiting for {value}"))?;
        }
        wait_until_shared(phone).await?;
    }
    ana.close().await?;
    jonas.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn every_screen_opens_on_phone_and_desktop_in_light_and_dark() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let desk = |dark| Screen {
        width: 1280,
        height: 800,
        dark,
    };
    for (name, screen) in [
        ("phone", PHONE),
        (
            "phone-dark",
            Screen {
                dark: true,
                ..PHONE
            },
        ),
        ("desk", desk(false)),
        ("desk-dark", desk(true)),
    ] {
        let phone = Phone::start(name, screen).await?;
        phone.driver.goto(format!("{}/", line.url())).await?;
        phone.see("input[name=email]").await?;
        picture(&phone, &format!("{name}-sign-in")).await?;
        sign_in(&phone, &line, &PEOPLE[0]).await?;
        picture(&phone, &format!("{name}-jobs")).await?;
        open_car(&phone).await?;
        picture(&phone, &format!("{name}-read")).await?;
        phone.tap("[data-test=tab-body]").await?;
        phone.see(".body-view .point-mark").await?;
        picture(&phone, &format!("{name}-body")).await?;
        phone.tap("[data-test=tab-findings]").await?;
        phone.see(".concern").await?;
        picture(&phone, &format!("{name}-findings")).await?;
        phone.tap("[data-test=tab-more]").await?;
        phone.see("[data-test=begin-stage]").await?;
        picture(&phone, &format!("{name}-more")).await?;
        let wide: bool = phone
            .driver
            .execute("return document.documentElement.scrollWidth > document.documentElement.clientWidth", vec![])
            .await?
            .convert()?;
        ensure!(!wide, "{name}: the page is wider than the screen");
        phone.close().await?;
    }
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_wrong_password_is_said_and_a_new_job_is_begun_with_a_generic_body() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("new", PHONE).await?;
    phone.driver.goto(format!("{}/", line.url())).await?;
    phone.fill("input[name=email]", PEOPLE[1].email).await?;
    phone.fill("input[name=password]", "not this one").await?;
    phone.tap("button.primary").await?;
    phone.read("E-mail or password is wrong.").await?;
    picture(&phone, "sign-in-wrong").await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    phone.tap("[data-test=new-job]").await?;
    phone.fill("input[name=number]", "77").await?;
    phone.fill("input[name=vehicle]", "van, invented").await?;
    phone.tap("g[aria-label='front left']").await?;
    picture(&phone, "new-job").await?;
    phone.tap("button.primary").await?;
    phone.see("[data-test=enter]").await?;
    picture(&phone, "read-empty").await?;
    enter(&phone, "412").await?;
    wait_until_shared(&phone).await?;
    phone.tap("[data-test=tab-findings]").await?;
    phone.read("Mash").await?;
    picture(&phone, "findings-empty").await?;
    phone.close().await?;
    server.stop().await
}
