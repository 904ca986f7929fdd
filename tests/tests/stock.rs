//! The stock JavaScript automerge-repo client as a peer of our server: the protocol is the open one,
//! and its rules hold for everybody.
//!
//! Needs `cargo xtask test`, which installs the client; without it each test says that it was skipped.

use anyhow::{Context, Result, ensure};
use serde_json::{Value, json};
use server::live::frame::Frame;
use shared::book::Intention;
use shared::ids::ReadingId;
use shared::job::{Job, Reading};
use shared::wire::{JobLine, Role};
use tests::database::Engine;
use tests::device::{Device, document_id};
use tests::shop::{Person, Shop};
use tests::stock::{StockClient, node};

/// A shop with a car that has been read a little, and the phone that did it.
struct Bay {
    shop: Shop,
    ana: Person,
    phone: Device,
    /// The demo car, of which the phone has entered the first readings.
    car: Job,
}

const ENTERED: usize = 5;

async fn bay() -> Result<Bay> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let mut phone = Device::new(&document_id());
    phone.start_book()?;
    let car = shared::demo::job();
    let bare = Job {
        readings: car.readings[..ENTERED].to_vec(),
        ..car.clone()
    };
    phone.mean(&Intention::TakeOverJob {
        job: Box::new(bare),
    })?;
    phone.connect(&ana).await?;
    phone.share().await?;
    Ok(Bay {
        shop,
        ana,
        phone,
        car,
    })
}

/// A stock client that has the book.
async fn peer(node: &str, bay: &Bay) -> Result<StockClient> {
    let mut peer = StockClient::start(node, &bay.ana).await?;
    let found = peer
        .order(&json!({ "order": "find", "document": bay.phone.book }))
        .await?;
    ensure!(found["found"] == true, "{found}");
    Ok(peer)
}

/// A reading of the demo car as a new one.
fn reading(car: &Job, at: usize, id: &str) -> Result<Reading> {
    Ok(Reading {
        id: ReadingId::parse(id)?,
        replaces: None,
        set_aside: None,
        ..car.readings[at].clone()
    })
}

/// The reading as a record of the book: what the app writes, with its place in the order.
fn record(reading: &Reading, order: usize) -> Result<Value> {
    let mut record = serde_json::to_value(reading)?;
    record["order"] = order.into();
    Ok(record)
}

impl Bay {
    /// Waits until the phone has heard of a reading.
    async fn phone_has(&mut self, id: &str) -> Result<Reading> {
        loop {
            let job = self.phone.job()?;
            if let Some(found) = job.readings.iter().find(|r| r.id.as_str() == id) {
                return Ok(found.clone());
            }
            self.phone.hear().await?;
            self.phone.offer().await?;
        }
    }

