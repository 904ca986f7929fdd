//! `baybook solve`: one car from a job file, without a server.

use std::io::Read as _;
use std::path::PathBuf;

use anyhow::Context;
use clap::Args;
use shared::jobfile::{MAX_BYTES, parse_bytes};
use shared::plain::plain;

use super::{BadInput, say};

/// Solves a job file and writes its result as JSON.
#[derive(Debug, Args)]
pub struct Solve {
    /// The job file, or - for standard input.
    file: PathBuf,
    /// Prints the findings in words and tables instead of JSON.
    #[arg(long)]
    text: bool,
}

/// Solves it.
///
/// # Errors
/// [`BadInput`] with every fault of the file; nothing has been printed then.
pub fn run(solve: &Solve) -> anyhow::Result<()> {
    let name = solve.file.display().to_string();
    let name = plain(&name);
    let bytes = read(solve).map_err(|error| {
        BadInput(format!(
            "{name}: cannot be read ({error}); name a job file, or - for standard input"
        ))
    })?;
    let job = parse_bytes(&bytes).map_err(|refusals| {
        let lines = refusals.iter().map(|refusal| format!("{name}: {refusal}"));
        BadInput(lines.collect::<Vec<_>>().join("\n"))
    })?;
    drop(bytes);
    let result = shared::solve::solve(&job);
    if solve.text {
        return say(&shared::text::findings(&job, &result));
    }
    let json = serde_json::to_string_pretty(&result).context("writing the result")?;
    say(&format!("{json}\n"))
}

/// The bytes of the file, one more than there may be at most: enough to refuse it.
fn read(solve: &Solve) -> std::io::Result<Vec<u8>> {
    let most = MAX_BYTES as u64 + 1;
    let mut bytes = Vec::new();
    if solve.file.as_os_str() == "-" {
        std::io::stdin().lock().take(most).read_to_end(&mut bytes)?;
    } else {
        std::fs::File::open(&solve.file)?
            .take(most)
            .read_to_end(&mut bytes)?;
    }
    Ok(bytes)
}
