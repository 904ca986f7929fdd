//! `cargo xtask tidy`: the rules of DEVELOPERS.md that a text search can see.
//!
//! Each rule is a function from one file to its complaints, so that a reader finds it whole.
//! It is a command and a test, so that nobody can forget it.

use std::fmt::Write as _;
use std::path::Path;

use anyhow::{Result, bail};

#[cfg(test)]
mod tests;

/// Longest file, tests left out.
const MAX_LINES: usize = 400;
/// Longest component of the client.
const MAX_COMPONENT_LINES: usize = 150;

/// Order of the modules inside `shared`: each may use its own row and the rows above.
const SHARED_ORDER: [&[&str]; 9] = [
    &["ids", "units", "moment", "plain", "vin", "figures"],
    &["finding"],
    &["verdict"],
    &["damage"],
    &["job", "result", "sheet", "tools", "body", "drawing"],
    &[
        "jobfile", "solve", "speech", "simulate", "demo", "text", "wire",
    ],
    &["book", "proof"],
    &["library"],
    &["sync"],
];

/// One file as the rules see it.
#[derive(Debug)]
struct Source<'a> {
    /// Path from the workspace's root, with `/`.
    path: &'a str,
    /// Whole text.
    text: &'a str,
}

impl Source<'_> {
    /// The lines above the inline tests.
    fn code(&self) -> impl Iterator<Item = (usize, &str)> {
        let end = self
            .text
            .find("\n#[cfg(test)]\nmod tests {")
            .unwrap_or(self.text.len());
        self.text[..end]
            .lines()
            .enumerate()
            .map(|(index, line)| (index + 1, line))
    }

    fn is_test(&self) -> bool {
        self.path.starts_with("tests/")
            || self.path.contains("/tests/")
            || self.path.ends_with("/tests.rs")
    }
}

/// Fails with every complaint about every Rust file.
pub(crate) fn tidy() -> Result<()> {
    let complaints = complaints(&crate::root()?)?;
    if !complaints.is_empty() {
        let mut text = String::new();
        for complaint in &complaints {
            let _ = writeln!(text, "  {complaint}");
        }
        bail!("{} untidy places:\n{text}", complaints.len());
    }
    println!("tidy: nothing to complain about");
    Ok(())
}

fn complaints(root: &Path) -> Result<Vec<String>> {
    let mut paths = Vec::new();
    for folder in [
        "adjust",
        "shared",
        "report",
        "server",
        "client",
        "migrations",
        "tests",
        "xtask",
        "fuzz",
    ] {
        collect(&root.join(folder), &mut paths)?;
    }
    paths.sort();
    let mut complaints = Vec::new();
    for path in paths {
        let text = std::fs::read_to_string(&path)?;
        let name = path
            .strip_prefix(root)?
            .to_string_lossy()
            .replace('\\', "/");
        let source = Source {
            path: &name,
            text: &text,
        };
        for rule in [
            header,
            length,
            no_mod_rs,
            unfinished,
            shared_order,
            automerge,
            sea_orm,
            verdicts,
        ] {
            rule(&source, &mut complaints);
        }
    }
    Ok(complaints)
}

fn collect(folder: &Path, paths: &mut Vec<std::path::PathBuf>) -> Result<()> {
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        if path.is_dir() && !["target", "dist", "node_modules"].contains(&name.as_str()) {
            collect(&path, paths)?;
        } else if name.ends_with(".rs") {
            paths.push(path);
        }
    }
    Ok(())
}

/// A reader learns from the first line what a file is.
fn header(source: &Source<'_>, complaints: &mut Vec<String>) {
    if !source.text.starts_with("//!") {
        complaints.push(format!(
            "{}: starts without `//!` (what it is, units, what it refuses to know)",
            source.path
        ));
    }
}

/// A file that fits in the head.
fn length(source: &Source<'_>, complaints: &mut Vec<String>) {
    if source.is_test() {
        return;
    }
    let limit = if source.path.starts_with("client/src/components") {
        MAX_COMPONENT_LINES
    } else {
        MAX_LINES
    };
    let lines = source.code().count();
    if lines > limit {
        complaints.push(format!(
            "{}: {lines} lines without tests, at most {limit}",
            source.path
        ));
    }
}