    async fn rows(&self) -> Result<i64> {
        self.shop
            .scratch
            .number("SELECT COUNT(*) FROM doc_change")
            .await
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn it_reads_follows_and_writes_a_book() -> Result<()> {
    let Some(node) = node() else { return Ok(()) };
    let mut bay = bay().await?;
    let mut peer = peer(&node, &bay).await?;
    let document = bay.phone.book.clone();

    // It sees the readings that are there.
    let names = peer
        .order(&json!({ "order": "names", "document": document, "path": ["readings"] }))
        .await?;
    assert_eq!(names["value"].as_array().map(Vec::len), Some(ENTERED));
    let first = &bay.car.readings[0];
    let seen = peer
        .order(&json!({ "order": "read", "document": document,
            "path": ["readings", first.id.as_str(), "taken"] }))
        .await?;
    assert_eq!(seen["value"]["kind"], first.taken.kind());

    // It follows one that a phone adds meanwhile.
    let added = reading(&bay.car, ENTERED, "from-the-phone")?;
    bay.phone.mean(&Intention::RecordReading {
        reading: added.clone(),
    })?;
    bay.phone.share().await?;
    let seen = peer
        .order(&json!({ "order": "read", "document": document,
            "path": ["readings", "from-the-phone", "taken", "kind"] }))
        .await?;
    assert_eq!(seen["value"], added.taken.kind());

    // It adds one of its own, under the actor that is registered for it, and the phone has it.
    peer.order(&json!({ "order": "become", "document": document, "actor": peer.actor }))
        .await?;
    let own = reading(&bay.car, ENTERED + 1, "from-the-peer")?;
    peer.order(&json!({ "order": "put", "document": document,
        "path": ["readings", "from-the-peer"], "value": record(&own, ENTERED + 1)? }))
        .await?;
    assert_eq!(bay.phone_has("from-the-peer").await?, own);
    let by_peer = format!(
        "SELECT COUNT(*) FROM doc_change WHERE actor = '{}'",
        peer.actor
    );
    let mut rows = bay.shop.scratch.connect().await?;
    let kept: i64 = sqlx::query_scalar(sqlx::AssertSqlSafe(by_peer))
        .fetch_one(&mut rows)
        .await?;
    assert_eq!(kept, 1);

    // A change of a kilobyte: the client could pack it, and sends it plain.
    let mut long = reading(&bay.car, ENTERED + 2, "with-a-long-word")?;
    long.note = "the hole is oval, read at its rear edge; ".repeat(40);
    peer.order(&json!({ "order": "put", "document": document,
        "path": ["readings", "with-a-long-word"], "value": record(&long, ENTERED + 2)? }))
        .await?;
    assert_eq!(bay.phone_has("with-a-long-word").await?, long);

    // Texts letter by letter, as the client writes by itself, read the same.
    let loose = reading(&bay.car, ENTERED + 3, "letter-by-letter")?;
    peer.order(&json!({ "order": "putLoose", "document": document,
        "path": ["readings", "letter-by-letter"],
        "value": without_nothing(record(&loose, ENTERED + 3)?) }))
        .await?;
    assert_eq!(bay.phone_has("letter-by-letter").await?, loose);
    bay.shop.running.stop().await
}

/// `null` and absent are the same in a book; the app writes neither.
fn without_nothing(mut record: Value) -> Value {
    if let Some(fields) = record.as_object_mut() {
        fields.retain(|_, value| !value.is_null());
    }
    record
}

#[tokio::test(flavor = "multi_thread")]
async fn both_hear_who_is_where() -> Result<()> {
    let Some(node) = node() else { return Ok(()) };
    let mut bay = bay().await?;
    let mut peer = peer(&node, &bay).await?;
    let document = bay.phone.book.clone();
    let words = json!({ "at": "left tower" });
    peer.order(&json!({ "order": "say", "document": document, "message": words }))
        .await?;
    let heard = loop {
        let frame = bay.phone.next().await?;
        if frame.kind == "ephemeral" {
            break frame;
        }
    };
    // The same words back, as somebody else's.
    bay.phone
        .send(&Frame {
            kind: "ephemeral".into(),
            sender: Some("phone".into()),
            target: Some("baybook".into()),
            document: Some(document),
            session: Some("phone's".into()),
            count: Some(1),
            data: heard.data,
            ..Frame::default()
        })
        .await?;
    let back = peer.order(&json!({ "order": "hear" })).await?;
    assert_eq!(back["message"], words);
    bay.shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_not_there_and_what_is_not_its_own_look_alike() -> Result<()> {
    let Some(node) = node() else { return Ok(()) };
    let bay = bay().await?;
    let stranger = bay
        .shop
        .other_shop("Elsewhere Bodies", "olga@elsewhere.example")
        .await?;
    let mut peer = StockClient::start(&node, &stranger).await?;
    let mut answers = Vec::new();
    for document in [document_id(), bay.phone.book.clone()] {
        let order = json!({ "order": "find", "document": document });
        answers.push(peer.order(&order).await?);
    }
    assert_eq!(answers[0]["found"], false);
    assert_eq!(answers[0], answers[1]);
    let says = answers[0]["says"].as_str().context("no words")?;
    assert!(says.contains("unavailable"), "{says}");
    let jobs: Vec<JobLine> = stranger.read("/api/jobs").await?;
    assert!(jobs.is_empty());
    bay.shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn the_gate_holds_for_it_too() -> Result<()> {
    let Some(node) = node() else { return Ok(()) };
    let mut bay = bay().await?;
    let document = bay.phone.book.clone();
    let first = bay.car.readings[0].id.to_string();
    let rows = bay.rows().await?;
    let new = record(&reading(&bay.car, ENTERED, "of-nobody")?, ENTERED)?;

    // Under the actor that the client made up by itself.
    let mut stranger = peer(&node, &bay).await?;
    stranger
        .order(&json!({ "order": "put", "document": document,
            "path": ["readings", "of-nobody"], "value": new }))
        .await?;
    let told = stranger.order(&json!({ "order": "told" })).await?;
    assert_eq!(told["document"], document);
    let says = told["message"].as_str().context("no words")?;
    assert!(
        says.starts_with("actor ") && !says.contains(&stranger.actor),
        "{says}"
    );

    // Under its own actor, but altering what is written once, in each way that the client knows.
    let value = json!(["readings", first, "taken", "value_mm"]);
    let by = json!(["readings", first, "by"]);
    let forbidden = [
        json!({ "order": "put", "path": value, "value": 1.5 }),
        json!({ "order": "put", "path": by, "value": "somebody else" }),
        json!({ "order": "remove", "path": ["readings", first] }),
        json!({ "order": "remove", "path": ["readings", first, "at"] }),
        json!({ "order": "put", "path": ["readings", first], "value": {} }),
    ];
    for mut order in forbidden {
        let mut forger = peer(&node, &bay).await?;
        forger
            .order(&json!({ "order": "become", "document": document, "actor": forger.actor }))
            .await?;
        order["document"] = document.clone().into();
        forger.order(&order).await?;
        let told = forger.order(&json!({ "order": "told" })).await?;
        assert_eq!(
            told["message"],
            format!("record readings/{first}"),
            "{order}"
        );
    }
    // The maps themselves stay too.
    let mut forger = peer(&node, &bay).await?;
    forger
        .order(&json!({ "order": "become", "document": document, "actor": forger.actor }))
        .await?;
    forger
        .order(&json!({ "order": "put", "document": document, "path": ["readings"], "value": {} }))
        .await?;
    let told = forger.order(&json!({ "order": "told" })).await?;
    assert_eq!(told["message"], "record readings");

    // Nothing of it is in the record, all of it is kept aside, and the phone works on.
    assert_eq!(bay.rows().await?, rows);
    let aside = "SELECT COUNT(*) FROM quarantine";
    assert_eq!(bay.shop.scratch.number(aside).await?, 7);
    let honest = reading(&bay.car, ENTERED, "honest")?;
    bay.phone
        .mean(&Intention::RecordReading { reading: honest })?;
    bay.phone.share().await?;
    let mut fresh = peer(&node, &bay).await?;
    fresh
        .order(&json!({ "order": "read", "document": document,
            "path": ["readings", "honest", "stage"] }))
        .await?;
    bay.shop.running.stop().await
}
