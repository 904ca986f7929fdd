//! `baybook backup`: everything that a server keeps, as one file, also while it runs.

mod rotate;

use std::fs::{File, OpenOptions};
use std::io::{BufReader, BufWriter, Write as _};
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::Args;
use shared::plain::plain;

use super::database::DatabaseOptions;
use super::{BadInput, say, wait};
use crate::backup::{Fault, Header, Reader};
use crate::clock::{Clock, rfc3339};
use crate::store::{dump, note_backup};

/// Writes a backup.
#[derive(Debug, Args)]
pub struct Backup {
    /// The file to write; there must be none yet.
    #[arg(long, required_unless_present = "into", conflicts_with = "into")]
    out: Option<PathBuf>,
    /// The folder to write into, under a name with the time.
    #[arg(long)]
    into: Option<PathBuf>,
    /// How many of the backups in that folder to keep; without it all.
    #[arg(long, requires = "into", value_parser = clap::value_parser!(u32).range(1..))]
    keep: Option<u32>,
    #[command(flatten)]
    database: DatabaseOptions,
}

/// Writes it, and reads it again before it gets its name.
///
/// # Errors
/// [`BadInput`] when the file cannot be written; no file has this name then.
pub(super) fn run(backup: &Backup) -> anyhow::Result<()> {
    let url = backup.database.url("rw")?;
    let out = &match (&backup.out, &backup.into) {
        (Some(out), _) => out.clone(),
        (None, folder) => rotate::name(folder.as_deref().unwrap_or(Path::new(".")))?,
    };
    if out.exists() {
        return Err(bad(out, "is there already; choose another name with --out").into());
    }
    let mut part = out.clone().into_os_string();
    part.push(".part");
    let part = PathBuf::from(part);
    let made_at_ms = Clock::system().now_ms();
    let written = write(&url, &part, made_at_ms).and_then(|header| {
        read_through(&part).context("the backup was not written as it should be")?;
        std::fs::rename(&part, out)?;
        Ok(header)
    });
    if written.is_err() {
        // Half a backup is none. When it cannot be removed, its name says what it is.
        let _ = std::fs::remove_file(&part);
    }
    let name = out.display().to_string();
    say(&format!("{}: {}\n", plain(&name), says(&written?)))?;
    note(&url, made_at_ms, out)?;
    match (&backup.into, backup.keep) {
        (Some(folder), Some(keep)) => {
            let gone = rotate::remove_oldest(folder, keep)?;
            say(&format!("{} older backups are removed\n", gone.len()))
        }
        _ => Ok(()),
    }
}

/// Tells the owner's desk. The backup is good without it, so what goes wrong here is only said.
fn note(url: &str, made_at_ms: i64, out: &Path) -> anyhow::Result<()> {
    let noted = std::fs::metadata(out)
        .map_err(anyhow::Error::from)
        .and_then(|file| wait(async { Ok(note_backup(url, made_at_ms, file.len()).await?) }));
    match noted {
        Ok(()) => Ok(()),
        Err(error) => say(&format!(
            "The backup is good, but the owner's desk does not know of it: {error}. A database of an older program takes the note once the server was started with this one.\n"
        )),
    }
}

fn write(url: &str, part: &Path, made_at_ms: i64) -> anyhow::Result<Header> {
    let file = private(part).map_err(|error| {
        bad(
            part,
            &format!("cannot be written ({error}); choose another place with --out"),
        )
    })?;
    let made_at = rfc3339(made_at_ms);
    let (header, out) = wait(async {
        let out = BufWriter::new(file);
        dump(url, made_at, out).await.context(
            "no backup was written; name the database's folder with --data or its address with DATABASE_URL",
        )
    })?;
    let mut file = out
        .into_inner()
        .map_err(std::io::IntoInnerError::into_error)?;
    file.flush()?;
    file.sync_all()?;
    Ok(header)
}

/// A new file that only its owner reads: it holds the keys of the server.
fn private(path: &Path) -> std::io::Result<File> {
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)
}

/// Reads a backup to its end, which verifies it.
///
/// # Errors
/// [`Fault`].
pub(super) fn read_through(path: &Path) -> Result<Header, Fault> {
    let mut reader = open(path)?;
    while reader.next_row()?.is_some() {}
    Ok(reader.header().clone())
}

/// Opens a backup.
///
/// # Errors
/// [`Fault`].
pub(super) fn open(path: &Path) -> Result<Reader<BufReader<File>>, Fault> {
    Reader::open(BufReader::new(File::open(path).map_err(Fault::File)?))
}

/// A backup in one line.
pub(super) fn says(header: &Header) -> String {
    let of = |name: &str| {
        let table = header.tables.iter().find(|table| table.name == name);
        table.map_or(0, |table| table.rows)
    };
    format!(
        "{} shops, {} books, {} changes, {} entries of the log, {} rows in all, as of {}",
        of("shop"),
        of("doc"),
        of("doc_change"),
        of("log_leaf"),
        header.tables.iter().map(|table| table.rows).sum::<u64>(),
        header.made_at
    )
}

/// What is wrong with a file.
pub(super) fn bad(path: &Path, says: &str) -> BadInput {
    let text = format!("{}: {says}", path.display());
    BadInput(plain(&text).into_owned())
}
