//! A short run of the harness that kills the server; `cargo xtask kill` is the long one.

use anyhow::Result;
use tests::database::{Engine, Scratch};
use tests::kill::{Plan, run};

async fn kill_story(engine: Engine, seed: u64) -> Result<()> {
    let scratch = Scratch::new(engine).await?;
    let plan = Plan {
        server: env!("CARGO_BIN_EXE_kill").into(),
        database_url: scratch.url.clone(),
        folder: scratch.folder.clone(),
        cycles: 10,
        seed,
    };
    let figures = run(&plan, |text| println!("{text}")).await?;
    assert_eq!(figures.kills, 10);
    assert_eq!(figures.restarts.len(), 10);
    // Nothing is proved by a server that was killed before anybody had an answer.
    assert!(figures.acknowledged > 20, "{figures:?}");
    assert!(figures.entered >= figures.acknowledged);
    Ok(())
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_acknowledged_is_lost_on_sqlite() -> Result<()> {
    kill_story(Engine::Sqlite, 20_270_115).await
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_acknowledged_is_lost_on_postgres() -> Result<()> {
    kill_story(Engine::Postgres, 20_270_116).await
}
