//! The real program as an operator meets it: settings, readiness, figures, the log, a stop in the
//! middle of work; and that the container files and the pages name nothing that is not there.

use std::collections::BTreeSet;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Output, Stdio};
use std::time::Duration;

use anyhow::{Context, Result, ensure};
use openmetrics_parser::openmetrics::parse_openmetrics;
use reqwest::header::HeaderMap;
use reqwest::{Client, Method};
use serde_json::{Value, json};
use shared::book::Intention;
use shared::wire::{AdjusterLink, Follow, Role};
use tests::database::{Engine, Scratch};
use tests::device::{Device, document_id};
use tests::shop::{PASSWORD, Person};
use tokio::io::{AsyncBufReadExt, BufReader};
use tokio::process::{Child, Command};
use tokio::time::{Instant, timeout};

/// Requests have ten seconds, books as long, and the machine may be busy.
const BOUND: Duration = Duration::from_secs(20);

/// The program, and a file with everything it says on either output.
struct Program {
    child: Child,
    addr: SocketAddr,
    metrics: SocketAddr,
    link: String,
    log: PathBuf,
}

impl Program {
    async fn start(scratch: &Scratch, filter: &str) -> Result<Self> {
        let log = scratch.folder.join("log");
        let mut child = Command::new(env!("CARGO_BIN_EXE_baybook"))
            .args(["serve", "--listen", "127.0.0.1:0", "--data"])
            .arg(&scratch.folder)
            .args(["--metrics-listen", "127.0.0.1:0", "--log-format", "json"])
            .env("DATABASE_URL", &scratch.url)
            .env("RUST_LOG", filter)
            .env("BAYBOOK_LISTENN", "misspelt")
            .stdout(Stdio::piped())
            .stderr(std::fs::File::create(&log)?)
            .kill_on_drop(true)
            .spawn()?;
        let mut said = BufReader::new(child.stdout.take().context("no output")?).lines();
        let first = said.next_line().await?.context("it said nothing")?;
        let addr = first.strip_prefix("Baybook is at http://");
        let addr = addr.context("no address")?.parse()?;
        said.next_line().await?;
        let link = said.next_line().await?.context("no link")?;
        let started = timeout(BOUND, async {
            loop {
                let lines = lines(&log)?;
                let started = lines.into_iter().find(|line| line["message"] == "started");
                match started {
                    Some(line) => return anyhow::Ok(line),
                    None => tokio::time::sleep(Duration::from_millis(20)).await,
                }
            }
        });
        let figures = started.await??["figures"].clone();
        let figures = figures.as_str().context("no figures")?;
        let metrics = figures.trim_start_matches("Some(").trim_end_matches(')');
        Ok(Self {
            child,
            addr,
            metrics: metrics.parse()?,
            link: link.trim().to_owned(),
            log,
        })
    }

    async fn figures(&self) -> Result<Vec<(String, f64)>> {
        let answer = Client::new()
            .get(format!("http://{}/metrics", self.metrics))
            .send()
            .await?;
        let media = answer.headers()["content-type"].to_str()?.to_owned();
        ensure!(media.starts_with("application/openmetrics-text"), "{media}");
        let text = answer.text().await?;
        parse_openmetrics(&text).map_err(|error| anyhow::anyhow!("{error:?} in\n{text}"))?;
        let lines = text.lines().filter(|line| !line.starts_with('#'));
        let split = |line: &str| {
            let (name, value) = line.rsplit_once(' ').context("no value")?;
            Ok((name.to_owned(), value.parse()?))
        };
        lines.map(split).collect()
    }

    fn tell_to_stop(&self) -> Result<()> {
        let number = self.child.id().context("it has ended")?.to_string();
        let told = std::process::Command::new("kill")
            .args(["-TERM", &number])
            .status()?;
        ensure!(told.success(), "kill");
        Ok(())
    }
}

/// The log, whose every line must be one JSON object.
fn lines(log: &Path) -> Result<Vec<Value>> {
    let text = std::fs::read_to_string(log)?;
    // The last line may still be on its way.
    let whole = text.rsplit_once('\n').map_or("", |(whole, _)| whole);
    let lines = whole.lines().map(|line| {
        serde_json::from_str(line).with_context(|| format!("no JSON in the log: {line}"))
    });
    lines.collect()
}

fn sum(figures: &[(String, f64)], begin: &str) -> f64 {
    let of = figures.iter().filter(|(name, _)| name.starts_with(begin));
    of.map(|(_, value)| value).sum()
}

