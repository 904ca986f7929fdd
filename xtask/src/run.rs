//! Starting other programs, with errors that name the command.

use std::process::Command;

use anyhow::{Context, Result, bail};

/// A `cargo` command in the workspace's root.
pub(crate) fn cargo(arguments: &[&str]) -> Result<Command> {
    let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    command.args(arguments).current_dir(crate::root()?);
    // Settings of the outer `cargo run` must not leak into the inner build.
    for name in ["CARGO_MANIFEST_DIR", "CARGO_PKG_NAME", "CARGO_PKG_VERSION"] {
        command.env_remove(name);
    }
    Ok(command)
}

/// Runs a command, shows its output, and fails when it fails.
pub(crate) fn run(command: &mut Command) -> Result<()> {
    eprintln!("$ {}", words(command));
    let status = command
        .status()
        .with_context(|| format!("could not start `{}`", words(command)))?;
    if !status.success() {
        bail!("`{}` failed ({status})", words(command));
    }
    Ok(())
}

/// Runs a command and returns what it prints, or `None` when it fails or does not exist.
pub(crate) fn output(command: &mut Command) -> Option<String> {
    let output = command.output().ok()?;
    output
        .status
        .success()
        .then(|| String::from_utf8_lossy(&output.stdout).into_owned())
}

fn words(command: &Command) -> String {
    std::iter::once(command.get_program())
        .chain(command.get_args())
        .map(|word| word.to_string_lossy())
        .collect::<Vec<_>>()
        .join(" ")
}
