//! A line that is dead and does not say so.

use std::time::Duration;

use anyhow::{Result, ensure};
use server::demo::PEOPLE;
use tests::bay::{demo_server, enter, open_car, sign_in, wait_until_shared};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};
use tokio::time::Instant;

/// Longest that a phone may take a dead line for a live one.
const PATIENCE: Duration = Duration::from_secs(90);

#[tokio::test(flavor = "multi_thread")]
async fn a_phone_that_changed_networks_shares_again_by_itself() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("network", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    enter(&phone, "251.5").await?;
    wait_until_shared(&phone).await?;

    // The server closes what rests for five seconds: the line alone is dead, and what the phone does
    // about it is seen, not what the browser makes of connections that it would have used again.
    tokio::time::sleep(Duration::from_secs(8)).await;
    line.change_network();
    enter(&phone, "252").await?;
    phone.read("not shared yet").await?;
    let begun = Instant::now();
    while phone.text().await?.contains("not shared yet") {
        ensure!(begun.elapsed() < PATIENCE, "the phone trusts a dead line");
        tokio::time::sleep(Duration::from_millis(500)).await;
    }
    wait_until_shared(&phone).await?;
    phone.close().await?;
    server.stop().await
}
