//! The dimension library: revisions that never change, on both databases, in the log, in a backup.

use anyhow::Result;
use reqwest::StatusCode;
use serde_json::{Value, json};
use server::store::Exported;
use shared::library::{SheetLine, digest, parse, write};
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
