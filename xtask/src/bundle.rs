//! The phone's app: compiled to WASM, bound to JavaScript, named by content, compressed.
//!
//! Everything the browser loads ends in `client/dist`, which the server carries inside. Files
//! whose name carries a hash never change, so a browser may keep them for ever.

use std::collections::BTreeMap;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, anyhow, bail};
use brotlic::{BrotliEncoderOptions, CompressorWriter, Quality, WindowSize};
use wasm_bindgen_cli_support::Bindgen;

use crate::optimise::{optimise_script, optimise_wasm, rename, shorten};
use crate::run::{cargo, run};
use crate::tools::{Optimisers, need_wasm_target, want_optimisers};

/// How the bundle is compiled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Build {
    /// Small, for people (profile `phone`).
    Small,
    /// As for people, with the functions that `cargo xtask bench` measures and with all names.
    Bench,
    /// Quick to build, for the edit-and-look loop (profile `phone-fast`).
    Fast,
}

/// The programs of the client, and what their files are called in the bundle.
const APPS: [(&str, &str); 2] = [("client", "app"), ("office", "office")];

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
        "--bins",
        "--target",
        "wasm32-unknown-unknown",
        "--profile",
        profile,
    ])?;
    if build == Build::Bench {
        compile.args(["--features", "bench"]);
    }
    let root = crate::root()?;
    compile.arg("--config").arg(flags(&root)?);
    run(&mut compile)?;
    let target =
        std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| root.join("target"), PathBuf::from);
    let built = target.join("wasm32-unknown-unknown").join(profile);
    let bound = target.join("phone-bound");
    if bound.exists() {
        fs::remove_dir_all(&bound)?;
    }
    let optimisers = (build != Build::Fast).then(want_optimisers).flatten();
    at_once(APPS, |(program, name)| {
        let built = built.join(format!("{program}.wasm"));
        let is_bench = build == Build::Bench;
        // The optimiser sorts functions by their names.
        let keep_names = build != Build::Small || optimisers.is_some();
        bind(&built, name, &bound, keep_names)?;
        let program = bound.join(format!("{name}_bg.wasm"));
        if let Some(optimisers) = &optimisers
            && let Err(error) = optimise_wasm(optimisers, &program, is_bench)
        {
            eprintln!("going on with {name} as the compiler made it: {error:#}");
            bind(&built, name, &bound, is_bench)?;
        }
        Ok(())
    })?;

    let assets = root.join("client/assets");
    let dist = root.join("client/dist");
    let files = collect(&bound, &assets, optimisers.as_ref())?;
    write(&dist, &files, build)?;
    report(&dist, &files)
}

/// Flags of every crate in the bundle, beside those of the workspace. Where the sources lie on this
/// machine is nobody's business, and the same everywhere gives the same bundle everywhere; names say
/// of which types a function is made.
fn flags(root: &Path) -> Result<String> {
    let home = match std::env::var_os("CARGO_HOME") {
        Some(home) => PathBuf::from(home),
        None => Path::new(&std::env::var_os("HOME").context("no HOME")?).join(".cargo"),
    };
    let mut places = vec![root.to_owned()];
    if let Ok(registries) = fs::read_dir(home.join("registry/src")) {
        places.extend(registries.flatten().map(|registry| registry.path()));
    }
    let hidden = places
        .iter()
        .map(|place| format!("--remap-path-prefix={}=", place.display()));
    let mut flags: Vec<String> = hidden.collect();
    flags.push("-Csymbol-mangling-version=v0".to_owned());
    // A list of strings in TOML is written as in Rust.
    Ok(format!("target.wasm32-unknown-unknown.rustflags={flags:?}"))
}

/// Binds one program to JavaScript.
fn bind(wasm: &Path, name: &str, bound: &Path, keep_names: bool) -> Result<()> {
    let mut output = Bindgen::new()
        .input_path(wasm)
        .out_name(name)
        .web(true)?
        .typescript(false)
        .remove_name_section(!keep_names)
        .remove_producers_section(true)
        .generate_output()
        .with_context(|| format!("binding {}", wasm.display()))?;
    let program = output.wasm_mut();
    // Leptos's server functions bring streams for the browser along. Nothing here makes one, and what
    // is not exported, the optimiser leaves out.
    let streams: Vec<_> = program
        .exports
        .iter()
        .filter(|export| export.name.contains("intounderlying"))
        .map(|export| export.id())
        .collect();
    for stream in streams {
        program.exports.delete(stream);
    }
    let imports = program.imports.iter_mut().map(|one| &mut one.name);
    let exports = program.exports.iter_mut().map(|one| &mut one.name);
    let short = shorten(imports.chain(exports));
    output.emit(bound)?;
    let script = bound.join(format!("{name}.js"));
    let text = rename(&fs::read_to_string(&script)?, &short);
    fs::write(&script, text).with_context(|| format!("writing {}", script.display()))
}

