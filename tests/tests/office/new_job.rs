//! A new job on a body of the library, with signal and without; sheets between the shops of a server.

use anyhow::{Context, Result, ensure};
use serde_json::{Value, json};
use server::demo::PEOPLE;
use shared::library::SheetLine;
use tests::bay::{picture, sign_in, wait_for_worker, wait_until_shared};
use tests::database::Engine;
use tests::line::Line;
use tests::phone::{PHONE, Phone};
use tests::shop::{PASSWORD, Person, Shop};

use crate::{DESK, fits};

/// A sheet of an invented body: two pairs and what carries them.
fn file(name: &str, vin: Option<&str>) -> Value {
    let mut points = serde_json::Map::new();
    for (stem, x, y, z) in [
        ("tower", -61.0, 545.0, 838.5),
        ("sill", 900.0, 720.0, 250.0),
    ] {
        for (end, other, side, sign) in [("L", "R", "left", -1.0), ("R", "L", "right", 1.0)] {
            let point = json!({
                "label": format!("{stem} of {name}"), "side": side, "mirror": format!("{stem}-{other}"),
                "target_mm": [x, sign * y, z], "spread_mm": [0.5, 0.6, 0.7],
            });
            points.insert(format!("{stem}-{end}"), point);
        }
    }
    json!({ "format": "baybook-sheet/1", "sheet": {
        "name": name, "revision": 1,
        "body": { "maker": "Weide", "model": name, "vin": vin },
        "origin": { "kind": "manual", "source": "invented" },
        "points": points,
    } })
}

async fn make(owner: &Person, sheet: &Value) -> Result<SheetLine> {
    let made = owner.post("/api/sheets", sheet).await?;
    ensure!(made.status() == 201, "{}", made.text().await?);
    Ok(made.json().await?)
}

/// What is chosen of the bodies.
async fn chosen(phone: &Phone) -> Result<String> {
    let pressed = phone
        .ask("return document.querySelector('.choices [aria-pressed=true]')?.textContent ?? ''")
        .await?;
    Ok(pressed.as_str().unwrap_or_default().to_owned())
}

