//! `baybook audit`: the shop's log as a file, and its verification on any machine.

mod export;
mod verify;

use clap::Subcommand;

pub use export::Export;
pub use verify::Verify;

/// What to do with a log.
#[derive(Debug, Subcommand)]
pub enum Audit {
    /// Writes a shop's log, with everything that it names, into a file.
    Export(Export),
    /// Verifies such a file, without any server or database.
    Verify(Verify),
}

/// Does it.
///
/// # Errors
/// With a text that says what to change, or what does not hold.
pub fn run(audit: &Audit) -> anyhow::Result<()> {
    match audit {
        Audit::Export(export) => export::run(export),
        Audit::Verify(verify) => verify::run(verify),
    }
}
