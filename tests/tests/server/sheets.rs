//! The dimension library: revisions that never change, on both databases, in the log, in a backup.

use anyhow::Result;
use reqwest::StatusCode;
use serde_json::{Value, json};
use server::store::Exported;
use shared::book::Intention;
use shared::library::{SheetLine, digest, parse, starting, write};
use shared::sync::replay::verify;
use shared::wire::{Code, Role};
use tests::database::Engine;
use tests::shop::{Shop, refusal};

/// A sheet of an invented hatch; the height of its left tower is given.
fn file(height_mm: f64) -> Value {
    let point = |side: &str, mirror: &str, y_mm: f64, z_mm: f64| {
        json!({
            "label": "strut tower", "side": side, "mirror": mirror,
            "target_mm": [-61.0, y_mm, z_mm], "spread_mm": [0.5, 0.5, 0.5],
        })
    };
    json!({ "format": "baybook-sheet/1", "sheet": {
        "name": "demo hatch", "revision": 9,
        "body": { "maker": "Weide", "model": "Bach", "years": { "from": 2019, "to": 2024 }, "vin": "ZZZHB*" },
        "origin": { "kind": "manual", "source": "invented", "by": "somebody else", "at": "2001-01-01T00:00:00Z" },
        "points": {
            "tower-L": point("left", "tower-R", -545.0, height_mm),
            "tower-R": point("right", "tower-L", 545.0, 838.5),
        },
    } })
}