/// Does the same with each of some things, all at once.
fn at_once<T: Send, R: Send>(
    things: impl IntoIterator<Item = T>,
    work: impl Fn(T) -> Result<R> + Sync,
) -> Result<Vec<R>> {
    std::thread::scope(|scope| {
        let started: Vec<_> = things
            .into_iter()
            .map(|thing| scope.spawn(|| work(thing)))
            .collect();
        started
            .into_iter()
            .map(|thread| thread.join().map_err(|_| anyhow!("a thread broke"))?)
            .collect()
    })
}

/// Final name and content of every file of the bundle.
fn collect(
    bound: &Path,
    assets: &Path,
    optimisers: Option<&Optimisers>,
) -> Result<BTreeMap<String, Vec<u8>>> {
    let mut files = BTreeMap::new();
    let mut words = Vec::new();
    let small = |script: Vec<u8>| optimise_script(optimisers, script);
    for (_, name) in APPS {
        for (word, ending, file) in [
            (format!("{name}_wasm"), "wasm", format!("{name}_bg.wasm")),
            (format!("{name}_js"), "js", format!("{name}.js")),
        ] {
            let content = read(&bound.join(file))?;
            let content = if ending == "js" {
                small(content)
            } else {
                content
            };
            words.push((word, named(&mut files, name, ending, content)));
        }
    }
    copy_tree(bound, &bound.join("snippets"), &mut files)?;
    copy_tree(assets, assets, &mut files)?;

    let style = renamed(&mut files, "style.css")?;
    words.push(("style".to_owned(), style));
    fill(&mut files, "boot.js", &words, small)?;
    words.push(("boot".to_owned(), renamed(&mut files, "boot.js")?));

    let all: Vec<u8> = files.values().flatten().copied().collect();
    words.push(("version".to_owned(), hash(&all)));
    fill(&mut files, "index.html", &words, |page| page)?;
    let list: Vec<String> = files
        .keys()
        .filter(|name| is_first_load(name) && *name != "sw.js" && *name != "index.html")
        .map(|name| format!("\"/{name}\""))
        .collect();
    words.push(("files".to_owned(), list.join(", ")));
    fill(&mut files, "sw.js", &words, small)?;
    Ok(files)
}

/// Does a phone load it at the first start, and keep it?
fn is_first_load(name: &str) -> bool {
    !name.starts_with("office-")
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

/// Replaces `{{word}}` in one text file, and finishes it; an unknown word is an error, not a blank.
fn fill(
    files: &mut BTreeMap<String, Vec<u8>>,
    name: &str,
    words: &[(String, String)],
    finish: impl Fn(Vec<u8>) -> Vec<u8>,
) -> Result<()> {
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
    *content = finish(text.into_bytes());
    Ok(())
}

fn write(dist: &Path, files: &BTreeMap<String, Vec<u8>>, build: Build) -> Result<()> {
    if dist.exists() {
        fs::remove_dir_all(dist)?;
    }
    at_once(files, |(name, content)| {
        let path = dist.join(name);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder)?;
        }
        fs::write(&path, content)?;
        if compressible(name) {
            let packed = compress(content, build)?;
            fs::write(dist.join(format!("{name}.br")), packed)?;
        }
        Ok(())
    })
    .map(drop)
}

fn compressible(name: &str) -> bool {
    ["js", "wasm", "css", "html", "svg", "webmanifest", "json"]
        .iter()
        .any(|ending| name.ends_with(&format!(".{ending}")))
}

fn compress(content: &[u8], build: Build) -> Result<Vec<u8>> {
    let quality = if build == Build::Fast { 4 } else { 11 };
    let encoder = BrotliEncoderOptions::new()
        .quality(Quality::new(quality)?)
        .window_size(WindowSize::new(22)?)
        .size_hint(u32::try_from(content.len())?)
        .build()?;
    let mut packed = CompressorWriter::with_encoder(encoder, Vec::new());
    packed.write_all(content)?;
    Ok(packed.into_inner()?)
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
    let (mut first_load, mut office) = (0, 0);
    for name in files.keys() {
        let packed = dist.join(format!("{name}.br"));
        let sent = if packed.exists() {
            packed
        } else {
            dist.join(name)
        };
        let size = fs::metadata(sent)?.len();
        if is_first_load(name) {
            first_load += size;
        } else {
            office += size;
        }
    }
    let plain: usize = files.values().map(Vec::len).sum();
    println!(
        "client/dist: {} files, {} kB; first load on a phone {} kB compressed, the office {} kB",
        files.len(),
        plain / 1000,
        first_load / 1000,
        office / 1000
    );
    Ok(())
}
