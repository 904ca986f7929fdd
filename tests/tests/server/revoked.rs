//! Lines that end when their right does, readers from whom nothing is taken, and presence.

use std::sync::atomic::Ordering;
use std::time::Duration;

use anyhow::{Context, Result};
use reqwest::header::HeaderMap;
use reqwest::{Method, StatusCode};
use serde_json::json;
use server::live::frame::Frame;
use shared::wire::Role;
use tests::database::Engine;
use tests::device::{Device, document_id};
use tests::shop::{Person, Shop};
use tokio::time::timeout;

/// Far less than the time after which a server looks for itself.
const AT_ONCE: Duration = Duration::from_secs(5);

/// Why the line ended.
async fn ended(phone: &mut Device) -> Result<String> {
    timeout(AT_ONCE, phone.wait_for_end())
        .await
        .context("the line goes on")?
}

async fn delete(who: &Person, path: &str) -> Result<()> {
    let answer = who
        .send(Method::DELETE, path, None::<&()>, HeaderMap::new())
        .await?;
    assert_eq!(answer.status(), StatusCode::NO_CONTENT, "{path}");
    Ok(())
}

async fn lines_end_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let body = json!({ "email": "ana@shop.example", "password": tests::shop::PASSWORD });
    let ana_again = shop.nobody().enter("/api/session", &body).await?;
    // On PostgreSQL the phones are at another server than the one that is told.
    let second = match engine {
        Engine::Postgres => Some(shop.another_node().await?),
        Engine::Sqlite => None,
    };
    let there = second.as_ref().map_or(shop.running.addr, |node| node.addr);
    let book = document_id();
    let mut owner = Device::new(&book);
    owner.write("height", 612)?;
    owner.connect(&marta.moved_to(there)).await?;
    owner.share().await?;
    let (mut one, mut other) = (Device::new(&book), Device::new(&book));
    for (phone, who) in [(&mut one, &ana), (&mut other, &ana_again)] {
        phone.connect(&who.moved_to(there)).await?;
        phone.share().await?;
    }
    let (link_id, follow) = marta.link_opened(&book).await?;
    let mut guest = Device::new(&book);
    guest.connect_with(there, &follow.ticket).await?;
    guest.share().await?;

    // One device, the link, then the person; everybody else stays each time.
    let user = ana.session.as_ref().context("no session")?.me.user.clone();
    let path = format!("/api/people/{user}/devices/{}", one.device);
    delete(&marta, &path).await?;
    assert_eq!(ended(&mut one).await?, "access has ended");
    delete(&marta, &format!("/api/links/{link_id}")).await?;
    ended(&mut guest).await?;
    other.write("width", 1400)?;
    other.share().await?;
    delete(&marta, &format!("/api/people/{user}")).await?;
    ended(&mut other).await?;
    owner.hear_until(&other.doc.get_heads()).await?;
    owner.write("height", 613)?;
    owner.share().await?;
    if let Some(second) = second {
        second.stop().await?;
    }
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn lines_end_on_sqlite() -> Result<()> {
    lines_end_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn lines_end_on_postgres() -> Result<()> {
    lines_end_story(Engine::Postgres).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_reader_sees_everything_and_writes_nothing() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    let book = document_id();
    let mut phone = Device::new(&book);
    phone.write("height", 612)?;
    phone.connect(&marta).await?;
    phone.share().await?;
    let mut reader = Device::new(&book);
    let (_, follow) = marta.link_opened(&book).await?;
    reader
        .connect_with(shop.running.addr, &follow.ticket)
        .await?;
    reader.share().await?;
    assert_eq!(reader.read("height")?, Some(612));

    // What the reader writes goes nowhere, however often it is said.
    reader.write("height", 900)?;
    reader.write("width", 900)?;
    for _ in 0..3 {
        reader.offer().await?;
        reader.hear().await?;
    }
    assert!(!reader.is_shared());
    let presence = Frame {
        kind: "ephemeral".into(),
        document: Some(book.clone()),
        data: Some(b"I am here".to_vec()),
        ..Frame::default()
    };
    reader.send(&presence).await?;
    // It goes on seeing what others write, and the others nothing of it.
    phone.write("height", 613)?;
    phone.share().await?;
    while reader.read("last")? != Some(1) {
        phone.write("last", 1)?;
        phone.share().await?;
        reader.hear().await?;
        // A summary of what it has may err; then it has to ask.
        reader.offer().await?;
    }
    assert_eq!(phone.read("width")?, None);
    // What is broken ends its line, and is not kept either.
    reader.say("sync", b"nonsense".to_vec()).await?;
    ended(&mut reader).await?;
    let stored = shop
        .scratch
        .number("SELECT COUNT(*) FROM doc_change")
        .await?;
    assert_eq!(stored, shop.scratch.number("SELECT seq FROM doc").await?);
    assert_eq!(
        shop.scratch
            .number("SELECT COUNT(*) FROM quarantine")
            .await?,
        0
    );
    let dropped = shop.running.app.live.dropped.load(Ordering::Relaxed);
    assert!(dropped >= 2, "{dropped}");

    // Another book of the shop is not there for it.
    let mut elsewhere = Device::new(&document_id());
    elsewhere.write("height", 1)?;
    elsewhere.connect(&marta).await?;
    elsewhere.share().await?;
    let mut curious = Device::new(&elsewhere.book);
    let (_, follow) = marta.link_opened(&book).await?;
    curious
        .connect_with(shop.running.addr, &follow.ticket)
        .await?;
    curious.offer().await?;
    assert_eq!(curious.hear().await?, "doc-unavailable");
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn presence_is_short_and_rare() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    let book = document_id();
    let (mut left, mut right) = (Device::new(&book), Device::new(&book));
    left.write("height", 612)?;
    for phone in [&mut left, &mut right] {
        phone.connect(&marta).await?;
        phone.share().await?;
    }
    let presence = |count: u64, length: usize| Frame {
        kind: "ephemeral".into(),
        sender: Some("somebody else".into()),
        document: Some(book.clone()),
        session: Some("s".into()),
        count: Some(count),
        data: Some(vec![b'x'; length]),
        ..Frame::default()
    };
    // One that is too long, and far more than a person can mean.
    left.send(&presence(0, 17 * 1024)).await?;
    for count in 1..=200 {
        left.send(&presence(count, 20)).await?;
    }
    // A reading afterwards marks the end: it takes the same way.
    left.write("height", 613)?;
    left.share().await?;
    let mut counts = Vec::new();
    loop {
        let frame = right.next().await?;
        if frame.kind != "ephemeral" {
            break;
        }
        assert_ne!(frame.sender.as_deref(), Some("somebody else"));
        counts.extend(frame.count);
    }
    assert!(counts.len() >= 20 && counts.len() < 100, "{counts:?}");
    assert_eq!(counts[0], 1, "the long one went nowhere");
    // It is an error of nobody: the line goes on.
    left.write("height", 614)?;
    left.share().await?;
    shop.running.stop().await
}
