//! Links for adjusters: one job, read only, live, until they run out or are taken back.

use anyhow::{Context, Result};
use automerge::ROOT;
use automerge::transaction::Transactable;
use reqwest::StatusCode;
use serde_json::json;
use server::store::Exported;
use shared::book::Intention;
use shared::job::Card;
use shared::sync::replay::verify;
use shared::wire::{AdjusterLink, Code, Follow, LinkLine, Role};
use tests::database::Engine;
use tests::device::{Device, document_id};
use tests::shop::{Person, Shop, refusal};

const GONE: (StatusCode, Code) = (StatusCode::GONE, Code::LinkInvalid);

async fn code(answer: reqwest::Response) -> Result<(StatusCode, Code)> {
    let (status, refusal) = refusal(answer).await?;
    Ok((status, refusal.code))
}

/// The card with this number.
fn number(text: &str) -> Intention {
    Intention::DescribeJob {
        card: Card {
            number: text.into(),
            ..Card::default()
        },
    }
}

/// Makes a link; its id and its secret.
async fn make(who: &Person, book: &str, days: u32) -> Result<(String, String)> {
    let body = json!({ "label": "Nordic Insurance, B. Holm", "days": days });
    let answer = who.post(&format!("/api/jobs/{book}/links"), &body).await?;
    assert_eq!(answer.status(), StatusCode::CREATED);
    let made: AdjusterLink = answer.json().await?;
    let token = made
        .link
        .strip_prefix("/#/follow/")
        .context("no secret in the fragment")?;
    Ok((made.id, token.to_owned()))
}

async fn follow(shop: &Shop, token: &str) -> Result<reqwest::Response> {
    shop.nobody()
        .post("/api/follow", &json!({ "token": token }))
        .await
}

/// An adjuster's replica, on the line.
async fn adjuster(shop: &Shop, token: &str) -> Result<(Device, Follow)> {
    let follow: Follow = follow(shop, token).await?.json().await?;
    let mut screen = Device::new(&follow.book);
    screen
        .connect_with(shop.running.addr, &follow.ticket)
        .await?;
    Ok((screen, follow))
}

/// Hears until the replica has this number.
async fn until(screen: &mut Device, text: &str) -> Result<()> {
    while screen.job()?.card.number != text {
        screen.offer().await?;
        screen.hear().await?;
    }
    Ok(())
}

