//! The practice bay: an invented car is read and compared with its truth, without signal once the bay
//! was opened, and nothing of it is ever among the real ones.
//!
//! Needs `cargo xtask test`, which builds the phone's app and finds the browser.

use anyhow::{Context, Result, ensure};
use server::demo::PEOPLE;
use tests::bay::{demo_server, open_car, picture, sign_in, wait_for_worker, wait_until_shared};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};
use tests::walk::{go, read_tape};

#[tokio::test(flavor = "multi_thread")]
async fn an_apprentice_reads_an_invented_car_and_sees_how_close_it_came() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("apprentice", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    wait_for_worker(&phone).await?;
    // The bay comes when it is first opened, and stays.
    phone.tap("[data-test=practice]").await?;
    phone.see("[data-test=begin-practice]").await?;
    line.cut();
    phone.driver.refresh().await?;
    phone
        .tap("[data-test=begin-practice]:not(:disabled)")
        .await?;
    phone.see("[data-test=practice-mark]").await?;

    // Typed as the drawing shows it, or read by the button.
    let shown = phone.see("[data-test=tape] svg").await?;
    let shown = shown.attr("aria-label").await?.context("no name")?;
    let number = shown
        .split_whitespace()
        .rev()
        .nth(1)
        .context("no number")?
        .to_owned();
    phone.press(&number).await?;
    phone.see("[data-test=entry][data-unfinished]").await?;
    phone.press("\u{e00c}").await?;
    for kind in ["height", "split", "span"] {
        let script = "const kind = document.querySelector('select[name=kind]');
          kind.value = arguments[0]; kind.dispatchEvent(new Event('change', { bubbles: true }))";
        phone.driver.execute(script, vec![kind.into()]).await?;
        for _ in 0..6 {
            read_tape(&phone).await.context(kind)?;
        }
    }
    picture(&phone, "practice-read").await?;

    // Marked as practice on every screen; signing and sheets are not there.
    for tab in ["body", "findings", "more"] {
        phone.tap(&format!("[data-test=tab-{tab}]")).await?;
        phone.see("[data-test=practice-mark]").await?;
    }
    let office = "return document.querySelectorAll('[data-test=go-sign], [data-test=go-sheet], [data-test=tab-pull]').length";
    let office: i64 = phone.driver.execute(office, vec![]).await?.convert()?;
    ensure!(office == 0, "{office} ways to the office");
    phone.tap("[data-test=tab-truth]").await?;
    phone.see("[data-test=practice-mark]").await?;
    phone.tap("[data-test=show-truth]").await?;
    phone.read("Readings that count: 18").await?;
    phone.read("The blow moved").await?;
    picture(&phone, "practice-truth").await?;

    // The page starts anew without signal, and everything is there.
    let address = phone.driver.current_url().await?;
    phone.driver.refresh().await?;
    phone.tap("[data-test=show-truth]").await?;
    phone.read("Readings that count: 18").await?;

    // Nothing of it waits for the server, and with signal nothing goes there.
    go(&phone, "/waiting").await?;
    phone.read("The server has everything").await?;
    line.mend();
    go(&phone, "/").await?;
    phone.read("connected").await?;
    let cars = phone
        .driver
        .find_all(thirtyfour::By::Css("[data-test=car]"))
        .await?;
    ensure!(cars.len() == 1, "{} cars in the bay", cars.len());
    open_car(&phone).await?;
    wait_until_shared(&phone).await?;
    let kept = phone
        .ask("return (await indexedDB.databases()).map((one) => one.name).sort()")
        .await?;
    ensure!(
        kept == serde_json::json!(["baybook", "baybook-practice"]),
        "{kept}"
    );

    // Whoever types the office's address comes back to the practice car.
    let car = address
        .fragment()
        .context("no address")?
        .replace("/truth", "");
    for part in ["sign", "sheet"] {
        phone
            .driver
            .goto(format!("{}/#{car}/{part}", line.url()))
            .await?;
        phone.driver.refresh().await?;
        phone.see("[data-test=practice-mark]").await?;
    }
    phone.close().await?;

    // The server has the one real car, and no other document.
    let form = serde_json::json!({ "email": PEOPLE[0].email, "password": PEOPLE[0].password });
    let marta = tests::shop::Person::at(server.addr)
        .enter("/api/session", &form)
        .await?;
    let jobs: Vec<shared::wire::JobLine> = marta.read("/api/jobs").await?;
    ensure!(jobs.len() == 1, "{jobs:?}");
    server.stop().await
}
