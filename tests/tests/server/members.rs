//! Roles, leaving, devices and new passwords: what is taken away ends at once, and the log says so.

use anyhow::{Context, Result, bail};
use reqwest::StatusCode;
use serde_json::json;
use server::store::Exported;
use shared::ids::{DeviceId, ShopId, UserId};
use shared::proof::Seed;
use shared::proof::bundle::Bundle;
use shared::proof::leaf::Leaf;
use shared::proof::statement::possession;
use shared::sync::replay::verify;
use shared::wire::{Code, DeviceLine, Me, Person as Listed, ResetLink, Role};
use tests::database::Engine;
use tests::device::{Device, document_id};
use tests::shop::{PASSWORD, Person, Shop, refusal};

const REFUSED: (StatusCode, Code) = (StatusCode::UNAUTHORIZED, Code::SignInNeeded);
const LAST: (StatusCode, Code) = (StatusCode::CONFLICT, Code::LastOwner);

async fn code(answer: reqwest::Response) -> Result<(StatusCode, Code)> {
    let (status, refusal) = refusal(answer).await?;
    Ok((status, refusal.code))
}

async fn sign_in(shop: &Shop, email: &str, password: &str) -> Result<Person> {
    let body = json!({ "email": email, "password": password });
    shop.nobody().enter("/api/session", &body).await
}

/// The log of the shop that was set up first.
async fn export(shop: &Shop) -> Result<Bundle> {
    let store = &shop.running.app.store;
    let first = match store.export_log(None).await? {
        Exported::Bundle(bundle) => return Ok(*bundle),
        Exported::NoSuchShop(shops) => shops.into_iter().next().context("no shop")?.0,
    };
    match store.export_log(Some(&first)).await? {
        Exported::Bundle(bundle) => Ok(*bundle),
        Exported::NoSuchShop(_) => bail!("no log"),
    }
}

/// Kinds of the last entries, and the log as somebody elsewhere finds it.
async fn last_kinds(shop: &Shop, count: usize) -> Result<Vec<&'static str>> {
    let bundle = export(shop).await?;
    assert_eq!(verify(&bundle).fault, None);
    let kinds = bundle.leaves[bundle.leaves.len() - count..].iter();
    kinds
        .map(|leaf| Ok(Leaf::parse(leaf.text.as_bytes())?.event.kind()))
        .collect()
}

/// A phone with a book that is shared.
async fn phone_of(who: &Person) -> Result<Device> {
    let mut phone = Device::new(&document_id());
    phone.start_book()?;
    phone.connect(who).await?;
    phone.share().await?;
    Ok(phone)
}

async fn register_key(who: &Person, device: &str, seed: &Seed) -> Result<StatusCode> {
    let me = &who.session.as_ref().context("not signed in")?.me;
    let (shop, user): (ShopId, UserId) = (me.shop.parse()?, me.user.parse()?);
    let words = possession(&shop, &user, &device.parse::<DeviceId>()?);
    let body = json!({
        "device": device,
        "key": seed.public().to_string(),
        "signature": seed.sign(words.as_bytes()).to_string(),
    });
    Ok(who.post("/api/keys", &body).await?.status())
}

