//! `cargo xtask check`: format, lints, tidy rules and the boundaries between crates.

use anyhow::{Result, bail};

use crate::run::{cargo, output, run};
use crate::tidy::tidy;
use crate::tools::need_wasm_target;

/// What the pure core must never reach: runtimes, networks, databases, browsers.
const NOT_IN_SHARED: [&str; 9] = [
    "tokio",
    "actix-web",
    "sea-orm",
    "sqlx-core",
    "reqwest",
    "leptos",
    "web-sys",
    "js-sys",
    "tracing-subscriber",
];

/// Fails at the first rule that does not hold.
pub(crate) fn check() -> Result<()> {
    need_wasm_target()?;
    run(&mut cargo(&["fmt", "--all", "--check"])?)?;
    let fuzz = ["fmt", "--manifest-path", "fuzz/Cargo.toml", "--check"];
    run(&mut cargo(&fuzz)?)?;
    tidy()?;
    boundaries()?;
    run(&mut cargo(&[
        "clippy",
        "--workspace",
        "--all-targets",
        "--",
        "--deny",
        "warnings",
    ])?)?;
    run(&mut cargo(&[
        "clippy",
        "--package",
        "client",
        "--package",
        "shared",
        "--target",
        "wasm32-unknown-unknown",
        "--",
        "--deny",
        "warnings",
    ])?)
}

fn boundaries() -> Result<()> {
    for pure in ["adjust", "shared", "report"] {
        for forbidden in NOT_IN_SHARED {
            if reaches(pure, forbidden)? {
                bail!(
                    "{pure} reaches {forbidden}: it knows no I/O (`cargo tree -p {pure} -i {forbidden}` shows how)"
                );
            }
        }
    }
    for (from, to) in [
        ("client", "server"),
        ("server", "client"),
        ("client", "migrations"),
        ("report", "server"),
        ("adjust", "shared"),
        ("adjust", "automerge"),
        // The PDF and its fonts stay on the server.
        ("client", "krilla"),
    ] {
        if reaches(from, to)? {
            bail!("{from} imports {to}; `DEVELOPERS.md` says who may know whom");
        }
    }
    Ok(())
}

fn reaches(package: &str, dependency: &str) -> Result<bool> {
    // `cargo tree -i` fails when nothing in the tree depends on the crate.
    let mut tree = cargo(&[
        "tree",
        "--package",
        package,
        "--edges",
        "normal",
        "--prefix",
        "none",
        "--format",
        "{p}",
    ])?;
    let Some(list) = output(&mut tree) else {
        bail!("`cargo tree --package {package}` failed");
    };
    Ok(list
        .lines()
        .skip(1)
        .any(|line| line.split(' ').next() == Some(dependency)))
}
