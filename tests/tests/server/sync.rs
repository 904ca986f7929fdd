//! Books over the line: phones converge, what is acknowledged stays, strangers see nothing.

use std::time::Duration;

use anyhow::{Context, Result};
use automerge::transaction::Transactable;
use automerge::{ROOT, ReadDoc};
use reqwest::Client;
use server::live::frame::Frame;
use shared::book::Intention;
use shared::job::Card;
use shared::wire::{JobLine, Role};
use tests::database::Engine;
use tests::device::{Device, document_id};
use tests::shop::{Person, Shop};

struct People {
    marta: Person,
    ana: Person,
}

async fn people(shop: &Shop) -> Result<People> {
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    Ok(People { marta, ana })
}

async fn share_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let People { marta, ana } = people(&shop).await?;
    let book = document_id();

    // One phone starts the book without signal, then shares it.
    let mut left = Device::new(&book);
    left.start_book()?;
    left.mean(&Intention::DescribeJob {
        card: Card {
            number: "1187".into(),
            vehicle: "estate, silver".into(),
            ..Card::default()
        },
    })?;
    left.write("left-tower", 612)?;
    left.connect(&ana).await?;
    left.share().await?;
    let jobs: Vec<JobLine> = marta.read("/api/jobs").await?;
    assert_eq!(jobs.len(), 1);
    assert_eq!(
        (jobs[0].number.as_str(), jobs[0].book.as_str()),
        ("1187", book.as_str())
    );

    // Another phone starts the same book offline, and finds the first one's work in it.
    let mut right = Device::new(&book);
    right.start_book()?;
    right.connect(&marta).await?;
    right.share().await?;
    while right.doc.get_heads() != left.doc.get_heads() {
        right.hear().await?;
        right.offer().await?;
    }
    assert_eq!(right.read("left-tower")?, Some(612));
    assert_eq!(right.job()?.card.vehicle, "estate, silver");

    // Both measure in a dead spot; afterwards both have both.
    left.disconnect();
    right.disconnect();
    for n in 0..20 {
        left.write(&format!("left-{n}"), n)?;
        right.write(&format!("right-{n}"), -n)?;
    }
    left.connect(&ana).await?;
    right.connect(&marta).await?;
    left.share().await?;
    right.share().await?;
    // The server tells the first about the second by itself.
    while left.doc.get_heads() != right.doc.get_heads() {
        left.hear().await?;
        left.offer().await?;
    }
    assert_eq!(
        (left.read("right-19")?, right.read("left-19")?),
        (Some(-19), Some(19))
    );

    // Who sent what is in the record.
    let by_ana = shop
        .scratch
        .number("SELECT COUNT(*) FROM doc_change c JOIN \"user\" u ON u.user_id = c.user_id WHERE u.name = 'ana'")
        .await?;
    assert_eq!(by_ana, 23);
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn share_on_sqlite() -> Result<()> {
    share_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn share_on_postgres() -> Result<()> {
    share_story(Engine::Postgres).await
}

/// The power is cut right after each acknowledgement, again and again.
async fn power_cut_story(engine: Engine) -> Result<()> {
    let mut shop = Shop::start(engine).await?;
    let People { ana, .. } = people(&shop).await?;
    let book = document_id();
    let mut phone = Device::new(&book);
    for round in 0..5 {
        let ana = ana.moved_to(shop.running.addr);
        phone.connect(&ana).await?;
        phone.write(&format!("round-{round}"), round)?;
        phone.share().await?;
        shop = shop.cut_power().await?;
        let mut fresh = Device::new(&book);
        fresh.connect(&ana.moved_to(shop.running.addr)).await?;
        fresh.share().await?;
        assert_eq!(
            fresh.doc.get_heads(),
            phone.doc.get_heads(),
            "round {round}"
        );
    }
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn power_cut_on_sqlite() -> Result<()> {
    power_cut_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn power_cut_on_postgres() -> Result<()> {
    power_cut_story(Engine::Postgres).await
}

/// Enough changes that a snapshot is made; afterwards the book opens from it.
#[tokio::test(flavor = "multi_thread")]
async fn a_long_book_opens_from_its_snapshot() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let People { ana, .. } = people(&shop).await?;
    let book = document_id();
    let mut phone = Device::new(&book);
    for n in 0..250 {
        phone.write("n", n)?;
    }
    phone.connect(&ana).await?;
    phone.share().await?;
    // The document answers this only after it has written the snapshot.
    phone.write("n", 250)?;
    phone.share().await?;
    let shop = shop.cut_power().await?;
    assert_eq!(
        shop.scratch.number("SELECT seq FROM doc_snapshot").await?,
        250
    );
    let mut fresh = Device::new(&book);
    fresh.connect(&ana.moved_to(shop.running.addr)).await?;
    fresh.share().await?;
    assert_eq!(fresh.doc.get_heads(), phone.doc.get_heads());
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_not_there_is_unavailable() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let People { ana, .. } = people(&shop).await?;
    for book in [document_id(), "no-document-id".to_owned()] {
        let mut phone = Device::new(&book);
        phone.connect(&ana).await?;
        phone.offer().await?;
        assert_eq!(phone.hear().await?, "doc-unavailable");
    }
    assert_eq!(shop.scratch.number("SELECT COUNT(*) FROM doc").await?, 0);
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn another_shop_sees_nothing() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let People { ana, .. } = people(&shop).await?;
    let book = document_id();
    let mut phone = Device::new(&book);
    phone.write("height", 612)?;
    phone.connect(&ana).await?;
    phone.share().await?;

    let stranger = shop
        .other_shop("Elsewhere Bodies", "olga@elsewhere.example")
        .await?;
    assert!(stranger.read::<Vec<JobLine>>("/api/jobs").await?.is_empty());
    let mut other = Device::new(&book);
    other.connect(&stranger).await?;
    other.offer().await?;
    assert_eq!(other.hear().await?, "doc-unavailable");
    // Even a book of the same id stays a book of its own.
    other.write("height", 1)?;
    other.share().await?;
    assert_eq!(shop.scratch.number("SELECT COUNT(*) FROM doc").await?, 2);
    let mut fresh = Device::new(&book);
    fresh.connect(&ana).await?;
    fresh.share().await?;
    assert_eq!(fresh.read("height")?, Some(612));
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_foreign_actor_is_refused_and_kept_aside() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let People { marta, ana } = people(&shop).await?;
    let book = document_id();
    let mut phone = Device::new(&book);
    phone.write("height", 612)?;
    phone.connect(&ana).await?;
    phone.share().await?;
    // Another phone, signed in as another person, goes on under Ana's actor.
    let mut forger = Device::new(&book);
    forger.connect(&marta).await?;
    forger.share().await?;
    forger.doc.set_actor(phone.doc.get_actor().clone());
    forger.write("height", 900)?;
    assert!(forger.share().await.is_err());
    assert_eq!(forger.refused, [format!("actor {}", phone.actor())]);
    assert_eq!(
        shop.scratch
            .number("SELECT COUNT(*) FROM doc_change")
            .await?,
        1
    );
    assert_eq!(
        shop.scratch
            .number("SELECT COUNT(*) FROM quarantine")
            .await?,
        1
    );
    // The others work on.
    phone.write("width", 1400)?;
    phone.share().await?;
    shop.running.stop().await
}

/// What is written once stays, whoever asks and however it is wrapped.
#[tokio::test(flavor = "multi_thread")]
async fn a_note_cannot_be_rewritten() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let People { marta, ana } = people(&shop).await?;
    let book = document_id();
    let mut phone = Device::new(&book);
    phone.start_book()?;
    phone.mean(&Intention::WriteNote {
        id: "n1".into(),
        text: "as received".into(),
    })?;
    phone.connect(&ana).await?;
    phone.share().await?;
    let mut other = Device::new(&book);
    other.connect(&marta).await?;
    other.share().await?;
    let (_, notes) = other.doc.get(ROOT, "notes")?.context("no notes")?;
    other.doc.delete(&notes, "n1")?;
    other.doc.commit();
    assert!(other.share().await.is_err());
    assert_eq!(other.refused, ["record notes/n1"]);
    assert_eq!(
        shop.scratch
            .number("SELECT COUNT(*) FROM doc_change")
            .await?,
        2
    );
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn hostile_messages_do_no_harm() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let People { ana, .. } = people(&shop).await?;
    let book = document_id();
    let mut phone = Device::new(&book);
    phone.write("height", 612)?;
    phone.connect(&ana).await?;
    phone.share().await?;
    // A Bloom filter with one entry, no bits per entry and seven probes divides by nothing.
    let no_bits = vec![0x42, 0, 0, 1, 0, 3, 1, 0, 7, 0];
    // One that asks for four thousand million probes per entry.
    let many_probes = vec![
        0x42, 0, 0, 1, 0, 9, 1, 8, 0xff, 0xff, 0xff, 0xff, 0x0f, 0xff, 0, 0,
    ];
    // Twenty-eight bytes that claim a million million operations.
    let mut claims = vec![0x85, 0x6f, 0x4a, 0x83, 0x95, 0x16, 0xda, 0x37, 1, 18];
    claims.extend([0, 1, 7, 1, 1, 0, 0, 0, 1, 0x42, 7]);
    claims.extend([0x80, 0x80, 0x80, 0x80, 0x80, 0x20, 1]);
    let claims = automerge::sync::Message {
        heads: Vec::new(),
        need: Vec::new(),
        have: Vec::new(),
        changes: vec![claims].into(),
        flags: None,
        version: automerge::sync::MessageVersion::V1,
    };
    for data in [
        no_bits,
        many_probes,
        claims.encode(),
        b"nonsense".to_vec(),
        Vec::new(),
    ] {
        phone.say("sync", data).await?;
        assert_eq!(phone.hear().await?, "error");
    }
    assert_eq!(
        shop.scratch
            .number("SELECT COUNT(*) FROM quarantine")
            .await?,
        5
    );
    let reasons = [
        "summary",
        "summary",
        "too-large",
        "unreadable",
        "unreadable",
    ];
    assert_eq!(phone.refused, reasons);
    phone.write("height", 613)?;
    phone.share().await?;
    // What is no frame ends the line, and nothing else.
    phone.send_bytes(b"no frame".to_vec()).await?;
    assert!(phone.next().await.is_err());
    phone.connect(&ana).await?;
    phone.share().await?;
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn presence_goes_to_the_others_and_is_not_stored() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let People { marta, ana } = people(&shop).await?;
    let book = document_id();
    let mut left = Device::new(&book);
    left.write("height", 612)?;
    left.connect(&ana).await?;
    left.share().await?;
    let mut right = Device::new(&book);
    right.connect(&marta).await?;
    right.share().await?;
    let presence = Frame {
        kind: "ephemeral".into(),
        sender: Some("somebody else".into()),
        target: Some("baybook".into()),
        document: Some(book.clone()),
        session: Some("s".into()),
        count: Some(1),
        data: Some(b"Ana is at the left tower".to_vec()),
        ..Frame::default()
    };
    left.send(&presence).await?;
    let got = right.next().await?;
    assert_eq!((got.kind.as_str(), got.data), ("ephemeral", presence.data));
    assert_ne!(got.sender, presence.sender, "the sender is the bound one");
    assert_eq!(
        shop.scratch
            .number("SELECT COUNT(*) FROM doc_change")
            .await?,
        1
    );
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_ticket_is_needed_once_and_in_time() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let People { ana, .. } = people(&shop).await?;
    let device = "01ARZ3NDEKTSV4RRFFQ69G5FAV";
    let open = async |ticket: &str, origin: Option<&str>| {
        let mut request = Client::new()
            .get(shop.url(&format!("/sync?ticket={ticket}")))
            .timeout(Duration::from_secs(20))
            .header("Connection", "Upgrade")
            .header("Upgrade", "websocket")
            .header("Sec-WebSocket-Version", "13")
            .header("Sec-WebSocket-Key", "x3JJHMbDL1EzLkh9GBhXDw==");
        if let Some(origin) = origin {
            request = request.header("Origin", origin);
        }
        anyhow::Ok(request.send().await?.status().as_u16())
    };
    let ticket = ana.ticket(device, &[]).await?.ticket;
    assert_eq!(open("none", None).await?, 401);
    assert_eq!(open(&ticket, Some("https://elsewhere.example")).await?, 403);
    assert_eq!(open(&ticket, Some(&shop.url(""))).await?, 101);
    assert_eq!(open(&ticket, None).await?, 401, "a ticket is good once");
    let ticket = ana.ticket(device, &[]).await?.ticket;
    shop.clock.turn(31);
    assert_eq!(
        open(&ticket, None).await?,
        401,
        "a ticket is good for half a minute"
    );
    shop.running.stop().await
}
