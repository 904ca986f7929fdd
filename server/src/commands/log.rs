//! The log, on the error output: text for people, or one JSON object per line for machines.
//!
//! It tells of routes, statuses, books by their id and faults, never of people, cars or secrets.

use std::panic;

use clap::ValueEnum;
use tracing_subscriber::EnvFilter;
use tracing_subscriber::fmt;

/// How the log is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum LogFormat {
    /// For people.
    Text,
    /// One JSON object per line.
    Json,
}

/// Begins the log of this process; a second beginning changes nothing.
pub(super) fn begin(format: LogFormat, filter: EnvFilter) {
    let builder = fmt().with_env_filter(filter).with_writer(std::io::stderr);
    // Fails only when there is a log already.
    let _ = match format {
        LogFormat::Text => builder.try_init(),
        LogFormat::Json => builder.json().flatten_event(true).try_init(),
    };
    panic::set_hook(Box::new(|panicked| {
        let place = panicked.location().map(ToString::to_string);
        tracing::error!(place, "a panic was caught");
        // Its words may hold what somebody typed.
        let words = panicked.payload_as_str();
        tracing::debug!(words, "the panic's words");
    }));
}
