//! `baybook audit verify`: does everything in an exported log hold?

use std::io::Read as _;
use std::path::{Path, PathBuf};

use clap::Args;
use shared::plain::{clip, plain};
use shared::proof::bundle::{Bundle, Report, extends};
use shared::proof::checkpoint::Checkpoint;
use shared::proof::note::{NoteError, NoteKey};
use shared::sync::replay;

use crate::commands::{BadInput, say};

/// Longest file: years of a busy shop.
const MAX_BYTES: u64 = 4 * 1024 * 1024 * 1024;

/// Most characters that are said of one fault.
const MAX_SAID: usize = 2_000;

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
        let says = format!("the log's key is {}, not {key}", bundle.key);
        return Err(bad(&verify.file, &says).into());
    }
    let report = replay::verify(&bundle);
    if let Some(fault) = &report.fault {
        return Err(bad(&verify.file, fault).into());
    }
    if let Some(older) = &verify.older {
        goes_on(older, &bundle, &verify.file)?;
    }
    let mut text = says(&report);
    if verify.key.is_none() {
        text += "Compare the key with the one that the shop gave you, or name it with --key.\n";
    }
    say(&text)
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
    if bundle.key != newer.key {
        let says = format!("the log's key is {}, not {}", bundle.key, newer.key);
        return Err(bad(older, &says).into());
    }
    let key: NoteKey = newer
        .key
        .parse()
        .map_err(|error: NoteError| bad(older, &error))?;
    let head = Checkpoint::open(&bundle.checkpoint, &key)
        .map_err(|error| bad(older, &format!("the signed head: {error}")))?;
    extends(&head, newer).map_err(|fault| bad(file, &fault).into())
}

/// What does not hold, about a file. Whatever the file says is shown and steers nothing.
fn bad(file: &Path, says: &impl ToString) -> BadInput {
    let text = format!("{}: {}", file.display(), says.to_string());
    BadInput(clip(&plain(&text), MAX_SAID).into_owned())
}

fn read(file: &Path) -> Result<Bundle, BadInput> {
    let mut bytes = Vec::new();
    std::fs::File::open(file)
        .and_then(|file| file.take(MAX_BYTES + 1).read_to_end(&mut bytes))
        .map_err(|error| {
            bad(
                file,
                &format!("cannot be read ({error}); name an exported log"),
            )
        })?;
    if bytes.len() as u64 > MAX_BYTES {
        let limit = MAX_BYTES / 1024 / 1024 / 1024;
        return Err(bad(file, &format!("is larger than {limit} GB")));
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        let valid = error.utf8_error().valid_up_to();
        bad(file, &format!("is no text from byte {valid} on"))
    })?;
    Bundle::parse(&text).map_err(|fault| bad(file, &fault))
}
