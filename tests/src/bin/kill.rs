//! Kills the server at any moment while four people write: `cargo xtask kill`.
//!
//! `kill serve …` is the server itself, with the command line of `baybook`: tests find the programs
//! of their own package only. `kill run …` is the harness.

use std::path::PathBuf;

use anyhow::Result;
use clap::{Args, Parser};
use server::commands::serve::{self, Serve};
use tests::database::{Engine, Scratch};
use tests::kill::{Figures, Plan, WRITERS, run};

#[derive(Debug, Parser)]
enum Words {
    /// The server itself.
    Serve(Serve),
    /// The harness.
    Run(Run),
}

#[derive(Debug, Args)]
struct Run {
    /// How often to kill.
    #[arg(long, default_value_t = 500)]
    cycles: u32,
    /// Chooses the moments.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// The program to kill; without it this one.
    #[arg(long)]
    server: Option<PathBuf>,
    /// An empty database; without it a SQLite file is made and removed.
    #[arg(long)]
    database_url: Option<String>,
}

fn main() -> Result<()> {
    match Words::parse() {
        Words::Serve(serve) => serve::run(serve),
        Words::Run(options) => harness(options),
    }
}

fn harness(options: Run) -> Result<()> {
    let server = match options.server {
        Some(server) => server,
        None => std::env::current_exe()?,
    };
    tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()?
        .block_on(async {
            let scratch = Scratch::new(Engine::Sqlite).await?;
            let plan = Plan {
                server,
                database_url: options.database_url.unwrap_or_else(|| scratch.url.clone()),
                folder: scratch.folder.clone(),
                cycles: options.cycles,
                seed: options.seed,
            };
            let figures = run(&plan, |text| println!("{text}")).await?;
            print!("{}", says(&figures, options.seed));
            Ok(())
        })
}

fn says(figures: &Figures, seed: u64) -> String {
    let (mean, longest) = figures.restart();
    format!(
        "\nseed {seed}, {WRITERS} writers\n\
         kills while writing        {}\n\
         kills while starting       {}\n\
         books                      {}\n\
         readings entered           {}\n\
         acknowledged before a kill {}\n\
         of these lost              0\n\
         waiting when killed        {} (kept all the same: {})\n\
         entries of the log         {}\n\
         restart                    mean {} ms, longest {} ms\n",
        figures.kills,
        figures.early_kills,
        figures.books,
        figures.entered,
        figures.acknowledged,
        figures.in_flight,
        figures.in_flight_kept,
        figures.log_entries,
        mean.as_millis(),
        longest.as_millis(),
    )
}
