//! The `baybook` command.

use std::io::Write as _;
use std::process::ExitCode;

use clap::Parser;
use server::commands::{Arguments, BadInput, run};

/// What was given cannot be used (as clap ends when it cannot use the arguments).
const BAD_INPUT: u8 = 2;

fn main() -> ExitCode {
    let Err(error) = run(Arguments::parse()) else {
        return ExitCode::SUCCESS;
    };
    let mut errors = std::io::stderr().lock();
    // When even the error output is closed, the exit code says it.
    if error.is::<BadInput>() {
        // Each fault of a file stands on a line of its own.
        let _ = writeln!(errors, "{error}");
        ExitCode::from(BAD_INPUT)
    } else {
        let _ = writeln!(errors, "baybook: {error:#}");
        ExitCode::FAILURE
    }
}
