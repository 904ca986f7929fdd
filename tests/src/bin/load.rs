//! `cargo xtask load`: how fast a server is with many lines, ours and the stock one in one run.

use std::path::PathBuf;
use std::time::Duration;

use anyhow::{Result, ensure};
use clap::Parser;
use tests::database::{Engine, Scratch};
use tests::load::{HANDS, Kind, Latency, Peer, crowd, grown};

/// How long what was begun for one story has to end.
const TO_END: Duration = Duration::from_secs(10);

/// Measures servers; the machine decides the figures, so compare those of one run only.
#[derive(Debug, Parser)]
struct Options {
    /// The program `baybook`, built with `--release`.
    #[arg(long)]
    server: PathBuf,
    /// `node`, with the packages of tests/stock-server; without it only ours is measured.
    #[arg(long)]
    node: Option<PathBuf>,
    /// Lines, in rising order.
    #[arg(long, value_delimiter = ',', default_value = "16,80,1000,2000")]
    lines: Vec<usize>,
    /// Readings of the growing book.
    #[arg(long, value_delimiter = ',', default_value = "20,100,1000,3000")]
    readings: Vec<usize>,
}

fn main() -> Result<()> {
    let options = Options::parse();
    let most = options.lines.iter().max().copied().unwrap_or_default();
    enough_files(most + 200)?;
    for kind in [Kind::Ours, Kind::Stock] {
        let name = match (kind, &options.node) {
            (Kind::Ours, _) => "ours",
            (Kind::Stock, Some(_)) => "stock",
            (Kind::Stock, None) => continue,
        };
        for &lines in &options.lines {
            let what = format!("{name}: {lines} lines, {HANDS} to a car");
            tell(&what, many(kind, &options, lines))?;
        }
        for &readings in &options.readings {
            let what = format!("{name}: a book of {readings} readings");
            tell(&what, growing(kind, &options, readings))?;
        }
    }
    Ok(())
}

/// Measures and tells; whoever gives up is told beside the others. All that was begun for it, servers
/// and lines, ends with it, so that the next has the machine to itself.
fn tell(what: &str, story: impl Future<Output = Result<String>>) -> Result<()> {
    let runtime = tokio::runtime::Runtime::new()?;
    match runtime.block_on(story) {
        Ok(said) => println!("{what}; {said}"),
        Err(error) => println!("{what}: not finished ({error:#})"),
    }
    runtime.shutdown_timeout(TO_END);
    Ok(())
}

/// Many lines at once.
async fn many(kind: Kind, options: &Options, lines: usize) -> Result<String> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let peer = start(kind, options, &scratch).await?;
    let crowd = crowd(&peer, lines).await?;
    let (taken_up, each) = (crowd.took.as_secs_f64(), crowd.bytes_per_line / 1e3);
    let latency = crowd.measure(&peer).await?;
    Ok(format!(
        "taken up in {taken_up:.1} s, {each:.0} kB each; {}",
        says(latency)
    ))
}

/// One book that grows.
async fn growing(kind: Kind, options: &Options, readings: usize) -> Result<String> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let mut peer = start(kind, options, &scratch).await?;
    let (latency, open, cold) = grown(&mut peer, readings).await?;
    Ok(format!(
        "{}; whole book to a new phone {:.0} ms, after a restart {:.0} ms",
        says(latency),
        open.as_secs_f64() * 1e3,
        cold.as_secs_f64() * 1e3
    ))
}

async fn start(kind: Kind, options: &Options, scratch: &Scratch) -> Result<Peer> {
    match (kind, &options.node) {
        (Kind::Stock, Some(node)) => Peer::stock(node, &scratch.folder).await,
        _ => Peer::ours(&options.server, &scratch.folder).await,
    }
}

fn says(latency: Latency) -> String {
    format!(
        "relayed {:.1} ms (95 %: {:.1}), durable {:.1} ms (95 %: {:.1})",
        latency.relayed.middle_ms,
        latency.relayed.most_ms,
        latency.durable.middle_ms,
        latency.durable.most_ms
    )
}

/// A line is a file on either side.
fn enough_files(wanted: usize) -> Result<()> {
    let limits = std::fs::read_to_string("/proc/self/limits").unwrap_or_default();
    let line = limits
        .lines()
        .find_map(|line| line.strip_prefix("Max open files"));
    let soft = line.and_then(|rest| rest.split_whitespace().next()?.parse::<usize>().ok());
    ensure!(
        soft.is_none_or(|soft| soft >= wanted),
        "{wanted} open files are needed and {} allowed; raise the limit: ulimit -n 65536",
        soft.unwrap_or_default()
    );
    Ok(())
}
