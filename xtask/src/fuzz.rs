//! `cargo xtask fuzz`: foreign bytes against the mind of the book, led by coverage.
//!
//! The targets are in `fuzz/`, what must hold in `shared/tests/mutations/properties.rs`. What the
//! fuzzer learns stays in `fuzz/corpus`, what it finds in `fuzz/artifacts`. The layout is that of
//! cargo-fuzz, which is not needed: without a sanitizer (nothing in our crates is unsafe) the
//! compiler of every day can do all that libFuzzer asks for.

use std::process::Command;

use anyhow::{Context, Result, bail};

use crate::run::{cargo, output, run};

/// Every target, in the order in which they are run.
const TARGETS: [&str; 7] = [
    "frame",
    "message",
    "change",
    "operations",
    "logged_change",
    "job_file",
    "sheet",
];
/// Counters for libFuzzer at every edge and comparison.
const COVERAGE: &str = "-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
    -Cllvm-args=-sanitizer-coverage-inline-8bit-counters \
    -Cllvm-args=-sanitizer-coverage-pc-table \
    -Cllvm-args=-sanitizer-coverage-trace-compares --cfg fuzzing";
/// Longest that one input may take, most memory, and longest input.
const BOUNDS: [&str; 3] = ["-timeout=20", "-rss_limit_mb=3000", "-max_len=65536"];

/// Runs one target, or all, each for so many seconds.
pub(crate) fn fuzz(options: &[&str]) -> Result<()> {
    let (mut targets, mut seconds) = (TARGETS.to_vec(), "300");
    match options {
        [] => {}
        ["--seconds", given] => seconds = *given,
        [target] => targets = vec![*target],
        [target, "--seconds", given] => (targets, seconds) = (vec![*target], *given),
        _ => bail!("expected: cargo xtask fuzz [TARGET] [--seconds N]"),
    }
    if let Some(unknown) = targets.iter().find(|target| !TARGETS.contains(target)) {
        bail!("unknown target {unknown}; known: {}", TARGETS.join(", "));
    }
    let host = host()?;
    // With a target named, the counters are not asked of build scripts and macros.
    let manifest = [
        "--manifest-path",
        "fuzz/Cargo.toml",
        "--release",
        "--target",
        &host,
    ];
    run(cargo(&["build"])?.args(manifest).env("RUSTFLAGS", COVERAGE))?;
    let fuzz = crate::root()?.join("fuzz");
    let programs = fuzz.join("target").join(&host).join("release");
    let seeds = [
        "run",
        "--quiet",
        "--package",
        "shared",
        "--example",
        "fuzz_seeds",
        "--",
    ];
    run(cargo(&seeds)?.arg(fuzz.join("corpus")))?;
    for target in targets {
        let artifacts = fuzz.join("artifacts").join(target);
        std::fs::create_dir_all(&artifacts)?;
        run(Command::new(programs.join(target))
            .arg(fuzz.join("corpus").join(target))
            .arg(format!("-artifact_prefix={}/", artifacts.display()))
            .arg(format!("-max_total_time={seconds}"))
            .args(BOUNDS)
            .arg("-print_final_stats=1"))?;
    }
    Ok(())
}

fn host() -> Result<String> {
    let says =
        output(Command::new("rustc").arg("-vV")).context("rustc does not say its version")?;
    let host = says.lines().find_map(|line| line.strip_prefix("host: "));
    Ok(host.context("rustc does not say its host")?.to_owned())
}