/// A story with everything that people type, and a search of the whole log for it, with more of the
/// server in the log than anybody would run it with. The figures tell of nobody either.
#[tokio::test(flavor = "multi_thread")]
async fn log_and_figures_tell_of_nobody() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let mut program = Program::start(&scratch, "debug,server=trace").await?;
    let marta = Person::at(program.addr).set_up(&program.link).await?;
    let ana = marta.bring("Anastasia", Role::Technician).await?;
    let mut phone = Device::new(&document_id());
    phone.start_book()?;
    let mut car = shared::demo::job();
    car.card.vin = Some("WBB0000000S000017".into());
    car.card.number = "JOB-4711-X".into();
    car.card.vehicle = "Grey Testmobile".into();
    phone.mean(&Intention::TakeOverJob { job: Box::new(car) })?;
    let before = program.figures().await?;
    phone.connect(&ana).await?;
    phone.share().await?;
    // A wrong password, a name that is none, a link that never was, a refused batch.
    let nobody = Person::at(program.addr);
    let wrong = json!({ "email": "eve@elsewhere.example", "password": "hunter2hunter2" });
    ensure!(nobody.post("/api/session", &wrong).await?.status() == 401);
    let body = json!({ "label": "Adjuster Holmqvist", "days": 7 });
    let path = format!("/api/jobs/{}/links", phone.book);
    let link: AdjusterLink = ana.post(&path, &body).await?.json().await?;
    let token = link.link.rsplit('/').next().context("no token")?;
    let body = json!({ "token": token });
    let follow: Follow = nobody.post("/api/follow", &body).await?.json().await?;
    let mut stranger = Device::new(&phone.book);
    stranger.connect(&ana).await?;
    stranger.share().await?;
    stranger.say("sync", b"Mallory's bytes".to_vec()).await?;
    ensure!(stranger.hear().await? == "error");
    nobody
        .get("/api/jobs/SECRETBOOK?ticket=SECRETTICKET")
        .await?;

    let after = program.figures().await?;
    for (name, least) in [
        (
            "baybook_http_requests_total{method=\"POST\",route=\"/api/session\",status=\"401\"}",
            1.0,
        ),
        ("baybook_batches_accepted_total", 1.0),
        ("baybook_batches_refused_total{reason=\"unreadable\"}", 1.0),
        ("baybook_changes_written_total", 2.0),
        ("baybook_commit_duration_seconds_count", 1.0),
        ("baybook_http_request_duration_seconds_count", 5.0),
    ] {
        let moved = sum(&after, name) - sum(&before, name);
        ensure!(moved >= least, "{name} moved by {moved}");
    }
    ensure!(sum(&after, "baybook_lines_open{kind=\"member\"}") >= 2.0);
    ensure!(sum(&after, "baybook_documents_open") == 1.0);
    ensure!(sum(&after, "process_resident_memory_bytes") > 1e6);

    program.tell_to_stop()?;
    timeout(BOUND, program.child.wait()).await??;
    let said = lines(&program.log)?;
    ensure!(said.last().is_some_and(|line| line["message"] == "stopped"));
    let misspelt = |line: &&Value| {
        line.to_string()
            .contains("BAYBOOK_LISTENN: no such setting")
    };
    ensure!(
        said.iter().any(|line| misspelt(&line)),
        "a trap goes unsaid"
    );
    ensure!(said.len() > 20, "{} lines are no story", said.len());

    let mut log = std::fs::read_to_string(&program.log)?;
    for (name, _) in &after {
        log += name;
    }
    let tokens = [&marta, &ana].map(|person| {
        let session = person
            .session
            .as_ref()
            .map(|session| session.access_token.clone());
        let cookie = person
            .cookie
            .as_deref()
            .and_then(|cookie| cookie.split_once('='));
        [session, cookie.map(|(_, value)| value.to_owned())]
    });
    let typed = [
        "Marta",
        "marta@",
        "Anastasia",
        "anastasia@",
        "shop.example",
        "Test Body Works",
        PASSWORD,
        "WBB0000000S000017",
        "JOB-4711-X",
        "Testmobile",
        "eve@elsewhere",
        "hunter2",
        "Holmqvist",
        "Mallory",
        "SECRETBOOK",
        "SECRETTICKET",
        "127.0.0.1:0/",
        token,
        &follow.access_token,
        &follow.ticket,
    ];
    let tokens: Vec<String> = tokens.into_iter().flatten().flatten().collect();
    ensure!(tokens.len() == 4, "tokens to look for");
    for secret in typed.into_iter().chain(tokens.iter().map(String::as_str)) {
        let found = log.lines().find(|line| line.contains(secret));
        ensure!(found.is_none(), "{secret} is in the log: {found:?}");
    }
    Ok(())
}

