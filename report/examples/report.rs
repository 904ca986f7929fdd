//! Writes reports of the demo car and of a large one with 40 photos, and says how long it took:
//!
//! `cargo run --release -p report --features pdf --example report -- DIR`; `cargo xtask bench` runs it.
#![expect(clippy::disallowed_methods, reason = "a benchmark reads the clock")]

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Instant;

use report::{Input, Paper, Photo, compose, html, pdf, table};
use shared::figures::{Figures, Language, LengthUnit};
use shared::job::Job;
use shared::simulate::large::{large_car, repeatable_noise};
use shared::solve::solve;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args_os().nth(1).ok_or("name a folder")?;
    let folder = PathBuf::from(folder);
    std::fs::create_dir_all(&folder)?;
    // Pictures take their time in a build that is not optimised.
    let count = if cfg!(debug_assertions) { 2 } else { 40 };
    let photos: Vec<Photo> = (0..count).map(photo).collect::<Result<_, _>>()?;
    let mut noise = repeatable_noise(7);
    let large = large_car(50, 6, &mut noise);
    for (name, job, photos) in [
        ("demo", &shared::demo::job(), &[][..]),
        ("large", &large, &photos),
    ] {
        let started = Instant::now();
        let result = solve(job);
        println!("{name}: solved in {:?}", started.elapsed());
        for (paper, figures) in variants() {
            let input = Input {
                job,
                result: &result,
                findings: &[],
                signed: Some(&[]),
                photos,
                shop: "Example Body Works",
                state: "",
                made_at: "2026-03-02T09:15:00Z",
                figures,
                paper,
            };
            let started = Instant::now();
            let report = compose(&input);
            let bytes = pdf::write(&report)?;
            let took = started.elapsed();
            let stem = format!("{name}-{}-{}", paper.name(), figures.language.code());
            println!("{stem}: {took:?}, {} kB", bytes.len() / 1000);
            std::fs::write(folder.join(format!("{stem}.pdf")), bytes)?;
            std::fs::write(folder.join(format!("{stem}.html")), html::page(&report))?;
        }
        tables(&folder, name, job)?;
    }
    Ok(())
}

fn variants() -> [(Paper, Figures); 2] {
    let figures = |unit, language| Figures { unit, language };
    [
        (
            Paper::A4,
            figures(LengthUnit::Millimetre, Language::Spanish),
        ),
        (
            Paper::Letter,
            figures(LengthUnit::InchFraction, Language::English),
        ),
    ]
}

fn tables(folder: &std::path::Path, name: &str, job: &Job) -> std::io::Result<()> {
    let figures = Figures::default();
    let result = solve(job);
    std::fs::write(
        folder.join(format!("{name}-readings.csv")),
        table::readings(job, figures),
    )?;
    std::fs::write(
        folder.join(format!("{name}-results.csv")),
        table::results(job, &result, figures),
    )
}

/// An invented picture of 1600 × 1200 pixels: a gradient with a grain, so that it is no smaller than
/// a photo.
fn photo(number: u32) -> Result<Photo, Box<dyn std::error::Error>> {
    let (wide, high) = (1600_u32, 1200_u32);
    let mut pixels = Vec::new();
    let mut grain = number.wrapping_mul(2_654_435_761) | 1;
    for v in 0..high {
        for u in 0..wide {
            grain ^= grain << 13;
            grain ^= grain >> 17;
            grain ^= grain << 5;
            let shade = |base: u32| u8::try_from((base + grain % 24) % 256).unwrap_or(0);
            pixels.extend([shade(u / 8), shade(v / 6), shade(number * 6)]);
        }
    }
    let mut bytes = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 85).encode(
        &pixels,
        wide,
        high,
        image::ExtendedColorType::Rgb8,
    )?;
    Ok(Photo {
        digest: shared::proof::Digest::of(&bytes).to_string(),
        bytes: Arc::new(bytes),
        caption: format!("invented picture {number}"),
        by: "Ana Lind".to_owned(),
        at: "2026-03-02T09:10:00Z".to_owned(),
        ..Photo::default()
    })
}
