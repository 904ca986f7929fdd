//! A folder of backups: names with the time, of which the newest are kept.
//!
//! Only names of this form are ever removed, and only after a new backup was written and read again.

use std::path::{Path, PathBuf};

use anyhow::Context;

use crate::clock::{Clock, rfc3339};

const BEGIN: &str = "baybook-";
const END: &str = ".backup";
/// `20270115T080000Z`, the basic form of ISO 8601: no colons, which some file systems refuse.
const TIME_LENGTH: usize = 16;

/// A name for the backup that is made now.
///
/// # Errors
/// When the folder cannot be made.
pub(super) fn name(folder: &Path) -> anyhow::Result<PathBuf> {
    std::fs::create_dir_all(folder).with_context(|| {
        let folder = folder.display();
        format!("{folder} cannot be made; choose another folder with --into")
    })?;
    let now = Clock::system().now_ms();
    Ok(folder.join(named(now)))
}

fn named(now_ms: i64) -> String {
    let second_ms = now_ms - now_ms.rem_euclid(1000);
    let time = rfc3339(second_ms).replace(['-', ':'], "");
    format!("{BEGIN}{time}{END}")
}

fn is_ours(name: &str) -> bool {
    let time = name
        .strip_prefix(BEGIN)
        .and_then(|rest| rest.strip_suffix(END));
    time.is_some_and(|time| {
        let form = time.bytes().enumerate().all(|(place, byte)| match place {
            8 => byte == b'T',
            15 => byte == b'Z',
            _ => byte.is_ascii_digit(),
        });
        time.len() == TIME_LENGTH && form
    })
}

/// Removes all but the newest; which.
///
/// # Errors
/// Names the file or folder.
pub(super) fn remove_oldest(folder: &Path, keep: u32) -> anyhow::Result<Vec<String>> {
    let listed = std::fs::read_dir(folder).with_context(|| folder.display().to_string())?;
    let mut names = Vec::new();
    for entry in listed {
        // A name that is no text is none of ours.
        let name = entry?.file_name().into_string().ok();
        names.extend(name.filter(|name| is_ours(name)));
    }
    names.sort_unstable();
    let surplus = names.len().saturating_sub(usize::try_from(keep)?);
    names.truncate(surplus);
    for name in &names {
        let path = folder.join(name);
        std::fs::remove_file(&path)
            .with_context(|| format!("{} cannot be removed", path.display()))?;
    }
    Ok(names)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_the_newest_and_whatever_is_not_its_own() {
        let folder = std::env::temp_dir().join(format!("baybook-rotate-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        // 1_800_000_000_000 ms is 2027-01-15T08:00:00Z.
        let day_ms = 24 * 60 * 60 * 1000;
        let names: Vec<String> = (0..5)
            .map(|day| named(1_800_000_000_123 + day * day_ms))
            .collect();
        assert_eq!(names[0], "baybook-20270115T080000Z.backup");
        let others = ["baybook-before-the-move.backup", "notes.txt"];
        for name in names.iter().map(String::as_str).chain(others) {
            std::fs::write(folder.join(name), b"").unwrap();
        }
        assert_eq!(remove_oldest(&folder, 2).unwrap(), names[..3]);
        for name in names[3..].iter().map(String::as_str).chain(others) {
            assert!(folder.join(name).exists(), "{name}");
        }
        assert!(remove_oldest(&folder, 2).unwrap().is_empty());
        std::fs::remove_dir_all(folder).unwrap();
    }
}
