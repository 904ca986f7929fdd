//! The phone's app: compiled to WASM, bound to JavaScript, named by content, compressed.
//!
//! Everything the browser loads ends in `client/dist`, which the server carries inside. Files
//! whose name carries a hash never change, so a browser may keep them for ever.

use std::collections::BTreeMap;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};
use wasm_bindgen_cli_support::Bindgen;

use crate::run::{cargo, run};
use crate::tools::need_wasm_target;

/// How the bundle is compiled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Build {
    /// Small, for people (profile `phone`).
    Small,
    /// As for people, with the functions that `cargo xtask bench` measures.
    Bench,
    /// Quick to build, for the edit-and-look loop (profile `phone-fast`).
    Fast,
}

/// Builds the bundle into `client/dist`.
pub(crate) fn bundle(build: Build) -> Result<()> {
    need_wasm_target()?;
    let profile = match build {
        Build::Small | Build::Bench => "phone",
        Build::Fast => "phone-fast",
    };
    let mut compile = cargo(&[
        "build",
        "--package",
        "client",
        "--bin",
        "client",
        "--target",
        "wasm32-unknown-unknown",
        "--profile",
        profile,
    ])?;
    if build == Build::Bench {
        compile.args(["--features", "bench"]);
    }
    run(&mut compile)?;
    let root = crate::root()?;
    let target =
        std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| root.join("target"), PathBuf::from);
    let wasm = target
        .join("wasm32-unknown-unknown")
        .join(profile)
        .join("client.wasm");
    let bound = target.join("phone-bound");
    if bound.exists() {
        fs::remove_dir_all(&bound)?;
    }
    Bindgen::new()
        .input_path(&wasm)
        .out_name("app")
        .web(true)?
        .typescript(false)
        .remove_name_section(build != Build::Fast)
        .remove_producers_section(true)
        .generate(&bound)
        .with_context(|| format!("binding {}", wasm.display()))?;

    let assets = root.join("client/assets");
    let dist = root.join("client/dist");
    let files = collect(&bound, &assets)?;
    write(&dist, &files, build)?;
    report(&dist, &files)
}

/// Final name and content of every file of the bundle.
fn collect(bound: &Path, assets: &Path) -> Result<BTreeMap<String, Vec<u8>>> {
    let mut files = BTreeMap::new();
    let app_wasm = named(&mut files, "app", "wasm", read(&bound.join("app_bg.wasm"))?);
    let app_js = named(&mut files, "app", "js", read(&bound.join("app.js"))?);
    copy_tree(bound, &bound.join("snippets"), &mut files)?;
    copy_tree(assets, assets, &mut files)?;

    let style = renamed(&mut files, "style.css")?;
    let mut words = vec![("app_js", app_js), ("app_wasm", app_wasm), ("style", style)];
    fill(&mut files, "boot.js", &words)?;
    words.push(("boot", renamed(&mut files, "boot.js")?));

    let all: Vec<u8> = files.values().flatten().copied().collect();
    words.push(("version", hash(&all)));
    fill(&mut files, "index.html", &words)?;
    let list: Vec<String> = files
        .keys()
        .filter(|name| *name != "sw.js" && *name != "index.html")
        .map(|name| format!("\"/{name}\""))
        .collect();
    words.push(("files", list.join(", ")));
    fill(&mut files, "sw.js", &words)?;
    Ok(files)
}

fn read(path: &Path) -> Result<Vec<u8>> {
    fs::read(path).with_context(|| format!("reading {}", path.display()))
}

fn named(
    files: &mut BTreeMap<String, Vec<u8>>,
    stem: &str,
    ending: &str,
    content: Vec<u8>,
) -> String {
    let name = format!("{stem}-{}.{ending}", hash(&content));
    files.insert(name.clone(), content);
    name
}

fn renamed(files: &mut BTreeMap<String, Vec<u8>>, name: &str) -> Result<String> {
    let Some(content) = files.remove(name) else {
        bail!("client/assets/{name} is missing");
    };
    let (stem, ending) = name.rsplit_once('.').unwrap_or((name, "bin"));
    Ok(named(files, stem, ending, content))
}

fn copy_tree(base: &Path, folder: &Path, files: &mut BTreeMap<String, Vec<u8>>) -> Result<()> {
    if !folder.is_dir() {
        return Ok(());
    }
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            copy_tree(base, &path, files)?;
        } else {
            let name = path
                .strip_prefix(base)?
                .to_string_lossy()
                .replace('\\', "/");
            files.insert(name, read(&path)?);
        }
    }
    Ok(())
}

/// Replaces `{{word}}` in one text file; an unknown word is an error, not a blank.
fn fill(files: &mut BTreeMap<String, Vec<u8>>, name: &str, words: &[(&str, String)]) -> Result<()> {
    let Some(content) = files.get_mut(name) else {
        bail!("client/assets/{name} is missing");
    };
    let mut text = String::from_utf8(std::mem::take(content))?;
    for (word, value) in words {
        text = text.replace(&format!("{{{{{word}}}}}"), value);
    }
    if let Some((_, rest)) = text.split_once("{{") {
        let word = rest.split("}}").next().unwrap_or(rest);
        bail!("client/assets/{name}: unknown word {{{{{word}}}}}");
    }
    *content = text.into_bytes();
    Ok(())
}

fn write(dist: &Path, files: &BTreeMap<String, Vec<u8>>, build: Build) -> Result<()> {
    if dist.exists() {
        fs::remove_dir_all(dist)?;
    }
    for (name, content) in files {
        let path = dist.join(name);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder)?;
        }
        fs::write(&path, content)?;
        if compressible(name) {
            let packed = compress(content, build)?;
            fs::write(dist.join(format!("{name}.br")), packed)?;
        }
    }
    Ok(())
}

fn compressible(name: &str) -> bool {
    ["js", "wasm", "css", "html", "svg", "webmanifest", "json"]
        .iter()
        .any(|ending| name.ends_with(&format!(".{ending}")))
}

fn compress(content: &[u8], build: Build) -> Result<Vec<u8>> {
    let quality = if build == Build::Fast { 4 } else { 11 };
    let mut writer = brotli::CompressorWriter::new(Vec::new(), 1 << 16, quality, 22);
    writer.write_all(content)?;
    Ok(writer.into_inner())
}

/// 64-bit FNV-1a, in hexadecimal: names for caches, not a protection against anybody.
fn hash(content: &[u8]) -> String {
    let hash = content
        .iter()
        .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3)
        });
    format!("{hash:016x}")
}

fn report(dist: &Path, files: &BTreeMap<String, Vec<u8>>) -> Result<()> {
    let mut first_load = 0;
    for name in files.keys().filter(|name| compressible(name)) {
        first_load += fs::metadata(dist.join(format!("{name}.br")))?.len();
    }
    let plain: usize = files.values().map(Vec::len).sum();
    println!(
        "client/dist: {} files, {} kB, {} kB compressed",
        files.len(),
        plain / 1000,
        first_load / 1000
    );
    Ok(())
}
