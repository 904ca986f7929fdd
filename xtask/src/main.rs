//! Chores of the project: `cargo xtask up`, `test`, `check`, `tidy`, `bench`, `kill`, `fuzz`,
//! `load`, `probe`, `pictures`, `client`.
//!
//! Each chore installs what it needs where it can, and says exactly what to do where it cannot.
//! This program refuses to know anything of measuring; it only starts other programs.

mod bench;
mod bundle;
mod check;
mod fuzz;
mod kill;
mod load;
mod optimise;
mod pictures;
mod postgres;
mod probe;
mod run;
mod test;
mod tidy;
mod tools;
mod up;

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::{Result, bail};

const HELP: &str = "\
cargo xtask up [--listen ADDRESS:PORT] [--data DIR] [--demo-language en|es]
                       build everything, start on SQLite with the demo car, print the address
cargo xtask test       check, then all tests: unit, both databases, real Chromium
cargo xtask check      format, lints, tidy rules, crate boundaries
cargo xtask tidy       the rules of DEVELOPERS.md that a text search can see
cargo xtask bench      how fast engine, book, report, phone and server are (measures, gates nothing)
cargo xtask kill [--cycles N] [--seed N] [--database-url URL | --postgres]
                       kill -9 the server again and again while four people write; URL is an
                       empty database (--postgres: one that is started for it)
cargo xtask fuzz [TARGET] [--seconds N]
                       foreign bytes, led by coverage: all targets, or one
cargo xtask load [--lines N,N] [--readings N,N]
                       how fast a server is with many lines, ours and the stock one (gates nothing)
cargo xtask probe [--examples N]
                       ask a running server everything that its own description allows, and what
                       it forbids (schemathesis)
cargo xtask pictures [--into FOLDER] [--built]
                       every screen and its main states as pictures (target/pictures); --built takes
                       the app as it was built last
cargo xtask client [--fast | --bench]
                       the phone's app into client/dist (--fast: larger, quicker to build; --bench:
                       as `bench` measures it, with its functions' names for a profiler)";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let done = match words.as_slice() {
        ["up", options @ ..] => up::up(options),
        ["test"] => test::test(),
        ["check"] => check::check(),
        ["tidy"] => tidy::tidy(),
        ["bench"] => bench::bench(),
        ["kill", options @ ..] => kill::kill(options),
        ["fuzz", options @ ..] => fuzz::fuzz(options),
        ["load", options @ ..] => load::load(options),
        ["probe"] => probe::probe("50"),
        ["probe", "--examples", number] => probe::probe(number),
        ["pictures", options @ ..] => pictures::pictures(options),
        ["client"] => bundle::bundle(bundle::Build::Small),
        ["client", "--fast"] => bundle::bundle(bundle::Build::Fast),
        ["client", "--bench"] => bundle::bundle(bundle::Build::Bench),
        _ => {
            println!("{HELP}");
            return ExitCode::from(2);
        }
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("\nxtask: {error:#}");
            ExitCode::FAILURE
        }
    }
}

/// The workspace's root folder.
fn root() -> Result<PathBuf> {
    let Some(root) = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).parent() else {
        bail!("xtask must live in a folder of the workspace");
    };
    Ok(root.to_owned())
}