async fn wait_for_choice(phone: &Phone, wanted: &str) -> Result<()> {
    for _ in 0..800 {
        if chosen(phone).await?.contains(wanted) {
            return Ok(());
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    anyhow::bail!("'{}' is chosen", chosen(phone).await?)
}

/// A whole number whose check digit is right (seventeen ones).
const VIN: &str = "11111111111111111";

#[tokio::test(flavor = "multi_thread")]
async fn a_job_begins_with_a_sheet_that_the_phone_has_seen() -> Result<()> {
    let shop = Shop::start_demo(Engine::Sqlite).await?;
    let body = json!({ "email": PEOPLE[0].email, "password": PEOPLE[0].password });
    let marta = shop.nobody().enter("/api/session", &body).await?;
    make(&marta, &file("Bach", Some("1111*"))).await?;
    make(&marta, &file("Strom", Some("ZZZ*"))).await?;
    let olga = shop.other_shop("Other Works", "olga@other.example").await?;
    let van = make(&olga, &file("Fluss", None)).await?;
    let published = format!("/api/sheets/{}/published", van.id);
    olga.post(&published, &json!({ "revision": 1 })).await?;

    let line = Line::to(shop.running.addr).await?;
    let ana = Phone::start("ana-new-job", PHONE).await?;
    sign_in(&ana, &line, &PEOPLE[1]).await?;
    wait_for_worker(&ana).await?;
    let new = format!("{}/#/new", line.url());
    ana.driver.goto(&new).await?;
    ana.read("Fluss · shared by Other Works").await?;
    ana.read("Strom").await?;
    ensure!(
        chosen(&ana).await?.contains("Unitised"),
        "no number says no sheet"
    );
    picture(&ana, "new-job-library").await?;
    fits(&ana, "new job").await?;

    // Without signal, the app started anew: what it has seen is there, and the number proposes it.
    line.cut();
    ana.driver.refresh().await?;
    let reached = "return await fetch('/api/me').then(() => 'reached', () => 'cut')";
    ensure!(ana.ask(reached).await? == "cut", "there is signal");
    ana.fill("input[name=number]", "7001").await?;
    ana.fill("input[name=vin]", &VIN[..16]).await?;
    ana.read("Bach").await?;
    ensure!(
        !chosen(&ana).await?.contains("Bach"),
        "part of a number fits nothing"
    );
    ana.fill("input[name=vin]", VIN).await?;
    wait_for_choice(&ana, "Bach · fits this VIN").await?;
    // The pattern of this one says that it is another car.
    ana.read_until_gone("Strom").await?;
    picture(&ana, "new-job-proposed").await?;
    fits(&ana, "new job, proposed").await?;
    ana.tap("form .primary").await?;
    ana.see("[data-test=enter]").await?;
    ana.read("of Bach").await?;
    ana.read("not shared yet").await?;

    // Another one by hand, the other shop's.
    ana.driver.goto(&new).await?;
    ana.fill("input[name=number]", "7002").await?;
    ana.read("Fluss").await?;
    let press = "const all = [...document.querySelectorAll('.choices button')]; \
                 all.find((one) => one.textContent.includes('Fluss')).click(); return true";
    ana.ask(press).await?;
    wait_for_choice(&ana, "Fluss").await?;
    ana.tap("form .primary").await?;
    ana.see("[data-test=enter]").await?;
    ana.read("of Fluss").await?;

    // With signal again everything arrives; a withdrawn sheet goes, and the books that have it keep it.
    line.mend();
    wait_until_shared(&ana).await?;
    olga.delete(&published).await?;
    let here = ana.driver.current_url().await?;
    let book = here
        .as_str()
        .rsplit_once("/read")
        .map_or(here.as_str(), |(book, _)| book);
    ana.driver.goto(format!("{book}/sheet")).await?;
    ana.read("This book is judged by Fluss, revision 1 (± 0.5 mm to 0.7 mm)")
        .await?;
    ana.driver.goto(&new).await?;
    ana.read("Strom").await?;
    ana.read_until_gone("Fluss").await?;
    let jobs: Vec<Value> = marta.read("/api/overview").await?;
    let numbers = serde_json::to_string(&jobs)?;
    ensure!(
        numbers.contains("7001") && numbers.contains("7002"),
        "{numbers}"
    );
    ana.close().await?;
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_sheet_goes_to_the_other_shops_and_comes_back() -> Result<()> {
    let shop = Shop::start_demo(Engine::Sqlite).await?;
    let body = json!({ "email": PEOPLE[0].email, "password": PEOPLE[0].password });
    let owner = shop.nobody().enter("/api/session", &body).await?;
    make(&owner, &file("Bach", None)).await?;
    let olga = shop.other_shop("Other Works", "olga@other.example").await?;

    let line = Line::to(shop.running.addr).await?;
    let marta = Phone::start("marta-publish", DESK).await?;
    sign_in(&marta, &line, &PEOPLE[0]).await?;
    let library = format!("{}/#/office/library", line.url());
    marta.driver.goto(&library).await?;
    marta.read("No other shop of this server").await?;
    marta.tap("[data-test=sheets] .head").await?;
    marta.tap("[data-test=publish]").await?;
    marta.read("who entered it").await?;
    marta.tap("[data-test=publish-now]").await?;
    marta.see("[data-test=is-published]").await?;
    picture(&marta, "desk-library-published").await?;
    fits(&marta, "desk-library-published").await?;

    let other = Phone::start("olga-shared", DESK).await?;
    other.driver.goto(format!("{}/", line.url())).await?;
    other
        .fill("input[name=email]", "olga@other.example")
        .await?;
    other.fill("input[name=password]", PASSWORD).await?;
    other.tap("button.primary").await?;
    other.see("[data-test=new-job]").await?;
    other.driver.goto(&library).await?;
    other.read("shared by").await?;
    other.tap("[data-test=copy-shared]").await?;
    other.read("Copied.").await?;
    other.see("[data-test=sheets] .head").await?;
    picture(&other, "desk-library-shared").await?;
    let copies: Vec<SheetLine> = olga.read("/api/sheets").await?;
    let copy = copies.first().context("no copy")?;
    ensure!((copy.revision, copy.summary.points) == (1, 4), "{copy:?}");

    marta.tap("[data-test=publish]").await?;
    marta.tap("[data-test=publish-now]").await?;
    marta
        .read_until_gone("published to all shops of this server")
        .await?;
    other.driver.refresh().await?;
    other.read("No other shop of this server").await?;
    other.see("[data-test=sheets] .head").await?;
    let log = format!("{}/#/office/log", line.url());
    marta.driver.goto(&log).await?;
    marta.read("Sheet withdrawn from the other shops").await?;
    other.close().await?;
    marta.close().await?;
    shop.running.stop().await
}
