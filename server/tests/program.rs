//! The real program: killed without warning while phones write, told to stop, started wrongly.

use std::fs::File;
use std::net::SocketAddr;
use std::path::Path;
use std::process::Stdio;
use std::time::Duration;

use anyhow::{Context, Result, bail};
use serde_json::json;
use shared::figures::Language;
use shared::job::SetAside;
use shared::wire::JobLine;
use tests::database::{Engine, Scratch};
use tests::device::{Device, document_id};
use tests::shop::Person;
use tokio::io::{AsyncBufReadExt, BufReader, Lines};
use tokio::process::{Child, ChildStdout, Command};
use tokio::time::timeout;

struct Program {
    child: Child,
    addr: SocketAddr,
    said: Lines<BufReader<ChildStdout>>,
}

impl Program {
    async fn start(folder: &Path, url: &str) -> Result<Self> {
        Self::start_with(folder, url, &[]).await
    }

    async fn start_with(folder: &Path, url: &str, options: &[&str]) -> Result<Self> {
        Self::start_logged(folder, url, options, Stdio::inherit()).await
    }

    async fn start_logged(folder: &Path, url: &str, options: &[&str], log: Stdio) -> Result<Self> {
        let mut child = Command::new(env!("CARGO_BIN_EXE_baybook"))
            .args(["serve", "--listen", "127.0.0.1:0", "--data"])
            .arg(folder)
            .args(options)
            .env("DATABASE_URL", url)
            .stdout(Stdio::piped())
            .stderr(log)
            .kill_on_drop(true)
            .spawn()?;
        let mut said = BufReader::new(child.stdout.take().context("no output")?).lines();
        let first = said.next_line().await?.context("it said nothing")?;
        let addr = first
            .strip_prefix("Baybook is at http://")
            .context("no address")?
            .parse()?;
        Ok(Self { child, addr, said })
    }

    async fn set_up_link(&mut self) -> Result<String> {
        while let Some(line) = self.said.next_line().await? {
            if line.contains("/#/setup/") {
                return Ok(line.trim().to_owned());
            }
        }
        bail!("no set-up link")
    }
}

async fn power_cut_story(engine: Engine) -> Result<()> {
    let scratch = Scratch::new(engine).await?;
    let mut program = Program::start(&scratch.folder, &scratch.url).await?;
    let link = program.set_up_link().await?;
    let mut marta = Person::at(program.addr).set_up(&link).await?;
    let mut phone = Device::new(&document_id());
    let mut acknowledged = 0;
    for _ in 0..4 {
        phone.connect(&marta).await?;
        for _ in 0..25 {
            acknowledged += 1;
            phone.write("n", acknowledged)?;
            phone.share().await?;
        }
        // One more is on its way when the lights go out; it may or may not arrive.
        phone.write("on its way", acknowledged)?;
        phone.offer().await?;
        program.child.kill().await?;
        program = Program::start(&scratch.folder, &scratch.url).await?;
        marta = marta.moved_to(program.addr);
        let mut fresh = Device::new(&phone.book);
        fresh.connect(&marta).await?;
        fresh.share().await?;
        assert_eq!(fresh.read("n")?, Some(acknowledged));
    }
    // The phone still has everything, and shares what was on its way.
    phone.connect(&marta).await?;
    phone.share().await?;
    assert_eq!(
        scratch.number("SELECT COUNT(*) FROM doc_change").await?,
        acknowledged + 4
    );
    assert_eq!(
        scratch
            .number("SELECT COUNT(*) - MAX(seq) FROM doc_change")
            .await?,
        0
    );
    Ok(())
}

#[tokio::test(flavor = "multi_thread")]
async fn power_cut_on_sqlite() -> Result<()> {
    power_cut_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn power_cut_on_postgres() -> Result<()> {
    power_cut_story(Engine::Postgres).await
}

/// An open line does not hold the server up; what it had is on disk, snapshot and all.
#[tokio::test(flavor = "multi_thread")]
async fn stops_when_it_is_told() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let mut program = Program::start(&scratch.folder, &scratch.url).await?;
    let link = program.set_up_link().await?;
    let marta = Person::at(program.addr).set_up(&link).await?;
    let mut phone = Device::new(&document_id());
    phone.write("height", 612)?;
    phone.connect(&marta).await?;
    phone.share().await?;
    let number = program.child.id().context("it has ended")?.to_string();
    let told = Command::new("kill")
        .args(["-TERM", &number])
        .status()
        .await?;
    assert!(told.success());
    let ended = timeout(Duration::from_secs(9), program.child.wait()).await??;
    assert!(ended.success(), "{ended}");
    assert_eq!(scratch.number("SELECT seq FROM doc_snapshot").await?, 1);
    // The link is not printed again once there is a shop.
    let mut program = Program::start(&scratch.folder, &scratch.url).await?;
    program.child.kill().await?;
    assert!(program.set_up_link().await.is_err());
    Ok(())
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demo_shop_is_made_once() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    for _ in 0..2 {
        let mut program = Program::start_with(&scratch.folder, &scratch.url, &["--demo"]).await?;
        let mut entered = 0;
        while entered < 3 {
            let line = program.said.next_line().await?.context("too few people")?;
            // sign in as Ana Lind (technician): ana@demo.example  password
            if let Some((_, data)) = line.rsplit_once("): ") {
                let (email, password) = data.split_once("  ").context("no password")?;
                let body = json!({ "email": email, "password": password });
                Person::at(program.addr)
                    .enter("/api/session", &body)
                    .await?;
                entered += 1;
            }
        }
        program.child.kill().await?;
    }
    assert_eq!(scratch.number("SELECT COUNT(*) FROM \"user\"").await?, 3);
    assert_eq!(scratch.number("SELECT COUNT(*) FROM shop").await?, 1);
    Ok(())
}

