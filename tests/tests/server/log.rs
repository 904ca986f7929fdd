//! Looking into the log: by job, person, kind and time, page by page; the rule of two people.

use anyhow::{Context, Result};
use reqwest::StatusCode;
use serde_json::json;
use shared::proof::checkpoint::Checkpoint;
use shared::proof::leaf::Event;
use shared::proof::page::LogPage;
use shared::wire::{Code, Role, ShopRules};
use sqlx::{Connection, Executor};
use tests::database::Engine;
use tests::device::{Device, document_id};
use tests::shop::{Person, Shop, refusal};

async fn page(who: &Person, question: &str) -> Result<LogPage> {
    who.read(&format!("/api/log?{question}")).await
}

fn kinds(page: &LogPage) -> Vec<&'static str> {
    page.entries.iter().map(|leaf| leaf.event.kind()).collect()
}

async fn shared_book(who: &Person) -> Result<String> {
    let mut phone = Device::new(&document_id());
    phone.start_book()?;
    phone.connect(who).await?;
    phone.share().await?;
    Ok(phone.book)
}

async fn search_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    shop.clock.turn(60);
    let first = shared_book(&ana).await?;
    shop.clock.turn(60);
    let second = shared_book(&marta).await?;

    // The newest first, with a head that the log's key has signed.
    let all = page(&marta, "limit=200").await?;
    let head = Checkpoint::open(&all.head, &all.key.parse()?)?;
    assert_eq!((head.size, all.entries.len(), all.below), (12, 12, None));
    let places: Vec<u64> = all.entries.iter().map(|leaf| leaf.index).collect();
    assert_eq!(places, (0..12).rev().collect::<Vec<_>>());

    // What is asked for, and no more.
    let of_first = page(&marta, &format!("job={first}")).await?;
    assert_eq!(kinds(&of_first), ["changes-accepted", "job-created"]);
    let of_ana = page(&marta, &format!("person={}", ana.user()?)).await?;
    assert_eq!(
        kinds(&of_ana),
        [
            "changes-accepted",
            "job-created",
            "device-registered",
            "signed-in",
            "person-joined"
        ]
    );
    let both = page(&marta, &format!("job={second}&person={}", ana.user()?)).await?;
    assert_eq!(kinds(&both), Vec::<&str>::new());
    assert_eq!(
        kinds(&page(&marta, "kind=job-created").await?),
        ["job-created"; 2]
    );
    let minute = "after=2027-01-15T08:01:00Z&before=2027-01-15T09:02:00%2B01:00";
    let in_minute = page(&marta, minute).await?;
    assert!(
        in_minute
            .entries
            .iter()
            .all(|leaf| leaf.at_ms == 1_800_000_060_000)
    );
    assert_eq!(in_minute.entries.len(), 3);

    // Page by page it is the same, each entry once.
    let (mut below, mut seen) = (String::new(), Vec::new());
    loop {
        let next = page(&marta, &format!("limit=5{below}")).await?;
        seen.extend(next.entries);
        let Some(place) = next.below else { break };
        below = format!("&below={place}");
    }
    assert_eq!(seen, all.entries);

    // What is not of the form is named; a technician and another shop see nothing of it.
    for (question, field) in [
        ("kind=nonsense", Some("kind")),
        ("limit=0", Some("limit")),
        ("limit=201", Some("limit")),
        ("before=yesterday", Some("before")),
        ("after=1", Some("after")),
    ] {
        let answer = marta.get(&format!("/api/log?{question}")).await?;
        let (status, refusal) = refusal(answer).await?;
        assert_eq!(
            (status, refusal.subject.as_deref()),
            (StatusCode::BAD_REQUEST, field)
        );
    }
    let (status, _) = refusal(ana.get("/api/log").await?).await?;
    assert_eq!(status, StatusCode::FORBIDDEN);
    let olga = shop.other_shop("Other Works", "olga@other.example").await?;
    assert_eq!(
        kinds(&page(&olga, &format!("job={first}")).await?),
        Vec::<&str>::new()
    );

    // The rows that are searched are made from the entries: without them they come back.
    let mut database = shop.scratch.connect().await?;
    database
        .execute("DELETE FROM log_entry WHERE place > 2")
        .await?;
    database.close().await?;
    let shop = shop.cut_power().await?;
    let marta = marta.moved_to(shop.running.addr);
    let again = page(&marta, &format!("job={first}")).await?;
    assert_eq!(again.entries, of_first.entries);
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn search_on_sqlite() -> Result<()> {
    search_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn search_on_postgres() -> Result<()> {
    search_story(Engine::Postgres).await
}

/// An owner sets the rule; each change is one entry.
#[tokio::test(flavor = "multi_thread")]
async fn a_rule_is_set_by_owners_and_logged_once() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let two = json!({ "two_people": true });
    let (status, refused) = refusal(ana.post("/api/rules", &two).await?).await?;
    assert_eq!(
        (status, refused.code),
        (StatusCode::FORBIDDEN, Code::NotAllowed)
    );
    assert!(!ana.read::<ShopRules>("/api/rules").await?.two_people);
    for _ in 0..2 {
        let set = marta.post("/api/rules", &two).await?;
        assert_eq!(set.status(), StatusCode::NO_CONTENT);
    }
    assert!(ana.read::<ShopRules>("/api/rules").await?.two_people);
    let told = page(&marta, "kind=countersign-rule").await?;
    let told = told.entries.first().context("no entry")?;
    assert_eq!(told.event, Event::CountersignRule { two_people: true });
    assert_eq!(
        page(&marta, "kind=countersign-rule").await?.entries.len(),
        1
    );
    shop.running.stop().await
}
