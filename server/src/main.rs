//! The `baybook` command.

use std::process::ExitCode;

use clap::Parser;
use server::commands::{Arguments, run};

fn main() -> ExitCode {
    match run(Arguments::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("baybook: {error:#}");
            ExitCode::FAILURE
        }
    }
}
