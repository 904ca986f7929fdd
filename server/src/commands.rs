//! The `baybook` command line: one file per subcommand.

pub mod serve;

use clap::{Parser, Subcommand};

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
}

/// Runs the subcommand.
///
/// # Errors
/// With a text that says what to change.
pub fn run(arguments: Arguments) -> anyhow::Result<()> {
    match arguments.command {
        Command::Serve(serve) => serve::run(serve),
    }
}