async fn link_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let mut phone = Device::new(&document_id());
    phone.start_book()?;
    phone.mean(&number("first"))?;
    phone.connect(&ana).await?;
    phone.share().await?;
    let mut other = Device::new(&document_id());
    other.start_book()?;
    other.connect(&ana).await?;
    other.share().await?;

    // Made by a technician; of a book that is there, for a time that ends.
    let path = format!("/api/jobs/{}/links", phone.book);
    let refused = async |path: &str, label: &str, days: u32| {
        let body = json!({ "label": label, "days": days });
        let (status, refusal) = refusal(ana.post(path, &body).await?).await?;
        anyhow::Ok((status, refusal.subject))
    };
    let bad = |field: &str| (StatusCode::BAD_REQUEST, Some(field.to_owned()));
    assert_eq!(refused(&path, " ", 7).await?, bad("label"));
    assert_eq!(refused(&path, "Holm", 0).await?, bad("days"));
    assert_eq!(refused(&path, "Holm", 366).await?, bad("days"));
    let nowhere = format!("/api/jobs/{}/links", document_id());
    assert_eq!(
        refused(&nowhere, "Holm", 7).await?,
        (StatusCode::NOT_FOUND, None)
    );
    let (link, token) = make(&ana, &phone.book, 7).await?;
    let hashed = "SELECT COUNT(*) FROM adjuster_link WHERE LENGTH(token_hash) = 32";
    assert_eq!(shop.scratch.number(hashed).await?, 1);

    // The adjuster reads the job, live, and nothing else.
    let (mut screen, opened) = adjuster(&shop, &token).await?;
    assert_eq!(
        (opened.book.as_str(), opened.shop_name.as_str()),
        (phone.book.as_str(), "Test Body Works")
    );
    until(&mut screen, "first").await?;
    phone.mean(&number("second"))?;
    phone.share().await?;
    until(&mut screen, "second").await?;
    let mut curious = Device::new(&other.book);
    let again: Follow = follow(&shop, &token).await?.json().await?;
    curious
        .connect_with(shop.running.addr, &again.ticket)
        .await?;
    curious.offer().await?;
    assert_eq!(curious.hear().await?, "doc-unavailable");

    // What it writes is dropped without a word; what others write comes all the same.
    screen.doc.put(ROOT, "mine", 1)?;
    screen.doc.commit();
    screen.offer().await?;
    phone.mean(&number("third"))?;
    phone.share().await?;
    until(&mut screen, "third").await?;
    let mut fresh = Device::new(&phone.book);
    fresh.connect(&marta).await?;
    until(&mut fresh, "third").await?;
    assert_eq!(fresh.read("mine")?, None);
    assert_eq!(
        shop.scratch
            .number("SELECT COUNT(*) FROM quarantine")
            .await?,
        0
    );

    // Its token opens its own routes and no member's; a member's does not open its.
    let as_adjuster = shop.nobody();
    let signed: Vec<String> = as_adjuster
        .with_token(&opened.access_token)
        .read("/api/follow/statements")
        .await?;
    assert_eq!(signed, Vec::<String>::new());
    let refused = code(
        as_adjuster
            .with_token(&opened.access_token)
            .get("/api/jobs")
            .await?,
    )
    .await?;
    assert_eq!(refused, (StatusCode::UNAUTHORIZED, Code::SignInNeeded));
    let refused = code(marta.get("/api/follow/statements").await?).await?;
    assert_eq!(refused, (StatusCode::UNAUTHORIZED, Code::SignInNeeded));

    // Listed with who made it and when it was opened; taken back by anybody of the shop, at once.
    let lines: Vec<LinkLine> = marta.read(&path).await?;
    assert_eq!((lines.len(), lines[0].made_by.as_str()), (1, "ana"));
    assert!(lines[0].last_used_at.is_some() && lines[0].revoked_at.is_none());
    let olga = shop.other_shop("Other Works", "olga@other.example").await?;
    let foreign = code(olga.delete(&format!("/api/links/{link}")).await?).await?;
    assert_eq!(foreign, (StatusCode::NOT_FOUND, Code::NotFound));
    assert_eq!(olga.read::<Vec<LinkLine>>("/api/links").await?, []);
    let unused: Follow = follow(&shop, &token).await?.json().await?;
    for _ in 0..2 {
        let taken_back = marta.delete(&format!("/api/links/{link}")).await?;
        assert_eq!(taken_back.status(), StatusCode::NO_CONTENT);
    }
    assert_eq!(screen.wait_for_end().await?, "access has ended");
    assert_eq!(code(follow(&shop, &token).await?).await?, GONE);
    let mut late = Device::new(&phone.book);
    assert!(
        late.connect_with(shop.running.addr, &unused.ticket)
            .await
            .is_err()
    );
    let refused = as_adjuster
        .with_token(&opened.access_token)
        .get("/api/follow/statements")
        .await?;
    assert_eq!(code(refused).await?, GONE);
    assert!(
        marta.read::<Vec<LinkLine>>("/api/links").await?[0]
            .revoked_at
            .is_some()
    );

    // Another runs out by itself, also for whoever has it open.
    let (_, token) = make(&marta, &phone.book, 1).await?;
    let (mut screen, _) = adjuster(&shop, &token).await?;
    until(&mut screen, "third").await?;
    shop.clock.turn(24 * 60 * 60);
    assert_eq!(code(follow(&shop, &token).await?).await?, GONE);
    phone.mean(&number("fourth"))?;
    phone.share().await?;
    assert_eq!(screen.wait_for_end().await?, "access has ended");

    let shop_id = &marta.session.as_ref().context("not signed in")?.me.shop;
    let store = &shop.running.app.store;
    let Exported::Bundle(bundle) = store.export_log(Some(shop_id)).await? else {
        anyhow::bail!("no log");
    };
    assert_eq!(verify(&bundle).fault, None);
    let leaves = bundle.leaves.iter();
    let count = |kind: &str| {
        leaves
            .clone()
            .filter(|leaf| leaf.text.contains(kind))
            .count()
    };
    assert_eq!((count("\"link-made\""), count("\"link-revoked\"")), (2, 1));
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn links_on_sqlite() -> Result<()> {
    link_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn links_on_postgres() -> Result<()> {
    link_story(Engine::Postgres).await
}

/// Secrets cannot be guessed for long.
#[tokio::test(flavor = "multi_thread")]
async fn guessing_links_runs_dry() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let mut last = GONE;
    for n in 0..40 {
        last = code(follow(&shop, &format!("guess-{n}")).await?).await?;
    }
    assert_eq!(last, (StatusCode::TOO_MANY_REQUESTS, Code::TooMany));
    shop.running.stop().await
}
