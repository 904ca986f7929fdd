//! Writes honest inputs for each fuzz target into a folder, so that the fuzzer does not begin from
//! nothing: `cargo run --package shared --example fuzz_seeds -- fuzz/corpus`.

#[path = "../tests/mutations/properties.rs"]
#[expect(dead_code, reason = "the seeds alone are used")]
mod properties;

use std::path::Path;

fn main() -> std::io::Result<()> {
    let into = std::env::args().nth(1).unwrap_or_else(|| "corpus".into());
    let contents = properties::contents();
    let chunks = contents.iter().map(|contents| properties::chunk(contents));
    let seeds = [
        ("frame", properties::frames()),
        ("message", properties::messages()),
        ("logged_change", chunks.collect()),
        ("change", contents),
        ("operations", vec![(0..200).collect(), vec![7; 60]]),
        ("job_file", properties::job_files()),
        ("sheet", properties::sheets()),
    ];
    for (target, seeds) in seeds {
        let folder = Path::new(&into).join(target);
        std::fs::create_dir_all(&folder)?;
        for (number, seed) in seeds.iter().enumerate() {
            std::fs::write(folder.join(format!("seed-{number}")), seed)?;
        }
    }
    Ok(())
}
