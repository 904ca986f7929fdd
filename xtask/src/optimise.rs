//! What is done to the finished bundle so that a phone has less to load. The app is the same without
//! it, and larger.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail};

use crate::run::run;
use crate::tools::Optimisers;

/// Shortens the names that a program and its script call each other by, and says which is which: each
/// ends in a hash, which no compression makes smaller.
pub(crate) fn shorten<'a>(names: impl Iterator<Item = &'a mut String>) -> BTreeMap<String, String> {
    let mut names: Vec<&mut String> = names
        .filter(|name| {
            ["__wb", "__externref", "wasm_bindgen_"]
                .iter()
                .any(|start| name.starts_with(start))
        })
        .collect();
    names.sort();
    let mut short = BTreeMap::new();
    for name in names {
        let number = short.len();
        let other = short
            .entry(name.clone())
            .or_insert_with(|| format!("__w{number}"));
        name.clone_from(other);
    }
    short
}

/// Replaces whole words.
pub(crate) fn rename(script: &str, short: &BTreeMap<String, String>) -> String {
    let is_part = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '$';
    script
        .split_inclusive(|c| !is_part(c))
        .map(|part| {
            let word = part.trim_end_matches(|c| !is_part(c));
            let other = short.get(word).map_or(word, String::as_str);
            format!("{other}{}", &part[word.len()..])
        })
        .collect()
}

/// Makes one finished program smaller: what the compiler's own optimiser leaves in WASM. Nothing is
/// inlined or merged, since what that takes off the file, it puts on the compressed one.
pub(crate) fn optimise_wasm(optimisers: &Optimisers, wasm: &Path, keep_names: bool) -> Result<()> {
    // What the compiler and wasm-bindgen use.
    let features = [
        "bulk-memory",
        "bulk-memory-opt",
        "multivalue",
        "mutable-globals",
        "nontrapping-float-to-int",
        "reference-types",
        "sign-ext",
    ];
    let mut command = Command::new(&optimisers.node);
    command.arg(&optimisers.wasm);
    command.args(features.map(|feature| format!("--enable-{feature}")));
    command.arg("-O2");
    for sort in ["always", "flexible", "one-caller"] {
        command.args([&format!("--{sort}-inline-max-function-size"), "0"]);
    }
    command.args(["local-cse", "merge-locals"].map(|pass| format!("--skip-pass={pass}")));
    // Functions made of one another stand together, and what is alike compresses.
    command.args(["--reorder-functions-by-name", "--reorder-locals"]);
    if keep_names {
        command.arg("--debuginfo");
    }
    run(command.arg("--output").arg(wasm).arg(wasm))
}

/// Takes comments, blanks and long names out of a script; says so and leaves it as it is where that
/// cannot be done.
pub(crate) fn optimise_script(optimisers: Option<&Optimisers>, script: Vec<u8>) -> Vec<u8> {
    let Some(optimisers) = optimisers else {
        return script;
    };
    minify(optimisers, &script).unwrap_or_else(|error| {
        eprintln!("going on with a script as it is written: {error:#}");
        script
    })
}

fn minify(optimisers: &Optimisers, script: &[u8]) -> Result<Vec<u8>> {
    let mut started = Command::new(&optimisers.node)
        .arg(&optimisers.script)
        .args(["--module", "--compress", "--mangle"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .context("could not start terser")?;
    if let Some(mut input) = started.stdin.take() {
        input.write_all(script)?;
    }
    let done = started.wait_with_output()?;
    if !done.status.success() || done.stdout.is_empty() {
        bail!("terser failed ({})", done.status);
    }
    Ok(done.stdout)
}