/// One way to lay out modules: `foo.rs` beside `foo/`.
fn no_mod_rs(source: &Source<'_>, complaints: &mut Vec<String>) {
    if source.path.ends_with("/mod.rs") {
        complaints.push(format!("{}: `foo.rs` + `foo/`, no `mod.rs`", source.path));
    }
}

/// Nothing unfinished is kept.
fn unfinished(source: &Source<'_>, complaints: &mut Vec<String>) {
    let words = [
        concat!("TO", "DO"),
        concat!("FIX", "ME"),
        concat!("todo", "!("),
        concat!("unimplemented", "!("),
        concat!("#[ig", "nore"),
        concat!("#[al", "low"),
    ];
    for (number, line) in source.text.lines().enumerate() {
        if let Some(word) = words.into_iter().find(|word| line.contains(word)) {
            complaints.push(format!("{}:{}: `{word}`", source.path, number + 1));
        }
    }
}

/// Invariant 2: the layers of `shared`.
fn shared_order(source: &Source<'_>, complaints: &mut Vec<String>) {
    let Some(module) = source.path.strip_prefix("shared/src/") else {
        return;
    };
    let module = module
        .split('/')
        .next()
        .unwrap_or(module)
        .trim_end_matches(".rs");
    if module == "lib" || source.is_test() {
        return;
    }
    let row = |name: &str| SHARED_ORDER.iter().position(|row| row.contains(&name));
    let Some(own) = row(module) else {
        complaints.push(format!(
            "{}: `{module}` has no place in SHARED_ORDER",
            source.path
        ));
        return;
    };
    for (number, line) in source.code() {
        let Some((_, rest)) = line.split_once("crate::") else {
            continue;
        };
        if line.trim_start().starts_with("//") {
            continue;
        }
        let used = rest
            .split(|c: char| !(c.is_alphanumeric() || c == '_'))
            .next()
            .unwrap_or_default();
        if row(used).is_some_and(|used| used > own) {
            complaints.push(format!(
                "{}:{number}: `{module}` may not use `{used}`, which stands above it",
                source.path
            ));
        }
    }
}

/// Invariant 4: one gate in front of documents.
fn automerge(source: &Source<'_>, complaints: &mut Vec<String>) {
    let in_shared = source.path.starts_with("shared/src/");
    let home = ["shared/src/book", "shared/src/sync"]
        .iter()
        .any(|home| source.path.starts_with(home));
    if in_shared && !home {
        uses(
            source,
            "automerge::",
            "only `book` and `sync` import automerge",
            complaints,
        );
    }
}

/// Invariant 4: one door to the database.
fn sea_orm(source: &Source<'_>, complaints: &mut Vec<String>) {
    let home = ["server/src/store", "migrations/", "xtask/"]
        .iter()
        .any(|home| source.path.starts_with(home));
    if !home && !source.is_test() {
        uses(
            source,
            "sea_orm",
            "only `server::store` and `migrations` import sea-orm",
            complaints,
        );
    }
}

/// Invariant 3: only `verdict` makes a verdict.
fn verdicts(source: &Source<'_>, complaints: &mut Vec<String>) {
    if source.path.starts_with("client/") || source.path.starts_with("server/") {
        for limit in [
            "tolerance_mm <",
            "tolerance_mm >",
            "> tolerance_mm",
            "< tolerance_mm",
        ] {
            uses(
                source,
                limit,
                "only `verdict` compares with the tolerance",
                complaints,
            );
        }
    }
}

fn uses(source: &Source<'_>, word: &str, why: &str, complaints: &mut Vec<String>) {
    for (number, line) in source.code() {
        if line.contains(word) && !line.trim_start().starts_with("//") {
            complaints.push(format!("{}:{number}: `{word}`: {why}", source.path));
        }
    }
}
