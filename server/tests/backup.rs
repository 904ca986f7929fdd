//! `baybook backup` beside a running server, and `baybook restore` into the other engine: phones go
//! on there, and the log still holds.

use std::path::Path;
use std::process::Output;

use anyhow::{Context, Result};
use server::backup::{Column, Header, Reader, Value, Writer};
use shared::proof::Digest;
use shared::wire::{BackupState, JobOverview, Role};
use tests::database::{Engine, Scratch};
use tests::device::{Device, document_id};
use tests::photo::{picture, record, refer, send};
use tests::shop::{HandClock, Shop};
use tokio::process::Command;

async fn baybook(arguments: &[&str], url: &str) -> Result<Output> {
    Ok(Command::new(env!("CARGO_BIN_EXE_baybook"))
        .args(arguments)
        .env_remove("BAYBOOK_DATA")
        .env("DATABASE_URL", url)
        .output()
        .await?)
}

fn said(output: &Output) -> String {
    let error = String::from_utf8_lossy(&output.stderr);
    format!("{}{error}", String::from_utf8_lossy(&output.stdout))
}

fn path(file: &Path) -> &str {
    file.to_str().unwrap_or_default()
}

async fn move_story(from: Engine, to: Engine) -> Result<()> {
    let shop = Shop::start_demo(from).await?;
    let person = server::demo::PEOPLE[1];
    let body = serde_json::json!({ "email": person.email, "password": person.password });
    let ana = shop.nobody().enter("/api/session", &body).await?;
    let mut phone = Device::new(&document_id());
    phone.start_book()?;
    phone.connect(&ana).await?;
    for n in 0..20 {
        phone.write("before", n)?;
        phone.share().await?;
    }

    let photo = picture(1)?;
    refer(&mut phone, record("photo-1", &photo)?).await?;
    send(&ana, &phone.book, &photo).await?;

    // The backup is written while a phone writes.
    let file = shop.scratch.folder.join("shop.backup");
    let arguments = ["backup", "--out", path(&file)];
    let url = shop.scratch.url.clone();
    let backup = baybook(&arguments, &url);
    tokio::pin!(backup);
    let mut during = 0;
    let written = loop {
        phone.write("during", during)?;
        let shared = phone.share();
        tokio::pin!(shared);
        tokio::select! {
            written = &mut backup => {
                shared.await?;
                break written?;
            }
            shared = &mut shared => shared?,
        }
        during += 1;
    };
    assert!(written.status.success(), "{}", said(&written));
    assert!(
        said(&written).contains("1 shops, 2 books"),
        "{}",
        said(&written)
    );
    assert!(during > 0, "nothing was written meanwhile");
    // The owner's desk knows of it, as soon as it is written.
    let owner = server::demo::PEOPLE[0];
    let body = serde_json::json!({ "email": owner.email, "password": owner.password });
    let marta = shop.nobody().enter("/api/session", &body).await?;
    let known: BackupState = marta.read("/api/backup").await?;
    let known = known.last.context("the desk knows of no backup")?;
    assert_eq!(known.bytes, std::fs::metadata(&file)?.len());
    let again = baybook(&arguments, &url).await?;
    assert!(
        said(&again).contains("is there already"),
        "{}",
        said(&again)
    );
    phone.disconnect();
    let (old, folder) = (shop.running, shop.scratch);
    old.kill().await;

    // Into the other engine.
    let scratch = Scratch::new(to).await?;
    let restored = baybook(&["restore", "--from", path(&file)], &scratch.url).await?;
    assert!(restored.status.success(), "{}", said(&restored));
    assert!(
        said(&restored).contains("Every book loads: 2.")
            && said(&restored).contains("The log of Weidengrund Body Works holds"),
        "{}",
        said(&restored)
    );
    let changes = scratch.number("SELECT COUNT(*) FROM doc_change").await?;
    assert!(changes >= 2 + 20, "{changes}");

    // Sessions are good there as well, photos came along; the phone shares what came after the backup.
    let shop = Shop::over(scratch, HandClock::new()).await?;
    let ana = ana.moved_to(shop.running.addr);
    let place = format!("/api/jobs/{}/photos/{}", phone.book, Digest::of(&photo));
    assert_eq!(ana.get(&place).await?.bytes().await?, photo);
    phone.write("after", 1)?;
    phone.connect(&ana).await?;
    phone.share().await?;
    let mut fresh = Device::new(&phone.book);
    fresh.connect(&ana).await?;
    fresh.share().await?;
    assert_eq!(fresh.doc.get_heads(), phone.doc.get_heads());
    assert_eq!(fresh.read("during")?, Some(during));
    let log = shop.scratch.folder.join("log.jsonl");
    let exported = baybook(&["audit", "export", "--out", path(&log)], &shop.scratch.url).await?;
    assert!(exported.status.success(), "{}", said(&exported));
    let verified = baybook(&["audit", "verify", path(&log)], &shop.scratch.url).await?;
    assert!(verified.status.success(), "{}", said(&verified));
    // Rows can be made anew beside the server.
    let rebuilt = baybook(&["rebuild"], &shop.scratch.url).await?;
    assert!(said(&rebuilt).contains("2 books"), "{}", said(&rebuilt));
    let person = server::demo::PEOPLE[0];
    let body = serde_json::json!({ "email": person.email, "password": person.password });
    let marta = shop.nobody().enter("/api/session", &body).await?;
    let jobs: Vec<JobOverview> = marta.read("/api/overview").await?;
    assert!(jobs.iter().any(|job| job.stage.is_some()), "{jobs:?}");
    drop(folder);
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_shop_moves_from_sqlite_to_postgres() -> Result<()> {
    move_story(Engine::Sqlite, Engine::Postgres).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_shop_moves_from_postgres_to_sqlite() -> Result<()> {
    move_story(Engine::Postgres, Engine::Sqlite).await
}

/// Tables and columns as the first ten changes of the schema made them.
const M0010: [(&str, &str); 19] = [
    ("shop", "shop_id name audit_seq created_at_ms"),
    ("set_up_link", "shop_id token_hash created_at_ms used_at_ms"),
    ("token_key", "id seed created_at_ms"),
    (
        "user",
        "shop_id user_id name email role password_hash created_at_ms",
    ),
    (
        "device",
        "shop_id device_id user_id first_seen_at_ms last_seen_at_ms",
    ),
    ("actor", "shop_id actor user_id device_id registered_at_ms"),
    (
        "invitation",
        "shop_id invitation_id token_hash role invited_by created_at_ms expires_at_ms used_at_ms used_by",
    ),
    (
        "refresh_token",
        "shop_id token_id family generation user_id token_hash issued_at_ms expires_at_ms used_at_ms revoked_at_ms",
    ),
    ("doc", "shop_id doc_id seq created_by created_at_ms"),
    (
        "doc_change",
        "shop_id doc_id seq hash actor actor_seq user_id device_id received_at_ms bytes",
    ),
    ("doc_snapshot", "shop_id doc_id seq made_at_ms bytes"),
    (
        "quarantine",
        "shop_id quarantine_id doc_id user_id device_id reason received_at_ms bytes",
    ),
    (
        "audit_event",
        "shop_id seq at_ms kind user_id device_id doc_id detail",
    ),
    (
        "job_line",
        "shop_id doc_id number vehicle last_activity_at_ms",
    ),
    ("log_key", "id seed"),
    ("log_head", "shop_id size last_at_ms frontier checkpoint"),
    ("log_leaf", "shop_id place body"),
    ("statement", "shop_id digest doc_id kept_at_ms body"),
    (
        "device_key",
        "shop_id public_key user_id device_id registered_at_ms ended_at_ms",
    ),
];

/// Writes a backup again with another header, without the tables and columns that it lacks.
fn rewritten(file: &[u8], change: impl Fn(&mut Header)) -> Result<Vec<u8>> {
    let mut reader = Reader::open(file)?;
    let before = reader.header().clone();
    let mut header = before.clone();
    change(&mut header);
    let mut rows: Vec<(usize, Vec<Value>)> = Vec::new();
    while let Some(row) = reader.next_row()? {
        rows.push(row);
    }
    let mut writer = Writer::begin(Vec::new(), &header)?;
    for (table, row) in rows {
        let old = &before.tables[table];
        let mut tables = header.tables.iter();
        if let Some(new) = tables.find(|table| table.name == old.name) {
            let place = |(place, column): (usize, &Column)| {
                let mut names = old.columns.iter().map(|column| &column.name);
                names.position(|name| *name == column.name).unwrap_or(place)
            };
            let places = new.columns.iter().enumerate().map(place);
            let row: Vec<Value> = places.map(|place| row[place].clone()).collect();
            writer.row(&row)?;
        }
    }
    Ok(writer.end()?)
}

#[tokio::test(flavor = "multi_thread")]
async fn what_cannot_be_restored_is_refused() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    shop.join(&marta, "ana", Role::Technician).await?;
    let mut phone = Device::new(&document_id());
    phone.write("height", 612)?;
    phone.connect(&marta).await?;
    phone.share().await?;
    let file = shop.scratch.folder.join("shop.backup");
    let url = shop.scratch.url.clone();
    let written = baybook(&["backup", "--out", path(&file)], &url).await?;
    assert!(written.status.success(), "{}", said(&written));
    let whole = std::fs::read(&file)?;

    let refused = async |bytes: &[u8], url: &str, word: &str| {
        let spoilt = shop.scratch.folder.join("spoilt.backup");
        std::fs::write(&spoilt, bytes)?;
        let output = baybook(&["restore", "--from", path(&spoilt)], url).await?;
        let says = said(&output);
        assert!(
            !output.status.success() && says.contains(word),
            "{word}: {says}"
        );
        assert!(!says.contains("panicked"), "{says}");
        anyhow::Ok(())
    };
    let target = Scratch::new(Engine::Sqlite).await?;
    // Among the rows: in the head, which names every table, it would be no backup at all.
    let among_rows = whole.len() * 7 / 8;
    let mut altered = whole.clone();
    altered[among_rows] ^= 0x10;
    refused(&altered, &target.url, "is damaged").await?;
    refused(&whole[..among_rows], &target.url, "ends too early").await?;
    refused(b"a page of text", &target.url, "is no backup").await?;
    let newer = rewritten(&whole, |header| header.schema.push("m9999_later".into()))?;
    refused(&newer, &target.url, "does not know").await?;
    let odd = rewritten(&whole, |header| {
        header.tables[0].columns[0].name = "car".into()
    })?;
    refused(&odd, &target.url, "does not fit").await?;
    // The database of a running server, and then without it.
    refused(&whole, &url, "another server is running").await?;
    shop.running.kill().await;
    refused(&whole, &url, "is not empty").await?;
    let nothing = baybook(
        &["backup", "--out", path(&shop.scratch.folder.join("none"))],
        &format!("sqlite://{}/none.sqlite?mode=rw", target.folder.display()),
    )
    .await?;
    assert!(!nothing.status.success(), "{}", said(&nothing));

    // After all of that the database is still empty, and takes the good one.
    let restored = baybook(&["restore", "--from", path(&file)], &target.url).await?;
    assert!(restored.status.success(), "{}", said(&restored));
    // A backup of an older program is brought up to date.
    let target = Scratch::new(Engine::Sqlite).await?;
    let older = rewritten(&whole, |header| {
        header.schema.retain(|change| change.as_str() < "m0011");
        header.tables.retain_mut(|table| {
            let Some((_, columns)) = M0010.iter().find(|(name, _)| *name == table.name) else {
                return false;
            };
            let columns: Vec<&str> = columns.split(' ').collect();
            table
                .columns
                .retain(|column| columns.contains(&column.name.as_str()));
            true
        });
    })?;
    let file = shop.scratch.folder.join("older.backup");
    std::fs::write(&file, older)?;
    let restored = baybook(&["restore", "--from", path(&file)], &target.url).await?;
    assert!(restored.status.success(), "{}", said(&restored));
    let shop = Shop::over(target, shop.clock.clone()).await?;
    let mut fresh = Device::new(&phone.book);
    fresh.connect(&marta.moved_to(shop.running.addr)).await?;
    fresh.share().await?;
    assert_eq!(fresh.read("height")?.context("no height")?, 612);
    shop.running.stop().await
}
