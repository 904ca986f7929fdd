//! What every answer carries, who may ask from where, and the files of the app.

use anyhow::{Context, Result};
use reqwest::StatusCode;
use reqwest::header::CACHE_CONTROL;
use serde_json::json;
use shared::wire::Code;
use tests::database::Engine;
use tests::shop::{PASSWORD, Shop, refusal, set_cookie};

#[tokio::test(flavor = "multi_thread")]
async fn every_answer_is_locked_down() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    for path in [
        "/",
        "/job/anything",
        "/health",
        "/api/me",
        "/api/none",
        "/none.js",
    ] {
        let answer = shop.nobody().get(path).await?;
        let header = |name: &str| {
            answer
                .headers()
                .get(name)
                .and_then(|v| v.to_str().ok())
                .unwrap_or_default()
                .to_owned()
        };
        let policy = header("content-security-policy");
        assert!(
            policy.contains("default-src 'none'") && policy.contains("frame-ancestors 'none'"),
            "{path}: {policy}"
        );
        assert!(
            policy.contains("script-src 'self' 'wasm-unsafe-eval'"),
            "{path}: {policy}"
        );
        assert!(
            !policy.contains("unsafe-inline") && !policy.contains("http"),
            "{path}: {policy}"
        );
        assert_eq!(header("x-content-type-options"), "nosniff", "{path}");
        assert_eq!(header("referrer-policy"), "no-referrer", "{path}");
        assert_eq!(header("strict-transport-security"), "", "no TLS here");
    }
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn behind_tls_the_cookie_is_secure() -> Result<()> {
    let shop = Shop::start_at(Engine::Sqlite, Some("https://book.example")).await?;
    let link = shop.running.set_up_link.clone().context("no link")?;
    assert!(link.starts_with("https://book.example/#/setup/"), "{link}");
    let answer = shop.nobody().get("/").await?;
    assert!(answer.headers().contains_key("strict-transport-security"));
    shop.set_up().await?;
    let body = json!({ "email": "marta@shop.example", "password": PASSWORD });
    let answer = shop
        .nobody()
        .post_from("https://book.example", "/api/session", &body)
        .await?;
    let cookie = set_cookie(&answer).context("no cookie")?;
    for part in ["HttpOnly", "SameSite=Strict", "Secure", "Path=/api/session"] {
        assert!(cookie.contains(part), "{part} in {cookie}");
    }
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn other_sites_cannot_use_the_cookie() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    for origin in ["https://elsewhere.example", "null", "http://127.0.0.1:1"] {
        let answer = marta
            .post_from(origin, "/api/session/refresh", &json!({}))
            .await?;
        let (status, refused) = refusal(answer).await?;
        assert_eq!(
            (status, refused.code),
            (StatusCode::FORBIDDEN, Code::NotAllowed),
            "{origin}"
        );
    }
    let own = shop.url("");
    let answer = marta
        .post_from(&own, "/api/session/refresh", &json!({}))
        .await?;
    assert_eq!(answer.status(), StatusCode::OK);
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn bodies_are_bounded_and_strict() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let long = json!({ "email": "x".repeat(100_000), "password": PASSWORD });
    let (status, refused) = refusal(shop.nobody().post("/api/session", &long).await?).await?;
    assert_eq!(
        (status, refused.code),
        (StatusCode::PAYLOAD_TOO_LARGE, Code::TooLarge)
    );
    let odd = json!({ "email": "a@b.c", "password": PASSWORD, "admin": true });
    let (status, refused) = refusal(shop.nobody().post("/api/session", &odd).await?).await?;
    assert_eq!(
        (status, refused.code),
        (StatusCode::BAD_REQUEST, Code::BadRequest)
    );
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn pages_are_the_app_and_missing_files_are_missing() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let page = shop.nobody().get("/jobs/abc").await?;
    assert_eq!(page.status(), StatusCode::OK);
    assert_eq!(page.headers()[CACHE_CONTROL], "no-cache");
    assert!(
        page.text().await?.contains("<!doctype html>")
            || shop
                .nobody()
                .get("/")
                .await?
                .text()
                .await?
                .contains("<html")
    );
    assert_eq!(
        shop.nobody().get("/no-such-file.js").await?.status(),
        StatusCode::NOT_FOUND
    );
    assert_eq!(
        shop.nobody().get("/../Cargo.toml").await?.status(),
        StatusCode::NOT_FOUND
    );
    shop.running.stop().await
}