/// A request has an id, in the answer's head, in an error's body, and in the log.
#[tokio::test(flavor = "multi_thread")]
async fn an_error_can_be_found_in_the_log() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let mut program = Program::start(&scratch, "warn,server=info").await?;
    let nobody = Person::at(program.addr);
    let (no_body, headers) = (None::<&()>, HeaderMap::new());
    let answer = nobody
        .send(Method::GET, "/api/people", no_body, headers)
        .await?;
    let id = answer.headers()["x-request-id"].to_str()?.to_owned();
    let body: Value = answer.json().await?;
    assert_eq!(body["request"], id.as_str());
    assert_eq!(body["code"], "sign-in-needed");
    program.tell_to_stop()?;
    timeout(BOUND, program.child.wait()).await??;
    let said = lines(&program.log)?;
    let line = said.iter().find(|line| line["span"]["id"] == id.as_str());
    let line = line.with_context(|| format!("no line of {id}"))?;
    assert_eq!(
        (&line["route"], &line["status"]),
        (&json!("/api/people"), &json!(401))
    );
    Ok(())
}

/// Told to stop while four people write: whatever was acknowledged is there, and it ends in time.
async fn stop_story(engine: Engine) -> Result<()> {
    let scratch = Scratch::new(engine).await?;
    let mut program = Program::start(&scratch, "warn,server=info").await?;
    let ready = Client::new().get(format!("http://{}/ready", program.addr));
    let readiness: Value = ready.send().await?.json().await?;
    let listening = match engine {
        Engine::Sqlite => Value::Null,
        Engine::Postgres => Value::Bool(true),
    };
    assert_eq!(
        readiness,
        json!({ "ready": true, "database": true, "migrations": true, "listening": listening, "stopping": false })
    );
    let marta = Person::at(program.addr).set_up(&program.link).await?;
    let book = document_id();
    let mut writers = Vec::new();
    for _ in 0..4 {
        let mut phone = Device::new(&book);
        phone.connect(&marta).await?;
        writers.push(tokio::spawn(async move {
            let name = phone.actor();
            let mut acknowledged = 0;
            loop {
                phone.write(&name, acknowledged + 1)?;
                match phone.share().await {
                    Ok(()) => acknowledged += 1,
                    Err(end) => return anyhow::Ok((name, acknowledged, end.to_string())),
                }
            }
        }));
    }
    tokio::time::sleep(Duration::from_millis(1500)).await;
    let begun = Instant::now();
    program.tell_to_stop()?;
    let ended = timeout(BOUND, program.child.wait()).await??;
    ensure!(ended.success(), "{ended}");
    println!("stopped in {} ms", begun.elapsed().as_millis());
    ensure!(
        Client::new()
            .get(format!("http://{}/health", program.addr))
            .send()
            .await
            .is_err(),
        "it still answers"
    );
    let again = Program::start_over(&scratch).await?;
    let mut fresh = Device::new(&book);
    fresh.connect(&marta.moved_to(again.1)).await?;
    fresh.share().await?;
    let mut all = 0;
    for writer in writers {
        let (name, acknowledged, _) = writer.await??;
        let there = fresh.read(&name)?.unwrap_or_default();
        ensure!(there >= acknowledged, "{there} of {acknowledged}");
        all += acknowledged;
    }
    ensure!(all > 4, "{all} acknowledgements are no work");
    drop(again);
    Ok(())
}

