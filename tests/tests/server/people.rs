//! Setting up, signing in, joining, staying signed in.

use anyhow::{Context, Result};
use reqwest::header::HeaderMap;
use reqwest::{Method, StatusCode};
use serde_json::json;
use shared::wire::{Code, Me, Person as Listed, Role};
use tests::database::Engine;
use tests::shop::{PASSWORD, Person, Shop, refusal};

async fn code(answer: reqwest::Response) -> Result<(StatusCode, Code)> {
    let (status, refusal) = refusal(answer).await?;
    Ok((status, refusal.code))
}

async fn sign_in(who: &Person, email: &str, password: &str) -> Result<reqwest::Response> {
    who.post(
        "/api/session",
        &json!({ "email": email, "password": password }),
    )
    .await
}

async fn people_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let me: Me = marta.read("/api/me").await?;
    assert_eq!(
        (me.role, me.shop_name.as_str()),
        (Role::Owner, "Test Body Works")
    );

    // The link works once.
    assert!(shop.set_up().await.is_err());

    // A technician joins; the invitation works once.
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let everybody: Vec<Listed> = marta.read("/api/people").await?;
    let names: Vec<_> = everybody
        .iter()
        .map(|p| (p.name.as_str(), p.role))
        .collect();
    assert_eq!(names, [("Marta", Role::Owner), ("ana", Role::Technician)]);

    // A technician is no owner, nobody is no member.
    let refused = code(ana.get("/api/people").await?).await?;
    assert_eq!(refused, (StatusCode::FORBIDDEN, Code::NotAllowed));
    let refused = code(shop.nobody().get("/api/jobs").await?).await?;
    assert_eq!(refused, (StatusCode::UNAUTHORIZED, Code::SignInNeeded));

    // Whatever is wrong, the answer is the same.
    for (email, password) in [
        ("ana@shop.example", "not the password"),
        ("nobody@shop.example", PASSWORD),
        ("ana@shop.example", "short"),
        ("no address", PASSWORD),
    ] {
        let refused = code(sign_in(&shop.nobody(), email, password).await?).await?;
        assert_eq!(
            refused,
            (StatusCode::UNAUTHORIZED, Code::WrongCredentials),
            "{email}"
        );
    }
    let good = sign_in(&shop.nobody(), " ANA@shop.example", PASSWORD).await?;
    assert_eq!(good.status(), StatusCode::OK);

    // The access token ends after ten minutes; the cookie brings a new one.
    shop.clock.turn(601);
    let refused = code(ana.get("/api/me").await?).await?;
    assert_eq!(refused, (StatusCode::UNAUTHORIZED, Code::SignInNeeded));
    let ana = ana.enter("/api/session/refresh", &json!({})).await?;
    assert_eq!(ana.read::<Me>("/api/me").await?.name, "ana");

    // Signing out ends it.
    let out = ana
        .send(
            Method::DELETE,
            "/api/session",
            None::<&()>,
            HeaderMap::new(),
        )
        .await?;
    assert_eq!(out.status(), StatusCode::NO_CONTENT);
    assert!(ana.enter("/api/session/refresh", &json!({})).await.is_err());
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn people_on_sqlite() -> Result<()> {
    people_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn people_on_postgres() -> Result<()> {
    people_story(Engine::Postgres).await
}

async fn reuse_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let first = shop.set_up().await?;
    let refresh = async |who: &Person| who.clone().enter("/api/session/refresh", &json!({})).await;

    // A lost answer: the same token again, while its successor was never shown.
    let lost = refresh(&first).await?;
    let second = refresh(&first).await?;
    let third = refresh(&second).await?;

    // An old token comes back: everybody of this sign-in is out.
    assert!(refresh(&first).await.is_err());
    assert!(refresh(&third).await.is_err(), "the newest is revoked too");
    assert!(refresh(&lost).await.is_err());
    assert_eq!(
        shop.scratch
            .number("SELECT COUNT(*) FROM log_entry WHERE kind = 'session-reused'")
            .await?,
        3
    );

    // The successor whose answer was lost turns up after all: a second holder, so all are out.
    let body = json!({ "email": "marta@shop.example", "password": PASSWORD });
    let first = shop.nobody().enter("/api/session", &body).await?;
    let lost = refresh(&first).await?;
    let second = refresh(&first).await?;
    assert!(refresh(&lost).await.is_err());
    assert!(refresh(&second).await.is_err());

    // Thirty days unused end it too.
    let body = json!({ "email": "marta@shop.example", "password": PASSWORD });
    let first = shop.nobody().enter("/api/session", &body).await?;
    shop.clock.turn(30 * 24 * 60 * 60);
    assert!(refresh(&first).await.is_err());
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn reuse_on_sqlite() -> Result<()> {
    reuse_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn reuse_on_postgres() -> Result<()> {
    reuse_story(Engine::Postgres).await
}

#[tokio::test(flavor = "multi_thread")]
async fn guessing_runs_dry() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    shop.set_up().await?;
    let guess = || sign_in_code(&shop, "marta@shop.example", "guess after guess");
    for _ in 0..10 {
        assert_eq!(guess().await?, Code::WrongCredentials);
    }
    assert_eq!(guess().await?, Code::TooMany);
    // Even the right one has to wait; a minute later there is one more try.
    let nobody = shop.nobody();
    let right = || sign_in(&nobody, "marta@shop.example", PASSWORD);
    assert_eq!(right().await?.status(), StatusCode::TOO_MANY_REQUESTS);
    shop.clock.turn(60);
    assert_eq!(right().await?.status(), StatusCode::OK);
    // One address cannot try one account after another either.
    let mut last = Code::WrongCredentials;
    for n in 0..40 {
        last = sign_in_code(&shop, &format!("{n}@shop.example"), "guess after guess").await?;
    }
    assert_eq!(last, Code::TooMany);
    shop.running.stop().await
}

async fn sign_in_code(shop: &Shop, email: &str, password: &str) -> Result<Code> {
    Ok(code(sign_in(&shop.nobody(), email, password).await?)
        .await?
        .1)
}

#[tokio::test(flavor = "multi_thread")]
async fn an_invitation_works_once_and_for_a_week() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    let invite = || async {
        let answer = marta
            .clone()
            .enter(
                "/api/session",
                &json!({ "email": "marta@shop.example", "password": PASSWORD }),
            )
            .await?
            .post("/api/invitations", &json!({ "role": "technician" }))
            .await?;
        let invitation: shared::wire::Invitation = answer.json().await?;
        let token = invitation.link.rsplit('/').next().context("no token")?;
        anyhow::Ok(token.to_owned())
    };
    let accept = |token: String, email: &'static str, password: &'static str| {
        let nobody = shop.nobody();
        async move {
            let body =
                json!({ "token": token, "name": "Jonas", "email": email, "password": password });
            nobody.post("/api/invitations/accept", &body).await
        }
    };
    let token = invite().await?;
    // Mistakes do not use the link up.
    let (status, wrong) = refusal(accept(token.clone(), "j@shop.example", "short").await?).await?;
    assert_eq!(
        (status, wrong.subject.as_deref()),
        (StatusCode::BAD_REQUEST, Some("password"))
    );
    let (status, wrong) =
        refusal(accept(token.clone(), "marta@shop.example", PASSWORD).await?).await?;
    assert_eq!(
        (status, wrong.code, wrong.subject.as_deref()),
        (StatusCode::CONFLICT, Code::Taken, Some("email"))
    );
    assert_eq!(
        accept(token.clone(), "j@shop.example", PASSWORD)
            .await?
            .status(),
        StatusCode::OK
    );
    let again = code(accept(token, "k@shop.example", PASSWORD).await?).await?;
    assert_eq!(again, (StatusCode::GONE, Code::LinkInvalid));
    let token = invite().await?;
    shop.clock.turn(7 * 24 * 60 * 60);
    let late = code(accept(token, "k@shop.example", PASSWORD).await?).await?;
    assert_eq!(late, (StatusCode::GONE, Code::LinkInvalid));
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn an_actor_belongs_to_one_person() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let device = "01ARZ3NDEKTSV4RRFFQ69G5FAV";
    marta.ticket(device, &["00aa".into()]).await?;
    marta
        .ticket(device, &["00aa".into(), "00bb".into()])
        .await?;
    let body = json!({ "device": device, "actors": ["00cc", "00aa"] });
    let (status, taken) = refusal(ana.post("/api/ticket", &body).await?).await?;
    assert_eq!(
        (status, taken.code, taken.subject.as_deref()),
        (StatusCode::CONFLICT, Code::Taken, Some("00aa"))
    );
    // Nothing of the refused request was kept.
    marta.ticket(device, &["00cc".into()]).await?;
    for (device, actor) in [("phone", "00"), (device, "0g"), (device, "")] {
        let body = json!({ "device": device, "actors": [actor] });
        let refused = code(ana.post("/api/ticket", &body).await?).await?;
        assert_eq!(refused, (StatusCode::BAD_REQUEST, Code::BadRequest));
    }
    shop.running.stop().await
}
