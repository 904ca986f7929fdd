//! The `baybook` command.

use std::process::ExitCode;

use clap::Parser;
use server::commands::{Arguments, BadInput, run};

fn main() -> ExitCode {
    match run(Arguments::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        // Each fault of a file stands on a line of its own.
        Err(error) if error.is::<BadInput>() => {
            eprintln!("{error}");
            ExitCode::from(2)
        }
        Err(error) => {
            eprintln!("baybook: {error:#}");
            ExitCode::FAILURE
        }
    }
}
