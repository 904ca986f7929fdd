//! What an owner's desk shows: the demo car's sign-off, what changed since one, backups, tools due.

use std::time::Duration;

use anyhow::{Context, Result, ensure};
use reqwest::StatusCode;
use serde_json::json;
use server::config::Config;
use server::demo::PEOPLE;
use server::start;
use server::store::{Exported, note_backup};
use shared::book::Intention;
use shared::figures::Language;
use shared::job::{Tool, ToolKind};
use shared::proof::statement::{Deed, SignedStatement};
use shared::sync::replay::verify;
use shared::tools::Check;
use shared::wire::{
    BackupState, ChangesSince, DeedKind, DeviceLine, DueTool, Person as Listed, Role, SignedJob,
};
use tests::database::{Engine, Scratch};
use tests::device::{Device, document_id};
use tests::shop::{Person, Shop};

use super::signoff::{Signer, shared_car};

async fn demo(scratch: &Scratch, language: Language) -> Result<server::Running> {
    let listen = "127.0.0.1:0".parse()?;
    let checked = Config::check(
        listen,
        Some(scratch.url.clone()),
        scratch.folder.clone(),
        None,
    )?;
    start(Config {
        demo: true,
        demo_language: language,
        ..checked
    })
    .await
}

async fn demo_story(engine: Engine, language: Language, why: &str) -> Result<()> {
    let scratch = Scratch::new(engine).await?;
    let mut before = None;
    // A start after the first makes and signs nothing.
    for _ in 0..2 {
        let server = demo(&scratch, language).await?;
        let owner = PEOPLE[0];
        let body = json!({ "email": owner.email, "password": owner.password });
        let marta = Person::at(server.addr).enter("/api/session", &body).await?;
        let jobs: Vec<SignedJob> = marta.read("/api/signed-jobs").await?;
        let [job] = jobs.try_into().ok().context("one signed job")?;
        let signed = SignedStatement::parse(&job.signed)?;
        signed.verify()?;
        let said = signed.statement();
        assert_eq!(said.deed, Deed::SignOff);
        assert_eq!(said.who.name, PEOPLE[1].name);
        assert_eq!(said.claims.stage, shared::demo::signed_stage());
        assert!(said.claims.counts.outside > 0, "the car came bent");
        assert_eq!((job.entries_since, job.countersigned), (1, None));

        let path = format!("/api/jobs/{}/since?language={}", job.book, language.code());
        let since: ChangesSince = marta.read(&path).await?;
        let [entry] = since.entries.try_into().ok().context("one entry")?;
        let [deed] = entry.deeds.try_into().ok().context("one deed")?;
        assert_eq!((entry.by.as_str(), since.more), (PEOPLE[2].name, 0));
        assert_eq!(deed.kind, DeedKind::ReadingSetAside);
        assert_eq!(deed.why, why);
        let value = ["1382.0 mm", "1382,0 mm"];
        assert!(
            value.iter().any(|value| deed.about.contains(value)),
            "{}",
            deed.about
        );

        // Whoever has the log can check all of it, and the key is one of a device of hers.
        let Exported::Bundle(bundle) = server.app.store.export_log(None).await? else {
            anyhow::bail!("no log");
        };
        let report = verify(&bundle);
        assert_eq!((report.fault, report.sign_offs), (None, 1));
        let people: Vec<Listed> = marta.read("/api/people").await?;
        let ana = people.iter().find(|one| one.name == PEOPLE[1].name);
        let path = format!("/api/people/{}/devices", ana.context("no Ana")?.user);
        let devices: Vec<DeviceLine> = marta.read(&path).await?;
        assert_eq!(devices.iter().filter(|device| device.has_key).count(), 1);
        let leaves = bundle
            .leaves
            .iter()
            .filter(|line| !is_sign_in(&line.text))
            .count();
        assert_eq!(
            *before.get_or_insert(leaves),
            leaves,
            "a restart did something"
        );
        server.stop().await?;
    }
    Ok(())
}

