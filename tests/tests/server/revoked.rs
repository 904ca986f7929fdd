//! Lines that end when their right does, readers from whom nothing is taken, and presence.

use std::sync::atomic::Ordering;
use std::time::Duration;

use anyhow::{Context, Result};
use server::auth::access::{Bearer, Boarding, Link};
use server::live::frame::Frame;
use server::store::Revoked;
use shared::wire::Role;
use tests::database::Engine;
use tests::device::{Device, document_id};
use tests::shop::{Person, Shop};
use tokio::time::timeout;

/// Far less than the time after which a server looks for itself.
const AT_ONCE: Duration = Duration::from_secs(5);

fn who(person: &Person) -> Result<(String, String)> {
    let me = &person.session.as_ref().context("not signed in")?.me;
    Ok((me.shop.clone(), me.user.clone()))
}

/// Why the line ended.
async fn ended(phone: &mut Device) -> Result<String> {
    let error = async {
        loop {
            if let Err(error) = phone.hear().await {
                return format!("{error:#}");
            }
        }
    };
    timeout(AT_ONCE, error).await.context("the line goes on")
}

/// A ticket that reads one book, as an adjuster's link gives it.
fn reading_ticket(shop: &Shop, maker: &Person, link: &str, book: &str) -> Result<String> {
    let (shop_id, user) = who(maker)?;
    let boarding = Boarding {
        bearer: Bearer {
            shop: shop_id,
            user,
        },
        device: "01ARZ3NDEKTSV4RRFFQ69G5FAV".into(),
        link: Some(Link {
            link: link.into(),
            book: book.into(),
        }),
    };
    let app = &shop.running.app;
    let clock = &app.config.clock;
    app.access.ticket(&boarding, clock.mint(), clock.now_ms())
}

async fn lines_end_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    // On PostgreSQL the phones are at another server than the one that is told.
    let second = match engine {
        Engine::Postgres => Some(shop.another_node().await?),
        Engine::Sqlite => None,
    };
    let there = second.as_ref().map_or(shop.running.addr, |node| node.addr);
    let (shop_id, user) = who(&ana)?;
    let book = document_id();
    let mut owner = Device::new(&book);
    owner.write("height", 612)?;
    owner.connect(&marta.moved_to(there)).await?;
    owner.share().await?;
    let (mut one, mut other) = (Device::new(&book), Device::new(&book));
    for phone in [&mut one, &mut other] {
        phone.connect(&ana.moved_to(there)).await?;
        phone.share().await?;
    }
    let mut guest = Device::new(&book);
    guest
        .board(there, &reading_ticket(&shop, &marta, "l1", &book)?)
        .await?;
    guest.share().await?;

    // One device, the link, then the person; everybody else stays each time.
    let store = &shop.running.app.store;
    store
        .end_lines(Revoked::Device {
            shop: shop_id.clone(),
            user: user.clone(),
            device: one.device.clone(),
        })
        .await?;
    let why = ended(&mut one).await?;
    assert!(why.contains("no longer allowed"), "{why}");
    store
        .end_lines(Revoked::Link {
            shop: shop_id.clone(),
            link: "l1".into(),
        })
        .await?;
    ended(&mut guest).await?;
    other.write("width", 1400)?;
    other.share().await?;
    store
        .end_lines(Revoked::Person {
            shop: shop_id,
            user,
        })
        .await?;
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
    reader
        .board(
            shop.running.addr,
            &reading_ticket(&shop, &marta, "l1", &book)?,
        )
        .await?;
    reader.share().await?;
    assert_eq!(reader.read("height")?, Some(612));

    // What the reader writes goes nowhere, however often it is said; what is broken neither.
    reader.write("height", 900)?;
    reader.write("width", 900)?;
    for _ in 0..3 {
        reader.offer().await?;
        reader.hear().await?;
    }
    assert!(!reader.is_shared());
    reader.say("sync", b"nonsense".to_vec()).await?;
    while reader.refused.is_empty() {
        reader.hear().await?;
    }
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
    }
    assert_eq!(phone.read("width")?, None);
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
    curious
        .board(
            shop.running.addr,
            &reading_ticket(&shop, &marta, "l1", &book)?,
        )
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