impl Program {
    /// Starts it again over a shop that is set up.
    async fn start_over(scratch: &Scratch) -> Result<(Child, SocketAddr)> {
        let mut child = Command::new(env!("CARGO_BIN_EXE_baybook"))
            .args(["serve", "--listen", "127.0.0.1:0", "--data"])
            .arg(&scratch.folder)
            .env("DATABASE_URL", &scratch.url)
            .stdout(Stdio::piped())
            .kill_on_drop(true)
            .spawn()?;
        let mut said = BufReader::new(child.stdout.take().context("no output")?).lines();
        let first = said.next_line().await?.context("it said nothing")?;
        let addr = first.strip_prefix("Baybook is at http://");
        Ok((child, addr.context("no address")?.parse()?))
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn stops_in_the_middle_of_work_on_sqlite() -> Result<()> {
    stop_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn stops_in_the_middle_of_work_on_postgres() -> Result<()> {
    stop_story(Engine::Postgres).await
}

async fn serve(arguments: &[&str], variables: &[(&str, &str)]) -> Result<Output> {
    Ok(Command::new(env!("CARGO_BIN_EXE_baybook"))
        .arg("serve")
        .args(arguments)
        .envs(variables.iter().copied())
        .output()
        .await?)
}

/// Every wrong setting is told at once, before anything is opened.
#[tokio::test(flavor = "multi_thread")]
async fn all_settings_are_checked_before_anything_is_opened() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let data = scratch.folder.join("data").display().to_string();
    let wrong = [
        ("BAYBOOK_LISTEN", "here"),
        ("BAYBOOK_PUBLIC_URL", "book.example.org"),
        ("BAYBOOK_TRUSTED_PROXY", "10.0.0.1,proxy"),
        ("DATABASE_URL", "mysql://somewhere"),
        ("BAYBOOK_DEMO_LANGUAGE", "fr"),
        ("RUST_LOG", "server=loud"),
    ];
    let output = serve(&["--data", &data], &wrong).await?;
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{said}");
    for (name, _) in wrong {
        assert!(said.contains(name), "{name} is not told:\n{said}");
    }
    assert_eq!(said.lines().count(), wrong.len(), "{said}");

    let good = serve(&["--data", &data, "--check-only"], &[]).await?;
    let said = String::from_utf8_lossy(&good.stdout).into_owned();
    assert!(good.status.success() && said.contains("are good"), "{said}");
    assert!(!Path::new(&data).join("baybook.sqlite").exists());
    let misspelt = [("BAYBOOK_PUBLICURL", "https://book.example.org")];
    let output = serve(&["--data", &data, "--check-only"], &misspelt).await?;
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(
        !output.status.success() && said.contains("BAYBOOK_PUBLIC_URL"),
        "{said}"
    );
    Ok(())
}

/// All words of a text that begin so.
fn words<'a>(text: &'a str, begin: &str) -> BTreeSet<&'a str> {
    let in_word = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    let words = text.split(|c| !in_word(c));
    let words = words.map(|word| word.trim_end_matches('-'));
    words
        .filter(|word| word.starts_with(begin) && word.len() > begin.len())
        .collect()
}

/// Whatever the container files and the pages for operators name, the program has.
#[tokio::test(flavor = "multi_thread")]
async fn pages_and_container_files_name_what_is_there() -> Result<()> {
    let mut help = String::new();
    for command in [
        &["serve"][..],
        &["backup"],
        &["restore"],
        &["rebuild"],
        &["audit", "export"],
        &["audit", "verify"],
        &["solve"],
    ] {
        let output = Command::new(env!("CARGO_BIN_EXE_baybook"))
            .args(command)
            .arg("--help")
            .output()
            .await?;
        help += &String::from_utf8(output.stdout)?;
    }
    let variables = words(&help, "BAYBOOK_");
    let options = words(&help, "--");
    ensure!(variables.len() >= 7 && options.len() >= 12, "{help}");
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let read = |name: &str| {
        std::fs::read_to_string(root.join(name)).with_context(|| format!("reading {name}"))
    };
    for name in [
        "Dockerfile",
        "docker-compose.yml",
        "deploy/Caddyfile",
        "docs/operations.md",
    ] {
        let text = read(name)?;
        for variable in words(&text, "BAYBOOK_") {
            ensure!(variables.contains(variable), "{name} names {variable}");
        }
    }
    let compose = read("docker-compose.yml")?;
    let commands = compose.lines().filter(|line| {
        let line = line.trim_start();
        line.starts_with("command:") || line.starts_with("entrypoint:")
    });
    let ours = commands.filter(|line| line.contains("\"serve\"") || line.contains("\"backup\""));
    let docs = read("docs/operations.md")?;
    let rows = docs.lines().filter(|line| {
        line.starts_with("| `--") || line.starts_with("baybook ") || line.contains("baybook backup")
    });
    let mut seen = 0;
    for line in ours.chain(rows) {
        for option in words(line, "--") {
            ensure!(options.contains(option), "{option} is no option: {line}");
            seen += 1;
        }
    }
    ensure!(seen >= 10, "only {seen} options were looked at");
    // And the page has every setting of the server.
    for option in &options {
        let of_serve = help
            .split("Usage: baybook backup")
            .next()
            .unwrap_or_default();
        let is_setting = !["--help", "--version"].contains(option);
        ensure!(
            !is_setting || !words(of_serve, "--").contains(option) || docs.contains(option),
            "docs/operations.md does not have {option}"
        );
    }
    Ok(())
}
