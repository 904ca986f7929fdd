//! Addresses that nobody writes.

use anyhow::{Context, Result, ensure};
use server::demo::PEOPLE;
use tests::bay::{demo_server, sign_in};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::Phone;

use crate::DESK;

/// Addresses that nobody writes, at either app: each leads to a page, and none to the next start
/// without end.
#[tokio::test(flavor = "multi_thread")]
async fn odd_addresses_lead_to_a_page_of_the_right_app() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let marta = Phone::start("marta-astray", DESK).await?;
    sign_in(&marta, &line, &PEOPLE[0]).await?;
    let (cars, desk) = ("[data-test=car]", "[data-test=signed-jobs] li");
    for (address, shown) in [
        ("#office", desk),
        ("#/follow", cars),
        ("#/office/", desk),
        ("#/office/nowhere", desk),
        ("#/office/signed/1", cars),
        ("#/import/1", cars),
        ("#/book//sign", ".book"),
        ("#/", cars),
        ("#/follow/nonsense", "[data-test=ended]"),
        ("#/settings", "[data-test=sign-out]"),
        ("#/devices", "[data-test=devices] li"),
        ("#/devices/1", cars),
        ("#/import", "input[name=job-file]"),
        ("#/book/nonsense/sheet", ".book"),
        ("#//book//nonsense//sign//", cars),
    ] {
        let url = format!("{}/{address}", line.url());
        marta.driver.goto(url).await?;
        marta.see(shown).await.context(address)?;
        // It stays.
        let mark = "window.here = true";
        marta.driver.execute(mark, vec![]).await?;
        tokio::time::sleep(std::time::Duration::from_millis(1_500)).await;
        let stays = marta.driver.execute("return window.here === true", vec![]);
        let stays: bool = stays.await?.convert()?;
        ensure!(stays, "{address} started the page once more");
    }
    marta.close().await?;
    server.stop().await
}
