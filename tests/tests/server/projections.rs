//! Rows projected from books: the owner's overview, and that all of it can be made again.

use std::time::Duration;

use anyhow::{Context, Result, ensure};
use reqwest::StatusCode;
use server::backup::{Reader, Value};
use server::live::project::rebuild;
use server::store::dump;
use shared::book::Intention;
use shared::proof::statement::{Counts, Deed};
use shared::solve::solve;
use shared::wire::{Code, JobOverview, Role};
use sqlx::{AssertSqlSafe, Executor};
use tests::database::Engine;
use tests::shop::{Person, Shop, refusal};

use super::signoff::{Signer, shared_car};

const TABLES: [&str; 7] = [
    "job_line",
    "job_state",
    "stage_state",
    "point_state",
    "pair_state",
    "sign_off_state",
    "tool_state",
];

/// The overview once it has followed the books.
async fn overview(owner: &Person, is_there: impl Fn(&JobOverview) -> bool) -> Result<JobOverview> {
    for _ in 0..200 {
        let jobs: Vec<JobOverview> = owner.read("/api/overview").await?;
        let job = jobs.into_iter().next().context("no job")?;
        if job.is_up_to_date && is_there(&job) {
            return Ok(job);
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    anyhow::bail!("the overview does not follow")
}

/// All projected rows, in one order.
async fn rows(shop: &Shop) -> Result<Vec<String>> {
    let (header, file) = dump(&shop.scratch.url, String::new(), Vec::new()).await?;
    let mut reader = Reader::open(&file[..])?;
    let mut rows = Vec::new();
    while let Some((table, row)) = reader.next_row()? {
        let name = &header.tables[table].name;
        if TABLES.contains(&name.as_str()) {
            let text = |value: &Value| format!("{value:?}");
            rows.push(format!(
                "{name} {:?}",
                row.iter().map(text).collect::<Vec<_>>()
            ));
        }
    }
    rows.sort();
    Ok(rows)
}

async fn overview_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let mut phone = shared_car(&ana).await?;

    // The rows say what the solver says, and the owner alone sees them.
    let job = overview(&marta, |_| true).await?;
    let car = phone.job()?;
    let result = solve(&car);
    let last = result.stages.last().context("no stage")?;
    let stage = job.stage.context("no stage")?;
    let Counts {
        within,
        outside,
        unproven,
    } = Counts::of(last);
    assert!(outside > 0 && unproven > 0, "the demo car is bent");
    assert_eq!(
        (stage.within, stage.outside, stage.unproven),
        (within, outside, unproven)
    );
    assert_eq!(stage.id, last.id.to_string());
    assert_eq!(job.readings, car.readings.len() as u64);
    assert_eq!(job.suspects, result.suspects.len() as u64);
    assert_eq!(job.number, car.card.number);
    assert_eq!(job.last_by.as_deref(), Some("ana"));
    assert_eq!(job.sign_off, None);
    let (status, refused) = refusal(ana.get("/api/overview").await?).await?;
    assert_eq!(
        (status, refused.code),
        (StatusCode::FORBIDDEN, Code::NotAllowed)
    );
    let nobody = shop.nobody().get("/api/overview").await?;
    assert_eq!(nobody.status(), StatusCode::UNAUTHORIZED);
    let other = shop
        .other_shop("Elsewhere", "olga@elsewhere.example")
        .await?;
    assert!(
        other
            .read::<Vec<JobOverview>>("/api/overview")
            .await?
            .is_empty()
    );

    // A sign-off stands in it, and how many readings came since.
    let signer = Signer::new(&ana, &phone.device, 1).await?;
    signer.register(&signer.seed).await?;
    let signed = signer.signs(signer.says(&mut phone, Deed::SignOff)?)?;
    let (status, _) = signer.sends(&signed).await?;
    assert_eq!(status, StatusCode::CREATED);
    let job = overview(&marta, |job| job.sign_off.is_some()).await?;
    let sign_off = job.sign_off.context("no sign-off")?;
    assert_eq!((sign_off.by.as_str(), sign_off.readings_since), ("ana", 0));
    assert!(sign_off.is_current);
    let mut reading = car.readings[0].clone();
    reading.id = "after-the-sign-off".parse()?;
    phone.mean(&Intention::RecordReading { reading })?;
    phone.share().await?;
    let job = overview(&marta, |job| job.readings > car.readings.len() as u64).await?;
    let sign_off = job.sign_off.context("no sign-off")?;
    assert_eq!((sign_off.readings_since, sign_off.is_current), (1, false));

    // All rows are deleted, and made again the same.
    let before = rows(&shop).await?;
    ensure!(before.len() > 100, "{} rows", before.len());
    delete_all(&shop).await?;
    assert!(rows(&shop).await?.is_empty());
    assert_eq!(rebuild(&shop.running.app.store).await?, 1);
    assert_eq!(rows(&shop).await?, before);

    // A server that finds them missing makes them by itself.
    delete_all(&shop).await?;
    let shop = shop.cut_power().await?;
    for _ in 0..200 {
        if rows(&shop).await?.len() == before.len() {
            break;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    assert_eq!(rows(&shop).await?, before);
    shop.running.stop().await
}

async fn delete_all(shop: &Shop) -> Result<()> {
    let mut behind = shop.scratch.connect().await?;
    for table in TABLES.iter().rev() {
        // What belongs to the job's row goes before it.
        if *table != "job_state" {
            behind
                .execute(AssertSqlSafe(format!("DELETE FROM {table}")))
                .await?;
        }
    }
    behind.execute("DELETE FROM job_state").await?;
    Ok(())
}

#[tokio::test(flavor = "multi_thread")]
async fn overview_on_sqlite() -> Result<()> {
    overview_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn overview_on_postgres() -> Result<()> {
    overview_story(Engine::Postgres).await
}