async fn revisions_stay(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;

    let made = marta.post("/api/sheets", &file(838.5)).await?;
    assert_eq!(made.status(), StatusCode::CREATED);
    let first: SheetLine = made.json().await?;
    // Number, author and time are the server's to say.
    assert_eq!((first.revision, first.summary.points), (1, 2));
    assert_ne!(first.summary.by, "somebody else");
    let revise = format!("/api/sheets/{}/revisions", first.id);
    let made = marta
        .post(&format!("{revise}?after=1"), &file(839.0))
        .await?;
    assert_eq!(made.status(), StatusCode::CREATED);
    let second: SheetLine = made.json().await?;
    assert_eq!((&second.id, second.revision), (&first.id, 2));
    assert_ne!(first.digest, second.digest);

    // Who worked on an older revision is told, and nothing is overwritten.
    let late = marta
        .post(&format!("{revise}?after=1"), &file(840.0))
        .await?;
    let (status, why) = refusal(late).await?;
    assert_eq!((status, why.code), (StatusCode::CONFLICT, Code::Taken));

    // Everybody of the shop reads each as it was written, with its digest.
    let listed: Vec<SheetLine> = ana.read("/api/sheets").await?;
    assert_eq!(listed, std::slice::from_ref(&second));
    let listed: Vec<SheetLine> = ana.read(&revise).await?;
    assert_eq!(listed, [second.clone(), first.clone()]);
    for (line, height_mm) in [(&first, 838.5), (&second, 839.0)] {
        let path = format!("{revise}/{}", line.revision);
        let text = ana.get(&path).await?.text().await?;
        let sheet = parse(&text).map_err(|refusals| anyhow::anyhow!("{refusals:?}"))?;
        assert_eq!(digest(&sheet).to_string(), line.digest);
        assert_eq!(write(&sheet), text);
        let tower = sheet.points.values().next().map(|point| point.target_mm[2]);
        assert_eq!(tower, Some(height_mm));
        assert!(*sheet.origin.at > *"2020", "{}", sheet.origin.at);
    }
    assert_eq!(
        ana.get(&format!("{revise}/3")).await?.status(),
        StatusCode::NOT_FOUND
    );

    // The log says who revised what, with the digest, and holds.
    let Exported::Bundle(bundle) = shop.running.app.store.export_log(None).await? else {
        anyhow::bail!("no log");
    };
    let report = verify(&bundle);
    assert!(report.fault.is_none(), "{:?}", report.fault);
    let log: Value = marta.read("/api/log?kind=sheet-revised").await?;
    let entries = log["entries"].as_array().map_or(0, Vec::len);
    assert_eq!(entries, 2, "{log}");
    assert!(log.to_string().contains(&second.digest));
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn revisions_stay_on_sqlite() -> Result<()> {
    revisions_stay(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn revisions_stay_on_postgres() -> Result<()> {
    revisions_stay(Engine::Postgres).await
}

async fn published_to_all_shops(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let olga = shop.other_shop("Other Works", "olga@other.example").await?;
    let made = marta.post("/api/sheets", &file(838.5)).await?;
    let first: SheetLine = made.json().await?;
    let revise = format!("/api/sheets/{}/revisions", first.id);
    let published = format!("/api/sheets/{}/published", first.id);
    let shared = format!("/api/shared-sheets/{}", first.id);
    marta
        .post(&format!("{revise}?after=1"), &file(839.0))
        .await?;
    let none: Vec<SheetLine> = olga.read("/api/shared-sheets").await?;
    assert!(none.is_empty(), "{none:?}");
    assert_eq!(olga.get(&shared).await?.status(), StatusCode::NOT_FOUND);

    // Only an owner, only a revision that there is, and only of the own shop.
    for (who, revision, status) in [
        (&ana, 1, StatusCode::FORBIDDEN),
        (&olga, 1, StatusCode::NOT_FOUND),
        (&marta, 3, StatusCode::NOT_FOUND),
        (&marta, 1, StatusCode::NO_CONTENT),
        (&marta, 1, StatusCode::NO_CONTENT),
    ] {
        let answer = who
            .post(&published, &json!({ "revision": revision }))
            .await?;
        assert_eq!(answer.status(), status, "revision {revision}");
    }
    let own: Vec<SheetLine> = ana.read("/api/sheets").await?;
    assert_eq!((own[0].revision, own[0].published), (2, Some(1)));
    let own: Vec<SheetLine> = ana.read("/api/shared-sheets").await?;
    assert!(own.is_empty(), "one's own is no other shop's: {own:?}");

    // The other shop sees that revision alone, whose it is, and reads it with its digest.
    let seen: Vec<SheetLine> = olga.read("/api/shared-sheets").await?;
    let by: shared::wire::Me = marta.read("/api/me").await?;
    assert_eq!((seen.len(), seen[0].revision), (1, 1));
    assert_eq!(seen[0].shared_by.as_ref(), Some(&by.shop_name));
    assert_eq!(seen[0].digest, first.digest);
    let text = olga.get(&shared).await?.text().await?;
    let sheet = parse(&text).map_err(|refusals| anyhow::anyhow!("{refusals:?}"))?;
    assert_eq!(digest(&sheet).to_string(), first.digest);
    let begun: Vec<Intention> = olga.read(&format!("{shared}/start")).await?;
    assert_eq!(begun, starting(&sheet));
    let begun: Vec<Intention> = ana.read(&format!("{revise}/1/start")).await?;
    assert_eq!(begun, starting(&sheet));

    // It is still the first shop's alone to change, to withdraw, and to look into.
    let log: Value = olga.read("/api/log").await?;
    assert!(!log.to_string().contains(&first.id), "{log}");
    for path in [revise.clone(), format!("{revise}/1"), format!("{revise}/2")] {
        assert_eq!(olga.get(&path).await?.status(), StatusCode::NOT_FOUND);
    }
    let changed = olga
        .post(&format!("{revise}?after=2"), &file(840.0))
        .await?;
    assert_eq!(changed.status(), StatusCode::NOT_FOUND);
    assert_eq!(
        olga.delete(&published).await?.status(),
        StatusCode::NOT_FOUND
    );

    // A copy is the other shop's own; the original may move on and go.
    let copy: SheetLine = olga
        .post("/api/sheets", &serde_json::from_str::<Value>(&text)?)
        .await?
        .json()
        .await?;
    assert_ne!(copy.id, first.id);
    let answer = marta.post(&published, &json!({ "revision": 2 })).await?;
    assert_eq!(answer.status(), StatusCode::NO_CONTENT);
    let seen: Vec<SheetLine> = olga.read("/api/shared-sheets").await?;
    assert_eq!((seen.len(), seen[0].revision), (1, 2));
    assert_eq!(
        ana.delete(&published).await?.status(),
        StatusCode::FORBIDDEN
    );
    assert_eq!(
        marta.delete(&published).await?.status(),
        StatusCode::NO_CONTENT
    );
    assert_eq!(
        marta.delete(&published).await?.status(),
        StatusCode::NOT_FOUND
    );
    assert_eq!(olga.get(&shared).await?.status(), StatusCode::NOT_FOUND);
    let left: Vec<SheetLine> = olga.read("/api/sheets").await?;
    assert_eq!(left, [copy]);

    // Each is in the log once, and the log holds.
    let log = shop.running.app.store.export_log(Some(&by.shop)).await?;
    let Exported::Bundle(bundle) = log else {
        anyhow::bail!("no log");
    };
    let report = verify(&bundle);
    assert!(report.fault.is_none(), "{:?}", report.fault);
    for (kind, count) in [("sheet-published", 2), ("sheet-withdrawn", 1)] {
        let log: Value = marta.read(&format!("/api/log?kind={kind}")).await?;
        let entries = log["entries"].as_array().map_or(0, Vec::len);
        assert_eq!(entries, count, "{log}");
    }
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn published_to_all_shops_on_sqlite() -> Result<()> {
    published_to_all_shops(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn published_to_all_shops_on_postgres() -> Result<()> {
    published_to_all_shops(Engine::Postgres).await
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_no_sheet_is_told_where() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    let mut wrong = file(838.5);
    wrong["sheet"]["points"]["tower-L"]["target_mm"] = json!([0.0, "left", 3.0]);
    let (status, why) = refusal(marta.post("/api/sheets", &wrong).await?).await?;
    assert_eq!(
        (status, why.code),
        (StatusCode::BAD_REQUEST, Code::BadRequest)
    );
    let subject = why.subject.unwrap_or_default();
    assert!(
        subject.contains("points") && subject.contains("tower-L") && subject.contains("target_mm"),
        "{subject}"
    );
    // An address that names no revision, and a question that does not say what comes before.
    let (status, why) = refusal(marta.get("/api/sheets/x/revisions/two").await?).await?;
    assert_eq!((status, why.code), (StatusCode::NOT_FOUND, Code::NotFound));
    let asked = marta.post("/api/sheets/x/revisions", &file(838.5)).await?;
    let (status, why) = refusal(asked).await?;
    assert_eq!(
        (status, why.code),
        (StatusCode::BAD_REQUEST, Code::BadRequest)
    );
    let mut large = file(838.5);
    large["sheet"]["origin"]["source"] = json!("x".repeat(shared::library::MAX_BYTES));
    let (status, _) = refusal(marta.post("/api/sheets", &large).await?).await?;
    assert_eq!(status, StatusCode::PAYLOAD_TOO_LARGE);
    // A changed copy does not pass for the one whose digest it names.
    let first: SheetLine = marta
        .post("/api/sheets", &file(838.5))
        .await?
        .json()
        .await?;
    let mut forged = file(838.5);
    forged["digest"] = json!(first.digest);
    let (status, why) = refusal(marta.post("/api/sheets", &forged).await?).await?;
    assert_eq!(status, StatusCode::BAD_REQUEST);
    assert!(why.subject.unwrap_or_default().contains("digest"));
    shop.running.stop().await
}
