//! Several servers on one PostgreSQL: phones at one see the readings of the other at once, and any
//! of them can die.

use std::time::Duration;

use anyhow::{Context, Result};
use shared::sync::frame::Frame;
use shared::wire::Role;
use sqlx::Executor;
use tests::database::Engine;
use tests::device::{Device, document_id};
use tests::shop::Shop;
use tokio::time::timeout;

/// Far less than the time after which a server looks for itself.
const AT_ONCE: Duration = Duration::from_secs(5);

#[tokio::test(flavor = "multi_thread")]
async fn phones_at_two_servers_share_a_book() -> Result<()> {
    let shop = Shop::start(Engine::Postgres).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let second = shop.another_node().await?;
    let marta = marta.moved_to(second.addr);
    let book = document_id();
    let mut left = Device::new(&book);
    left.start_book()?;
    left.connect(&ana).await?;
    left.write("left", 0)?;
    left.share().await?;
    let mut right = Device::new(&book);
    right.connect(&marta).await?;
    right.share().await?;
    assert_eq!(right.read("left")?, Some(0));

    // Each reading is on the other phone at once.
    for n in 1..10 {
        left.write("left", n)?;
        left.share().await?;
        timeout(AT_ONCE, right.hear_until(&left.doc.get_heads()))
            .await
            .context("the second server was not told")??;
        right.write("right", n)?;
        right.share().await?;
        timeout(AT_ONCE, left.hear_until(&right.doc.get_heads()))
            .await
            .context("the first server was not told")??;
    }
    // Both write at the same moment, again and again: the servers race for the same book.
    for n in 10..30 {
        left.write("left", n)?;
        right.write("right", n)?;
        let (one, other) = tokio::join!(left.share(), right.share());
        one.and(other)?;
    }
    left.write("last", 1)?;
    left.share().await?;
    while right.read("last")? != Some(1) || right.read("left")? != Some(29) {
        right.hear().await?;
        right.offer().await?;
    }
    right.share().await?;
    timeout(AT_ONCE, left.hear_until(&right.doc.get_heads())).await??;
    assert_eq!(
        (left.read("right")?, right.read("left")?),
        (Some(29), Some(29))
    );

    // One server dies while its phone writes; the phone goes to the other, and nothing is lost.
    left.write("on the way", 1)?;
    left.offer().await?;
    let Shop {
        running, scratch, ..
    } = shop;
    running.kill().await;
    left.disconnect();
    left.write("in the dark", 1)?;
    left.connect(&ana.moved_to(second.addr)).await?;
    left.share().await?;
    timeout(AT_ONCE, right.hear_until(&left.doc.get_heads())).await??;
    assert_eq!(right.read("in the dark")?, Some(1));
    let rows = scratch.number("SELECT COUNT(*) FROM doc_change").await?;
    assert_eq!(rows, scratch.number("SELECT seq FROM doc").await?);
    let mut fresh = Device::new(&book);
    fresh.connect(&marta).await?;
    fresh.share().await?;
    assert_eq!(fresh.doc.get_heads(), left.doc.get_heads());
    second.stop().await
}

/// Who is where in the bay is seen by those at the other server, and by nobody twice.
#[tokio::test(flavor = "multi_thread")]
async fn presence_reaches_the_other_server() -> Result<()> {
    let shop = Shop::start(Engine::Postgres).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let second = shop.another_node().await?;
    let book = document_id();
    let mut left = Device::new(&book);
    left.write("height", 612)?;
    left.connect(&ana).await?;
    left.share().await?;
    let mut beside = Device::new(&book);
    beside.connect(&marta).await?;
    beside.share().await?;
    let mut right = Device::new(&book);
    right.connect(&marta.moved_to(second.addr)).await?;
    right.share().await?;
    let presence = |count: u64, length: usize| Frame {
        kind: "ephemeral".into(),
        sender: Some("somebody else".into()),
        target: Some("baybook".into()),
        document: Some(book.clone()),
        session: Some("s".into()),
        count: Some(count),
        data: Some(vec![7; length]),
        ..Frame::default()
    };
    // The first is too long for a notice: it stays at its server.
    left.send(&presence(1, 9000)).await?;
    left.send(&presence(2, 40)).await?;
    left.send(&presence(3, 4000)).await?;
    let heard = async |phone: &mut Device, wanted: usize| -> Result<Vec<(u64, Option<String>)>> {
        let mut counts = Vec::new();
        while counts.len() < wanted {
            let frame = timeout(AT_ONCE, phone.next()).await.context("not told")??;
            if frame.kind == "ephemeral" {
                counts.push((frame.count.unwrap_or(0), frame.sender));
            }
        }
        Ok(counts)
    };
    let here = heard(&mut beside, 3).await?;
    let there = heard(&mut right, 2).await?;
    assert_eq!(here.iter().map(|(n, _)| *n).collect::<Vec<_>>(), [1, 2, 3]);
    // One sender, the same at both servers.
    assert_eq!(there, here[1..]);
    // Nobody hears it twice, and the sender does not hear itself.
    for phone in [&mut left, &mut beside, &mut right] {
        let more = timeout(Duration::from_secs(1), heard(phone, 1)).await;
        assert!(more.is_err(), "heard again: {more:?}");
    }
    second.stop().await?;
    shop.running.stop().await
}

/// A server that could not listen for a moment looks for itself.
#[tokio::test(flavor = "multi_thread")]
async fn what_was_told_into_the_void_is_found() -> Result<()> {
    let shop = Shop::start(Engine::Postgres).await?;
    let marta = shop.set_up().await?;
    let second = shop.another_node().await?;
    let book = document_id();
    let mut left = Device::new(&book);
    left.write("height", 612)?;
    left.connect(&marta).await?;
    left.share().await?;
    let mut right = Device::new(&book);
    right.connect(&marta.moved_to(second.addr)).await?;
    right.share().await?;
    let mut behind = shop.scratch.connect().await?;
    for n in 0..3 {
        behind
            .execute(
                "SELECT COUNT(pg_terminate_backend(pid)) FROM pg_stat_activity \
                 WHERE datname = current_database() AND query LIKE 'LISTEN%'",
            )
            .await?;
        left.write("height", 613 + n)?;
        left.share().await?;
        right.hear_until(&left.doc.get_heads()).await?;
        assert_eq!(right.read("height")?, Some(613 + n));
    }
    second.stop().await?;
    shop.running.stop().await
}

/// On SQLite a second server could not be told of anything, so there is none.
#[tokio::test(flavor = "multi_thread")]
async fn one_server_on_an_sqlite_file() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    let refused = shop.another_node().await.err().context("a second server")?;
    let says = format!("{refused:#}");
    assert!(
        says.contains("another server is running on") && says.contains("PostgreSQL"),
        "{says}"
    );
    // The first goes on, and the file is free after it, however it ends.
    let mut phone = Device::new(&document_id());
    phone.write("height", 612)?;
    phone.connect(&marta).await?;
    phone.share().await?;
    let shop = shop.cut_power().await?;
    shop.running.stop().await
}
