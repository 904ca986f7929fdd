//! `baybook audit verify`: does everything in an exported log hold?

use std::io::Read as _;
use std::path::{Path, PathBuf};

use clap::Args;
use shared::proof::bundle::{Bundle, Report, extends};
use shared::proof::checkpoint::Checkpoint;
use shared::proof::note::NoteKey;
use shared::sync::replay;

use crate::commands::BadInput;

/// Longest file: years of a busy shop.
const MAX_BYTES: u64 = 4 * 1024 * 1024 * 1024;

/// Verifies an exported log.
#[derive(Debug, Args)]
pub struct Verify {
    /// The file that `baybook audit export` wrote.
    file: PathBuf,
    /// The log's key as you know it; another one does not hold.
    #[arg(long)]
    key: Option<String>,
    /// An earlier export of the same shop, which this one must begin with.
    #[arg(long)]
    older: Option<PathBuf>,
}

/// Verifies it.
///
/// # Errors
/// [`BadInput`] with the first thing that does not hold, or why the file cannot be read.
pub(super) fn run(verify: &Verify) -> anyhow::Result<()> {
    let bundle = read(&verify.file)?;
    if let Some(key) = verify.key.as_ref().filter(|key| **key != bundle.key) {
        return Err(BadInput(format!(
            "{}: the log's key is {}, not {key}",
            verify.file.display(),
            bundle.key
        ))
        .into());
    }
    let report = replay::verify(&bundle);
    if let Some(fault) = &report.fault {
        return Err(BadInput(format!("{}: {fault}", verify.file.display())).into());
    }
    if let Some(older) = &verify.older {
        goes_on(older, &bundle, &verify.file)?;
    }
    print!("{}", says(&report));
    if verify.key.is_none() {
        println!("Compare the key with the one that the shop gave you, or name it with --key.");
    }
    Ok(())
}

fn says(report: &Report) -> String {
    format!(
        "Everything holds: {} entries, {} jobs, {} changes, {} sign-offs computed again, {} countersignatures.\n\
         root {}\nkey {}\n",
        report.leaves,
        report.jobs,
        report.changes,
        report.sign_offs,
        report.countersignatures,
        report.root,
        report.key
    )
}

/// The newer log begins with the older one.
fn goes_on(older: &Path, newer: &Bundle, file: &Path) -> anyhow::Result<()> {
    let bundle = read(older)?;
    let bad = |says: String| BadInput(format!("{}: {says}", older.display()));
    if bundle.key != newer.key {
        let says = format!("the log's key is {}, not {}", bundle.key, newer.key);
        return Err(bad(says).into());
    }
    let key: NoteKey = newer.key.parse().map_err(|error| bad(format!("{error}")))?;
    let head = Checkpoint::open(&bundle.checkpoint, &key)
        .map_err(|error| bad(format!("the signed head: {error}")))?;
    extends(&head, newer).map_err(|fault| BadInput(format!("{}: {fault}", file.display())).into())
}

fn read(file: &Path) -> Result<Bundle, BadInput> {
    let bad = |says: String| BadInput(format!("{}: {says}", file.display()));
    let mut bytes = Vec::new();
    std::fs::File::open(file)
        .and_then(|file| file.take(MAX_BYTES + 1).read_to_end(&mut bytes))
        .map_err(|error| bad(format!("cannot be read ({error}); name an exported log")))?;
    if bytes.len() as u64 > MAX_BYTES {
        let limit = MAX_BYTES / 1024 / 1024 / 1024;
        return Err(bad(format!("is larger than {limit} GB")));
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        bad(format!(
            "is no text from byte {} on",
            error.utf8_error().valid_up_to()
        ))
    })?;
    Bundle::parse(&text).map_err(|fault| bad(fault.to_string()))
}