async fn removal_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let mut phone = phone_of(&ana).await?;
    assert_eq!(
        register_key(&ana, &phone.device, &Seed::new(&[1; 32])).await?,
        StatusCode::NO_CONTENT
    );
    let ticket = ana.ticket(&phone.device, &[]).await?;
    let path = format!("/api/people/{}", ana.user()?);

    // Of a shop without her nobody is found out.
    let olga = shop.other_shop("Other Works", "olga@other.example").await?;
    let foreign = code(olga.delete(&path).await?).await?;
    assert_eq!(foreign, (StatusCode::NOT_FOUND, Code::NotFound));
    let not_hers = code(ana.delete(&path).await?).await?;
    assert_eq!(not_hers, (StatusCode::FORBIDDEN, Code::NotAllowed));

    // She is removed: token, cookie, ticket, line, key and password end at once.
    assert_eq!(marta.delete(&path).await?.status(), StatusCode::NO_CONTENT);
    assert_eq!(phone.wait_for_end().await?, "access has ended");
    assert_eq!(code(ana.get("/api/jobs").await?).await?, REFUSED);
    assert!(
        ana.clone()
            .enter("/api/session/refresh", &json!({}))
            .await
            .is_err()
    );
    let mut late = Device::new(&phone.book);
    assert!(late.connect_with(ana.addr, &ticket.ticket).await.is_err());
    assert!(sign_in(&shop, "ana@shop.example", PASSWORD).await.is_err());
    let live_keys = "SELECT COUNT(*) FROM device_key WHERE ended_at_ms IS NULL";
    assert_eq!(shop.scratch.number(live_keys).await?, 0);
    let again = code(marta.delete(&path).await?).await?;
    assert_eq!(again, (StatusCode::NOT_FOUND, Code::NotFound));
    let everybody: Vec<Listed> = marta.read("/api/people").await?;
    assert!(everybody[1].removed_at.is_some() && everybody[1].email.is_empty());

    // She comes back as somebody new, with the address that is free again.
    let back = shop.join(&marta, "ana", Role::Technician).await?;
    assert_ne!(back.user()?, ana.user()?);
    assert_eq!(
        last_kinds(&shop, 4).await.context("the log")?,
        [
            "person-removed",
            "person-invited",
            "person-joined",
            "signed-in"
        ]
    );
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn removal_on_sqlite() -> Result<()> {
    removal_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn removal_on_postgres() -> Result<()> {
    removal_story(Engine::Postgres).await
}

async fn roles_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let role_of = |who: &Person| anyhow::Ok(format!("/api/people/{}/role", who.user()?));
    let technician = json!({ "role": "technician" });

    // The only owner stays one.
    let own = role_of(&marta)?;
    assert_eq!(code(marta.post(&own, &technician).await?).await?, LAST);
    let leaves = marta
        .delete(&format!("/api/people/{}", marta.user()?))
        .await?;
    assert_eq!(code(leaves).await?, LAST);

    // With a second one, either may go; the right is gone with the next request.
    let owner = json!({ "role": "owner" });
    let made = marta.post(&role_of(&ana)?, &owner).await?;
    assert_eq!(made.status(), StatusCode::NO_CONTENT);
    assert_eq!(ana.read::<Me>("/api/me").await?.role, Role::Owner);
    // An invitation and a reset of an owner who is one no more are good no more.
    let invitation: shared::wire::Invitation = marta
        .post("/api/invitations", &technician)
        .await?
        .json()
        .await?;
    let gone = ana.post(&own, &technician).await?;
    assert_eq!(gone.status(), StatusCode::NO_CONTENT);
    let refused = code(marta.get("/api/people").await?).await?;
    assert_eq!(refused, (StatusCode::FORBIDDEN, Code::NotAllowed));
    let token = invitation.link.rsplit('/').next().context("no token")?;
    let body =
        json!({ "token": token, "name": "Ben", "email": "ben@x.example", "password": PASSWORD });
    let void = shop.nobody().post("/api/invitations/accept", &body).await?;
    assert_eq!(code(void).await?, (StatusCode::GONE, Code::LinkInvalid));
    // The same role again is no entry.
    let same = ana.post(&own, &technician).await?;
    assert_eq!(same.status(), StatusCode::NO_CONTENT);
    assert_eq!(
        last_kinds(&shop, 3).await?,
        ["role-changed", "person-invited", "role-changed"]
    );

    // Two owners who take the role from each other at the same moment leave one.
    ana.post(&own, &owner).await?;
    let hers = role_of(&ana)?;
    let (first, second) = tokio::join!(ana.post(&own, &technician), marta.post(&hers, &technician));
    let done = [first?, second?].map(|answer| answer.status().is_success());
    assert_eq!(done.iter().filter(|done| **done).count(), 1, "{done:?}");
    let owners = "SELECT COUNT(*) FROM \"user\" WHERE role = 'owner'";
    assert_eq!(shop.scratch.number(owners).await?, 1);
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn roles_on_sqlite() -> Result<()> {
    roles_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn roles_on_postgres() -> Result<()> {
    roles_story(Engine::Postgres).await
}

async fn devices_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let elsewhere = sign_in(&shop, "ana@shop.example", PASSWORD).await?;
    let mut phone = phone_of(&ana).await?;
    let mut tablet = phone_of(&elsewhere).await?;
    shop.clock.turn(1);
    ana.ticket(&phone.device, &[]).await?;
    register_key(&ana, &phone.device, &Seed::new(&[1; 32])).await?;
    let mine: Vec<DeviceLine> = ana.read("/api/devices").await?;
    let listed: Vec<_> = mine
        .iter()
        .map(|line| (line.device.as_str(), line.has_key))
        .collect();
    assert_eq!(
        listed,
        [
            (phone.device.as_str(), true),
            (tablet.device.as_str(), false)
        ]
    );
    let of_ana = format!("/api/people/{}/devices", ana.user()?);
    assert_eq!(marta.read::<Vec<DeviceLine>>(&of_ana).await?, mine);

    // Nobody takes another's device but an owner.
    let own = format!("/api/devices/{}", phone.device);
    let not_hers = code(marta.delete(&own).await?).await?;
    assert_eq!(not_hers, (StatusCode::NOT_FOUND, Code::NotFound));
    let revoked = marta.delete(&format!("{of_ana}/{}", phone.device)).await?;
    assert_eq!(revoked.status(), StatusCode::NO_CONTENT);
    assert_eq!(phone.wait_for_end().await?, "access has ended");
    assert_eq!(code(ana.get("/api/me").await?).await?, REFUSED);
    assert!(
        ana.clone()
            .enter("/api/session/refresh", &json!({}))
            .await
            .is_err()
    );

    // Her other device works on, and cannot pass for the revoked one.
    tablet.mean(&shared::book::Intention::WriteNote {
        id: "n1".into(),
        text: "works on".into(),
    })?;
    tablet.share().await?;
    let body = json!({ "device": phone.device, "actors": [] });
    assert_eq!(
        code(elsewhere.post("/api/ticket", &body).await?).await?,
        REFUSED
    );
    let found: Vec<DeviceLine> = elsewhere.read("/api/devices").await?;
    assert!(found[0].revoked_at.is_some() && !found[0].has_key);

    // Found again: after a new sign-in on it, it is a device like any other.
    shop.clock.turn(60);
    let again = sign_in(&shop, "ana@shop.example", PASSWORD).await?;
    phone.connect(&again).await?;
    phone.share().await?;
    assert_eq!(
        register_key(&again, &phone.device, &Seed::new(&[1; 32])).await?,
        StatusCode::NO_CONTENT
    );
    // One's own.
    let gone = again
        .delete(&format!("/api/devices/{}", tablet.device))
        .await?;
    assert_eq!(gone.status(), StatusCode::NO_CONTENT);
    assert_eq!(tablet.wait_for_end().await?, "access has ended");
    assert_eq!(again.get("/api/me").await?.status(), StatusCode::OK);
    assert_eq!(
        last_kinds(&shop, 6).await?,
        [
            "device-revoked",
            "changes-accepted",
            "signed-in",
            "device-registered",
            "device-registered",
            "device-revoked"
        ]
    );
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn devices_on_sqlite() -> Result<()> {
    devices_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn devices_on_postgres() -> Result<()> {
    devices_story(Engine::Postgres).await
}

async fn reset_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let mut phone = phone_of(&ana).await?;
    let path = format!("/api/people/{}/reset", ana.user()?);
    let make = async || {
        let answer = marta.post(&path, &json!({})).await?;
        assert_eq!(answer.status(), StatusCode::CREATED);
        let link: ResetLink = answer.json().await?;
        let token = link.link.rsplit('/').next().context("no token")?;
        anyhow::Ok(token.to_owned())
    };
    let choose = async |token: &str, password: &str| {
        let body = json!({ "token": token, "password": password });
        shop.nobody().post("/api/reset", &body).await
    };
    const GONE: (StatusCode, Code) = (StatusCode::GONE, Code::LinkInvalid);
    let first = make().await?;
    let second = make().await?;
    assert_eq!(
        code(choose(&first, "a new password").await?).await?,
        GONE,
        "only the newest"
    );
    let short = refusal(choose(&second, "short").await?).await?;
    assert_eq!(short.1.subject.as_deref(), Some("password"));

    // It works once; whoever was signed in is out, the old password too.
    let chosen = choose(&second, "a new password").await?;
    assert_eq!(chosen.status(), StatusCode::OK);
    assert_eq!(phone.wait_for_end().await?, "access has ended");
    assert_eq!(code(ana.get("/api/me").await?).await?, REFUSED);
    assert!(
        ana.clone()
            .enter("/api/session/refresh", &json!({}))
            .await
            .is_err()
    );
    assert!(sign_in(&shop, "ana@shop.example", PASSWORD).await.is_err());
    sign_in(&shop, "ana@shop.example", "a new password").await?;
    assert_eq!(
        code(choose(&second, "another password").await?).await?,
        GONE
    );
    // The secret itself is nowhere.
    let kept = "SELECT COUNT(*) FROM reset_link WHERE LENGTH(token_hash) = 32";
    assert_eq!(shop.scratch.number(kept).await?, 1);

    // A day later it has run out; of somebody who was removed it is worth nothing.
    let late = make().await?;
    shop.clock.turn(24 * 60 * 60);
    assert_eq!(code(choose(&late, "a new password").await?).await?, GONE);
    let marta = sign_in(&shop, "marta@shop.example", PASSWORD).await?;
    let token: ResetLink = marta.post(&path, &json!({})).await?.json().await?;
    let token = token
        .link
        .rsplit('/')
        .next()
        .context("no token")?
        .to_owned();
    marta
        .delete(&format!("/api/people/{}", ana.user()?))
        .await?;
    assert_eq!(code(choose(&token, "a new password").await?).await?, GONE);
    assert_eq!(
        last_kinds(&shop, 3).await?,
        ["signed-in", "reset-link-made", "person-removed"]
    );
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn reset_on_sqlite() -> Result<()> {
    reset_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn reset_on_postgres() -> Result<()> {
    reset_story(Engine::Postgres).await
}

/// A token shown twice ends the session, and with it what is open.
#[tokio::test(flavor = "multi_thread")]
async fn a_session_that_ends_takes_its_lines_and_tokens_along() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    let mut phone = phone_of(&marta).await?;
    let second = marta
        .clone()
        .enter("/api/session/refresh", &json!({}))
        .await?;
    let third = second
        .clone()
        .enter("/api/session/refresh", &json!({}))
        .await?;
    assert_eq!(third.get("/api/me").await?.status(), StatusCode::OK);
    assert!(
        marta
            .clone()
            .enter("/api/session/refresh", &json!({}))
            .await
            .is_err()
    );
    assert_eq!(phone.wait_for_end().await?, "access has ended");
    assert_eq!(code(third.get("/api/me").await?).await?, REFUSED);

    let again = sign_in(&shop, "marta@shop.example", PASSWORD).await?;
    phone.connect(&again).await?;
    again.delete("/api/session").await?;
    assert_eq!(phone.wait_for_end().await?, "access has ended");
    assert_eq!(code(again.get("/api/me").await?).await?, REFUSED);
    shop.running.stop().await
}