fn is_sign_in(leaf: &str) -> bool {
    leaf.contains(r#""kind":"signed-in""#)
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demo_car_is_signed_off_once_and_changed_after_it() -> Result<()> {
    let english = "tape lay over the exhaust hanger";
    demo_story(Engine::Sqlite, Language::English, english).await?;
    let spanish = "la cinta pasaba por encima del soporte del escape";
    demo_story(Engine::Sqlite, Language::Spanish, spanish).await
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demo_car_is_signed_off_on_postgres() -> Result<()> {
    let english = "tape lay over the exhaust hanger";
    demo_story(Engine::Postgres, Language::English, english).await
}

/// What somebody did, as the desk is told: kind, to what, what was before, why.
fn told(since: &ChangesSince) -> Vec<(DeedKind, &str, &str, &str)> {
    let deeds = since.entries.iter().flat_map(|entry| &entry.deeds);
    deeds
        .map(|deed| {
            let texts = (deed.about.as_str(), deed.was.as_str(), deed.why.as_str());
            (deed.kind, texts.0, texts.1, texts.2)
        })
        .collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn what_came_since_a_sign_off_is_told_in_words() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let mut phone = shared_car(&ana).await?;
    let path = format!("/api/jobs/{}/since", phone.book);
    let since = async |query: &str| marta.read::<ChangesSince>(&format!("{path}{query}")).await;
    assert_eq!(since("").await?, ChangesSince::default(), "never signed");

    let signer = Signer::new(&ana, &phone.device, 1).await?;
    signer.register(&signer.seed).await?;
    let signed = signer.signs(signer.says(&mut phone, Deed::SignOff)?)?;
    assert_eq!(signer.sends(&signed).await?.0, StatusCode::CREATED);
    assert_eq!(since("").await?, ChangesSince::default(), "nothing since");

    let car = phone.job()?;
    let first = &car.readings[0];
    let mut again = first.clone();
    again.id = "again".parse()?;
    again.replaces = Some(first.id.clone());
    let mut new = first.clone();
    new.id = "new".parse()?;
    let aside = car.readings[1].id.clone();
    let point = car.points.keys().next().context("no point")?.clone();
    for intention in [
        Intention::RecordReading { reading: new },
        Intention::RecordReading { reading: again },
        Intention::SetReadingAside {
            reading: aside.clone(),
            why: "tape sagged".into(),
        },
        Intention::BringReadingBack {
            reading: aside,
            why: "it did not".into(),
        },
        Intention::RenamePoint {
            id: point,
            label: "bolt under the lamp".into(),
        },
        Intention::WriteNote {
            id: "n".into(),
            text: "glass is in".into(),
        },
        Intention::SetRule {
            settings: shared::job::Settings {
                tolerance_mm: 2.0,
                ..car.settings
            },
        },
    ] {
        phone.mean(&intention)?;
    }
    phone.share().await?;

    let now = since("").await?;
    let words = told(&now);
    let kinds: Vec<DeedKind> = words.iter().map(|told| told.0).collect();
    assert_eq!(
        kinds,
        [
            DeedKind::RuleChanged,
            DeedKind::NoteWritten,
            DeedKind::PointRenamed,
            DeedKind::ReadingBroughtBack,
            DeedKind::ReadingSetAside,
            DeedKind::ReadingReplaced,
            DeedKind::ReadingRecorded,
        ],
        "the newest first: {words:?}"
    );
    assert_eq!(words[1].1, "glass is in");
    let label = &car.points.values().next().context("no point")?.label;
    assert_eq!(
        (words[2].1, words[2].2),
        ("bolt under the lamp", label.as_str())
    );
    assert_eq!((words[3].3, words[4].3), ("it did not", "tape sagged"));
    assert_eq!(words[3].1, words[4].1, "the same reading");
    let height = "height · rocker jacking point, front · left · 422.5 mm · beam above";
    assert_eq!(words[6].1.split(" · ").next(), height.split(" · ").next());
    assert!(words[6].1.contains("422.5 mm"), "{}", words[6].1);
    assert_eq!(
        words[5].1, words[5].2,
        "what replaces it says the same here"
    );
    assert!(
        now.entries
            .iter()
            .all(|entry| entry.by == "ana" && entry.more == 0)
    );
    assert_eq!(now.more, 0);
    // In the reader's language and unit.
    let spanish = since("?language=es&unit=in").await?;
    let spanish = told(&spanish)[6].1.to_owned();
    assert!(
        !spanish.contains("mm") && spanish.contains("altura"),
        "{spanish}"
    );
    let odd = marta.get(&format!("{path}?unit=ell")).await?;
    assert_eq!(odd.status(), StatusCode::BAD_REQUEST);

    // Twenty are told, the others counted; a new sign-off begins anew.
    for n in 0..18 {
        phone.mean(&Intention::WriteNote {
            id: format!("n{n}"),
            text: format!("note {n}"),
        })?;
    }
    phone.share().await?;
    let many = since("").await?;
    assert_eq!((many.entries.len(), many.more), (20, 5));
    assert_eq!(told(&many)[0].1, "note 17");
    // Two of one millisecond have no order.
    shop.clock.turn(1);
    let signed = signer.signs(signer.says(&mut phone, Deed::SignOff)?)?;
    assert_eq!(signer.sends(&signed).await?.0, StatusCode::CREATED);
    assert_eq!(since("").await?, ChangesSince::default());
    shop.running.stop().await
}

async fn backup_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let state = async || marta.read::<BackupState>("/api/backup").await;
    assert_eq!(state().await?.last, None);
    let now_ms = shop.running.app.config.clock.now_ms();
    note_backup(&shop.scratch.url, now_ms - 1_000, 5).await?;
    note_backup(&shop.scratch.url, now_ms, 4_321).await?;
    let last = state().await?.last.context("no backup")?;
    assert_eq!((last.bytes, last.is_old), (4_321, false));
    assert_eq!(last.made_at, "2027-01-15T08:00:00Z");
    shop.clock.turn(2 * 24 * 3600);
    let marta = marta.sign_in_again().await?;
    let last = marta.read::<BackupState>("/api/backup").await?.last;
    assert!(!last.context("no backup")?.is_old, "two days to the second");
    shop.clock.turn(1);
    let last = marta.read::<BackupState>("/api/backup").await?.last;
    assert!(last.context("no backup")?.is_old);
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn the_desk_knows_the_last_backup_on_sqlite() -> Result<()> {
    backup_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn the_desk_knows_the_last_backup_on_postgres() -> Result<()> {
    backup_story(Engine::Postgres).await
}

fn tool(kind: ToolKind, label: &str, checked: [Option<&str>; 2]) -> Tool {
    let check = |at: &str| Check {
        mm_per_m: 0.1,
        sigma_mm_per_m: 0.05,
        at: at.to_owned(),
        by: "Ana".to_owned(),
    };
    let [level, plumb] = checked.map(|at| at.map(check));
    Tool {
        kind,
        label: label.to_owned(),
        sigma_mm: 0.5,
        per_m_mm: 0.1,
        level_check: level,
        plumb_check: plumb,
    }
}

async fn tools_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let other = shop.other_shop("Other Works", "olga@other.example").await?;
    let (old, new) = ("2025-12-01T08:00:00Z", "2026-06-01T08:00:00Z");
    let mut books = Vec::new();
    for tools in [
        vec![
            tool(ToolKind::Laser, "green", [Some(old), None]),
            tool(ToolKind::Laser, "red", [Some(old), None]),
            tool(ToolKind::Laser, "blue", [Some(old), Some(new)]),
            tool(ToolKind::Tape, "8 m tape", [None, None]),
        ],
        vec![
            // The same lasers in a newer book: one is checked there.
            tool(ToolKind::Laser, "Green ", [None, None]),
            tool(ToolKind::Laser, "red", [Some(new), None]),
            tool(ToolKind::Laser, "bare", [None, None]),
        ],
    ] {
        let mut phone = Device::new(&document_id());
        phone.start_book()?;
        phone.connect(&marta).await?;
        for (n, tool) in tools.into_iter().enumerate() {
            let id = format!("t{n}-{}", phone.book).parse()?;
            phone.mean(&Intention::AddTool { id, tool })?;
        }
        phone.share().await?;
        books.push(phone.book);
        shop.clock.turn(60);
    }
    let due = |tool: &str, checked_at: Option<&str>| DueTool {
        tool: tool.to_owned(),
        checked_at: checked_at.map(str::to_owned),
        book: books[1].clone(),
    };
    let expected = [due("bare", None), due("Green", Some(old))];
    let mut found = Vec::new();
    for _ in 0..200 {
        found = marta.read::<Vec<DueTool>>("/api/due-tools").await?;
        if found == expected {
            break;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    assert_eq!(found, expected);
    let others: Vec<DueTool> = other.read("/api/due-tools").await?;
    ensure!(others.is_empty(), "another shop's tools: {others:?}");
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn lasers_that_are_due_for_a_check_are_listed_on_sqlite() -> Result<()> {
    tools_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn lasers_that_are_due_for_a_check_are_listed_on_postgres() -> Result<()> {
    tools_story(Engine::Postgres).await
}
