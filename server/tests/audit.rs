//! `baybook audit`: a log leaves a running server as a file, and is verified without any.

use std::path::Path;
use std::process::Output;

use anyhow::Result;
use tests::database::Engine;
use tests::shop::Shop;
use tokio::process::Command;

/// Runs `baybook audit` away from any database but the one that is named.
async fn audit(arguments: &[&str], url: Option<&str>) -> Result<Output> {
    let mut command = Command::new(env!("CARGO_BIN_EXE_baybook"));
    command.arg("audit").args(arguments);
    command
        .env_remove("DATABASE_URL")
        .env_remove("BAYBOOK_DATA");
    if let Some(url) = url {
        command.env("DATABASE_URL", url);
    }
    Ok(command.output().await?)
}

fn said(output: &Output) -> String {
    let error = String::from_utf8_lossy(&output.stderr);
    format!("{}{error}", String::from_utf8_lossy(&output.stdout))
}

fn path(file: &Path) -> &str {
    file.to_str().unwrap_or_default()
}

async fn export_and_verify_story(engine: Engine) -> Result<()> {
    let shop = Shop::start_demo(engine).await?;
    let folder = &shop.scratch.folder;
    let (first, second, spoilt) = (
        folder.join("first.jsonl"),
        folder.join("second.jsonl"),
        folder.join("spoilt.jsonl"),
    );
    let url = shop.scratch.url.as_str();
    let exported = audit(&["export", "--out", path(&first)], Some(url)).await?;
    assert!(exported.status.success(), "{}", said(&exported));
    assert!(
        said(&exported).contains("11 entries, 3 changes, 1 statements"),
        "{}",
        said(&exported)
    );
    let told = said(&exported);
    let key = told
        .lines()
        .find_map(|line| line.strip_prefix("key "))
        .unwrap_or_default();

    // Somebody signs in meanwhile; the later log goes on from the first.
    let marta = server::demo::PEOPLE[0];
    let body = serde_json::json!({ "email": marta.email, "password": marta.password });
    shop.nobody().enter("/api/session", &body).await?;
    audit(&["export", "--out", path(&second)], Some(url)).await?;
    let older = [
        "verify",
        path(&second),
        "--key",
        key,
        "--older",
        path(&first),
    ];
    let good = audit(&older, None).await?;
    assert!(good.status.success(), "{}", said(&good));
    assert!(
        said(&good).starts_with("Everything holds: 12 entries, 1 jobs, 3 changes"),
        "{}",
        said(&good)
    );
    let back = audit(&["verify", path(&first), "--older", path(&second)], None).await?;
    assert_eq!(back.status.code(), Some(2));
    assert!(
        said(&back).contains("the log does not go on from the older head"),
        "{}",
        said(&back)
    );

    // Another key, another file, an altered file, no file.
    let text = std::fs::read_to_string(&second)?;
    std::fs::write(&spoilt, text.replacen("Marta Weide", "Maria Weide", 1))?;
    for (arguments, word) in [
        (
            vec!["verify", path(&second), "--key", "baybook/x+00000000+AA"],
            "not baybook/x",
        ),
        (vec!["verify", path(&spoilt)], "line 5, entry 1, hash"),
        (vec!["verify", "no-such-file"], "no-such-file"),
        (vec!["verify", path(folder)], "name an exported log"),
        (
            vec!["export", "--out", path(&spoilt), "--shop", "nobody"],
            "--shop",
        ),
    ] {
        let refused = audit(&arguments, Some(url)).await?;
        assert_eq!(refused.status.code(), Some(2), "{arguments:?}");
        assert!(
            said(&refused).contains(word),
            "{arguments:?}: {}",
            said(&refused)
        );
    }
    let nowhere = folder.join("nowhere");
    let made = audit(
        &["export", "--out", path(&spoilt), "--data", path(&nowhere)],
        None,
    )
    .await?;
    assert!(
        !made.status.success() && said(&made).contains("--data"),
        "{}",
        said(&made)
    );
    assert!(!nowhere.exists(), "an export makes no database");
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn export_and_verify_on_sqlite() -> Result<()> {
    export_and_verify_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn export_and_verify_on_postgres() -> Result<()> {
    export_and_verify_story(Engine::Postgres).await
}
