//! The report as PDF/A-2b (ISO 19005-2): fonts and colour profile inside, one file for years.
//!
//! Points (1/72 in). The pages are laid out first, so that each can say how many there are, then
//! drawn. Memory is bounded by the photos, which are passed through as they are (JPEG) or unpacked
//! one after the other (PNG); see [`MAX_PHOTO_BYTES`]. This file refuses to know what is reported.

mod font;
mod flow;
mod table;
mod figure;
mod photo;
mod draw;

use std::collections::HashSet;
use std::num::NonZeroU64;

use krilla::configure::{Archival, Configuration, ConfigurationBuilder};
use krilla::error::KrillaError;
use krilla::metadata::{DateTime, Metadata};
use krilla::{Document, SerializeSettings};
use shared::moment;

use crate::model::{Block, Report};
use flow::Flow;
use font::Type;

pub use photo::{MAX_ALL_PHOTO_BYTES, MAX_PHOTO_BYTES, MAX_PIXELS};

/// Why there is no PDF.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PdfError {
    /// A font could not be read or shaped; the fonts are inside the program.
    #[error("the report's own fonts cannot be read")]
    Font,
    /// The file would not be PDF/A-2b, or breaks a limit of the format; in the writer's words.
    #[error("the report cannot be written as PDF/A-2b: {0}")]
    Form(String),
}

/// Writes the report.
///
/// Photos that cannot be printed are named in their place; everything else that is in the report is
/// on the pages.
///
/// # Errors
/// [`PdfError`]; a fault of this program, whatever is in the report.
pub fn write(report: &Report) -> Result<Vec<u8>, PdfError> {
    let typeface = Type::new().ok_or(PdfError::Font)?;
    let configuration = ConfigurationBuilder::new()
        .with_archival_validator(Archival::A2_B)
        .finish()
        .map_err(|error| PdfError::Form(format!("{error:?}")))?;
    let mut spoilt = HashSet::new();
    loop {
        match attempt(report, &typeface, configuration, &spoilt) {
            Ok(bytes) => return Ok(bytes),
            // A photo shows its faults only when it is unpacked: then it is named as unreadable.
            Err(
                KrillaError::Image(_, Some(place), _)
                | KrillaError::SixteenBitImage(_, Some(place)),
            ) if spoilt.insert(place) => {}
            Err(KrillaError::Font(..)) => return Err(PdfError::Font),
            Err(error) => return Err(PdfError::Form(format!("{error:?}"))),
        }
    }
}

fn attempt(
    report: &Report,
    typeface: &Type,
    configuration: Configuration,
    spoilt: &HashSet<NonZeroU64>,
) -> Result<Vec<u8>, KrillaError> {
    let mut document = Document::new_with(SerializeSettings {
        configuration,
        enable_tagging: false,
        ..SerializeSettings::default()
    });
    document.set_metadata(metadata(report));
    let mut flow = Flow::new(typeface, report);
    flow.title(&report.title);
    let mut photos = photo::Photos::new(spoilt);
    for section in &report.sections {
        if !section.title.is_empty() {
            let draws = |block: &Block| matches!(block, Block::Drawings(_));
            // A heading stays with the first drawing below it.
            let least = if section.blocks.iter().any(draws) {
                400.0
            } else {
                70.0
            };
            flow.heading(&section.title, least);
        }
        let mut blocks = section.blocks.as_slice();
        while let [first, rest @ ..] = blocks {
            blocks = rest;
            match first {
                Block::Heading(text) => flow.subheading(text),
                Block::Paragraph(text) => flow.paragraph(text),
                Block::Note(text) => flow.note(text),
                Block::Facts(facts) => flow.facts(facts),
                Block::Lines(lines) => flow.lines(lines),
                Block::Table(of) => table::table(&mut flow, of),
                Block::Drawings(drawings) => figure::drawings(&mut flow, drawings),
                Block::Photo(of, text) => {
                    // Two stand beside each other.
                    let mut row = vec![(of, text)];
                    if let [Block::Photo(of, text), rest @ ..] = blocks {
                        row.push((of, text));
                        blocks = rest;
                    }
                    photos.row(&mut flow, &row);
                }
            }
        }
    }
    draw::draw(&mut document, typeface, report, flow.into_pages());
    document.finish()
}

fn metadata(report: &Report) -> Metadata {
    let metadata = Metadata::new()
        .title(format!("{} · {}", report.title, report.job))
        .language(report.language.code().to_owned())
        .creator("Baybook".to_owned());
    match moment::millis(&report.made_at).and_then(date) {
        Some(date) => metadata.creation_date(date),
        None => metadata,
    }
}

/// A moment as the file has it, in UTC.
fn date(at_ms: i64) -> Option<DateTime> {
    let text = moment::utc(at_ms);
    let number = |range: std::ops::Range<usize>| text.get(range)?.parse::<u8>().ok();
    Some(
        DateTime::new(text.get(..4)?.parse().ok()?)
            .month(number(5..7)?)
            .day(number(8..10)?)
            .hour(number(11..13)?)
            .minute(number(14..16)?)
            .second(number(17..19)?)
            .utc_offset_hour(0)
            .utc_offset_minute(0),
    )
}