/// The demo car is written in the language that was asked for first, and stays so.
#[tokio::test(flavor = "multi_thread")]
async fn the_demo_car_is_made_in_the_language_that_is_asked_for() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let ana = server::demo::PEOPLE[1];
    let body = json!({ "email": ana.email, "password": ana.password });
    let mut car = shared::demo::job_in(Language::Spanish);
    // What a colleague set aside after the sign-off.
    let found = shared::demo::correction(Language::Spanish).context("no correction")?;
    let mut readings = car.readings.iter_mut();
    let corrected = readings.find(|one| one.id == found.reading);
    corrected.context("no such reading")?.set_aside = Some(SetAside {
        why: found.why,
        by: found.by.to_owned(),
    });
    let log = scratch.folder.join("log");
    for (asked, says) in [
        ("es", None),
        ("en", Some("in the language es")),
        ("es", None),
    ] {
        let options = ["--demo", "--demo-language", asked];
        let into = File::create(&log)?.into();
        let mut program =
            Program::start_logged(&scratch.folder, &scratch.url, &options, into).await?;
        let entered = Person::at(program.addr)
            .enter("/api/session", &body)
            .await?;
        let cars: Vec<JobLine> = entered.read("/api/jobs").await?;
        let [line] = cars.as_slice() else {
            bail!("{} cars", cars.len());
        };
        assert_eq!(line.vehicle, car.card.vehicle);
        let mut phone = Device::new(&line.book);
        phone.connect(&entered).await?;
        phone.share().await?;
        let job = phone.job()?;
        assert_eq!((&job.stages, &job.setups), (&car.stages, &car.setups));
        assert_eq!((&job.points, &job.members), (&car.points, &car.members));
        assert_eq!(job.readings, car.readings);
        program.child.kill().await?;
        let log = std::fs::read_to_string(&log)?;
        assert_eq!(log.contains("demo car"), says.is_some(), "{log}");
        assert!(says.is_none_or(|says| log.contains(says)), "{log}");
    }
    Ok(())
}

/// Every wrong start says what to change.
#[tokio::test(flavor = "multi_thread")]
async fn says_why_it_does_not_start() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let program = Program::start(&scratch.folder, &scratch.url).await?;
    let busy = program.addr.to_string();
    let folder = scratch.folder.display().to_string();
    let file = scratch.folder.join("a-file");
    std::fs::write(&file, b"")?;
    let file = file.display().to_string();
    let free = "127.0.0.1:0";
    for (listen, data, url, word) in [
        (
            busy.as_str(),
            folder.as_str(),
            scratch.url.as_str(),
            "--listen",
        ),
        (free, file.as_str(), scratch.url.as_str(), "--data"),
        (free, folder.as_str(), "mysql://somewhere", "postgres://"),
        (
            free,
            folder.as_str(),
            "sqlite:///no/such/folder/file.sqlite",
            "DATABASE_URL",
        ),
    ] {
        let output = Command::new(env!("CARGO_BIN_EXE_baybook"))
            .args(["serve", "--listen", listen, "--data", data])
            .env("DATABASE_URL", url)
            .output()
            .await?;
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(
            !output.status.success() && said.contains(word),
            "{word}: {said}"
        );
        assert!(!said.contains("panicked"), "{said}");
    }
    Ok(())
}

/// Two programs on one PostgreSQL; one is killed, and its phone goes to the other.
#[tokio::test(flavor = "multi_thread")]
async fn any_of_two_servers_can_die() -> Result<()> {
    let scratch = Scratch::new(Engine::Postgres).await?;
    let mut one = Program::start(&scratch.folder, &scratch.url).await?;
    let link = one.set_up_link().await?;
    let marta = Person::at(one.addr).set_up(&link).await?;
    let mut other = Program::start(&scratch.folder, &scratch.url).await?;
    let book = document_id();
    let (mut left, mut right) = (Device::new(&book), Device::new(&book));
    left.write("left", 0)?;
    left.connect(&marta).await?;
    left.share().await?;
    right.connect(&marta.moved_to(other.addr)).await?;
    right.share().await?;
    for n in 1..10 {
        left.write("left", n)?;
        left.share().await?;
        right.write("right", n)?;
        right.share().await?;
    }
    left.write("on its way", 1)?;
    left.offer().await?;
    one.child.kill().await?;
    left.connect(&marta.moved_to(other.addr)).await?;
    left.share().await?;
    while right.doc.get_heads() != left.doc.get_heads() {
        right.offer().await?;
        right.hear().await?;
        left.offer().await?;
    }
    assert_eq!(right.read("on its way")?, Some(1));
    assert_eq!(
        (right.read("left")?, left.read("right")?),
        (Some(9), Some(9))
    );
    let rows = scratch.number("SELECT COUNT(*) FROM doc_change").await?;
    assert_eq!(rows, scratch.number("SELECT seq FROM doc").await?);
    other.child.kill().await?;
    Ok(())
}

/// A second program on the same SQLite file says what to do instead.
#[tokio::test(flavor = "multi_thread")]
async fn a_second_program_on_sqlite_is_refused() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let mut first = Program::start(&scratch.folder, &scratch.url).await?;
    let output = Command::new(env!("CARGO_BIN_EXE_baybook"))
        .args(["serve", "--listen", "127.0.0.1:0", "--data"])
        .arg(&scratch.folder)
        .env("DATABASE_URL", &scratch.url)
        .output()
        .await?;
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(!output.status.success());
    assert!(said.contains("another server is running on"), "{said}");
    // However the first ends, the next one starts.
    first.child.kill().await?;
    let mut next = Program::start(&scratch.folder, &scratch.url).await?;
    next.child.kill().await?;
    Ok(())
}
