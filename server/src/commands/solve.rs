//! `baybook solve`: one car from a job file, without a server.

use std::io::{Read as _, Write as _};
use std::path::PathBuf;

use anyhow::Context;
use clap::Args;

use super::BadInput;

/// Longest file: a job of 50,000 readings is about a quarter of it.
const MAX_BYTES: u64 = 64 * 1024 * 1024;

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
    let text = read(solve)?;
    let job = shared::jobfile::parse(&text).map_err(|refusals| {
        let lines = refusals
            .iter()
            .map(|refusal| format!("{}: {refusal}", solve.file.display()));
        BadInput(lines.collect::<Vec<_>>().join("\n"))
    })?;
    let result = shared::solve::solve(&job);
    let answer = if solve.text {
        shared::text::findings(&job, &result)
    } else {
        let mut json = serde_json::to_string_pretty(&result).context("writing the result")?;
        json.push('\n');
        json
    };
    std::io::stdout()
        .write_all(answer.as_bytes())
        .context("writing to standard output")
}

fn read(solve: &Solve) -> anyhow::Result<String> {
    let name = solve.file.display();
    let bad = |says: String| BadInput(format!("{name}: {says}"));
    let mut bytes = Vec::new();
    let taken = if solve.file.as_os_str() == "-" {
        std::io::stdin()
            .lock()
            .take(MAX_BYTES + 1)
            .read_to_end(&mut bytes)
    } else {
        std::fs::File::open(&solve.file)
            .and_then(|file| file.take(MAX_BYTES + 1).read_to_end(&mut bytes))
    };
    taken.map_err(|error| {
        bad(format!(
            "cannot be read ({error}); name a job file, or - for standard input"
        ))
    })?;
    if bytes.len() as u64 > MAX_BYTES {
        return Err(bad(format!(
            "is larger than {} MB; a job is far smaller",
            MAX_BYTES / 1024 / 1024
        ))
        .into());
    }
    Ok(String::from_utf8(bytes)
        .map_err(|_| bad("is not UTF-8 text; a job file is JSON".to_owned()))?)
}
