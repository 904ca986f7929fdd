//! The `baybook` command line: one file per subcommand.

mod database;
mod log;
pub mod serve;
pub mod solve;
pub mod audit;
pub mod backup;
pub mod restore;
pub mod rebuild;

use std::future::Future;
use std::io::{ErrorKind, Write as _};

use anyhow::Context as _;
use clap::{CommandFactory, Parser, Subcommand};

/// The shared measuring book for a collision-damaged car.
#[derive(Debug, Parser)]
#[command(name = "baybook", version)]
pub struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Runs the server.
    Serve(serve::Serve),
    /// Solves a job file.
    Solve(solve::Solve),
    /// Prints the JSON Schema of a job file, or of a result.
    Schema {
        /// The schema of a result.
        #[arg(long)]
        result: bool,
    },
    /// Prints the demo car as a job file.
    Demo,
    /// Writes a shop's log into a file, or verifies such a file.
    #[command(subcommand)]
    Audit(audit::Audit),
    /// Writes everything that a server keeps into one file, also while it runs.
    Backup(backup::Backup),
    /// Brings a backup into an empty database of either engine, and verifies it.
    Restore(restore::Restore),
    /// Makes the rows for lists and overviews anew from the books.
    Rebuild(rebuild::Rebuild),
}

/// What was given cannot be used; the text says each fault on a line of its own.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct BadInput(pub String);

/// Runs the subcommand.
///
/// # Errors
/// With a text that says what to change.
pub fn run(arguments: Arguments) -> anyhow::Result<()> {
    match arguments.command {
        Command::Serve(serve) => serve::run(serve),
        Command::Solve(solve) => solve::run(&solve),
        Command::Schema { result } => {
            let schema = if result {
                shared::jobfile::result_schema()
            } else {
                shared::jobfile::schema()
            };
            say(&format!("{schema:#}\n"))
        }
        Command::Demo => say(&shared::jobfile::write(&shared::demo::job())),
        Command::Audit(audit) => audit::run(&audit),
        Command::Backup(backup) => backup::run(&backup),
        Command::Restore(restore) => restore::run(&restore),
        Command::Rebuild(rebuild) => rebuild::run(&rebuild),
    }
}

/// Writes to standard output. Nobody listening any more (`baybook … | head`) is no failure.
fn say(text: &str) -> anyhow::Result<()> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(error).context("writing to standard output")
        }
        _ => Ok(()),
    }
}

/// Every variable that is a setting of some command.
fn known_variables() -> Vec<String> {
    let command = Arguments::command();
    let mut waiting = vec![&command];
    let mut names = Vec::new();
    while let Some(command) = waiting.pop() {
        let variables = command.get_arguments().filter_map(clap::Arg::get_env);
        names.extend(variables.map(|name| name.to_string_lossy().into_owned()));
        waiting.extend(command.get_subcommands());
    }
    names.sort_unstable();
    names.dedup();
    names
}

/// Runs work that waits for a database.
fn wait<T>(work: impl Future<Output = anyhow::Result<T>>) -> anyhow::Result<T> {
    tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .context("starting the runtime")?
        .block_on(work)
}
