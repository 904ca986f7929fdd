//! What the others contradict, what a person set aside or corrected and why, references that do not
//! fit, and what cannot be told.

use std::collections::HashSet;

use shared::finding::Severity;
use shared::job::Reading;
use shared::result::Suspect;

use super::Whole;
use crate::model::{Block, Line};
use crate::say::safe;
use shared::speech::{counted, fill};

/// So many differences are told of each suspect.
const DIFFERENCES: usize = 3;

pub(super) fn doubts(whole: &Whole<'_>) -> Vec<Block> {
    let words = whole.words();
    let parts = [
        (words.suspects, suspects(whole)),
        (words.set_aside_title, aside(whole)),
        (words.replaced_title, corrected(whole)),
        (words.bent_title, bent(whole)),
    ];
    let mut blocks = Vec::new();
    for (title, lines) in parts {
        if !lines.is_empty() {
            blocks.push(Block::Heading(title.to_owned()));
            blocks.push(Block::Lines(lines));
        }
    }
    if blocks.is_empty() {
        blocks.push(Block::Paragraph(words.no_doubts.to_owned()));
    }
    let cannot = cannot_tell(whole);
    if !cannot.is_empty() {
        blocks.push(Block::Heading(words.cannot_title.to_owned()));
        blocks.push(Block::Lines(cannot));
    }
    let left = whole
        .input
        .findings
        .iter()
        .filter(|finding| finding.severity == Severity::Left)
        .count();
    if left > 0 {
        blocks.push(Block::Heading(words.left_title.to_owned()));
        blocks.push(Block::Paragraph(counted(
            words.left_one,
            words.left_why,
            left,
        )));
    }
    blocks
}

fn suspects(whole: &Whole<'_>) -> Vec<Line> {
    let line = |suspect: &Suspect| {
        let reading = &suspect.reading;
        let known = whole.input.job.readings.iter().find(|r| r.id == *reading)?;
        Some(Line {
            mark: None,
            text: whole.say.reading(known),
            more: reasons(whole, known, suspect),
        })
    };
    whole
        .input
        .result
        .suspects
        .iter()
        .filter_map(line)
        .collect()
}

fn reasons(whole: &Whole<'_>, reading: &Reading, suspect: &Suspect) -> Vec<String> {
    let (words, say) = (whole.words(), whole.say);
    let error = format!(
        "{} {}",
        say.figures.size(suspect.error_mm),
        say.figures.spread(suspect.sigma_mm)
    );
    let mut more = vec![say.origin(reading), fill(words.suspect_why, &[&error])];
    if let Some(code) = &suspect.slip_code {
        more.push(fill(words.slip, &[say.speech().slip(code)]));
    }
    if suspect.one_of.len() > 1 {
        let rows: Vec<String> = suspect
            .one_of
            .iter()
            .map(|name| say.speech().row(whole.input.job, name))
            .collect();
        more.push(fill(words.one_of, &[&rows.join("; ")]));
    }
    for difference in suspect.difference.iter().take(DIFFERENCES) {
        let stages = &whole.input.result.stages;
        let stage = stages.iter().find(|stage| stage.id == difference.stage);
        let change = say.figures.signed(difference.change_mm);
        more.push(fill(
            words.difference,
            &[
                &say.named(&difference.quantity, stage),
                &format!("{change} {}", say.figures.unit_name()),
                &say.stage_of(&difference.stage),
            ],
        ));
    }
    more
}

fn aside(whole: &Whole<'_>) -> Vec<Line> {
    let words = whole.words();
    let line = |reading: &Reading| {
        let aside = reading.set_aside.as_ref()?;
        Some(Line {
            mark: None,
            text: whole.say.reading(reading),
            more: vec![
                whole.say.origin(reading),
                fill(words.set_aside_by, &[&safe(&aside.by)]),
                fill(
                    words.because,
                    &[&safe(whole.say.speech().why_aside(&aside.why))],
                ),
            ],
        })
    };
    whole.input.job.readings.iter().filter_map(line).collect()
}

fn corrected(whole: &Whole<'_>) -> Vec<Line> {
    let (words, say, job) = (whole.words(), whole.say, whole.input.job);
    let line = |later: &Reading| {
        let corrected = later.replaces.as_ref()?;
        let first = job.readings.iter().find(|r| r.id == *corrected)?;
        let by = say.reading(later);
        Some(Line {
            mark: None,
            text: say.reading(first),
            more: vec![
                say.origin(first),
                format!("{} {by} · {}", words.replaced_by, say.origin(later)),
            ],
        })
    };
    job.readings.iter().filter_map(line).collect()
}

fn bent(whole: &Whole<'_>) -> Vec<Line> {
    let (words, say) = (whole.words(), whole.say);
    let tests = whole.input.result.trust.iter().filter(|test| !test.fits);
    let lines = tests.map(|test| {
        let labels: Vec<String> = test.points.iter().map(|id| say.point(id)).collect();
        let size = test.error_mm.map(|error| say.figures.size(error));
        let said = fill(
            words.trust_says,
            &[
                &size.unwrap_or_else(|| words.no_words.to_owned()),
                &test.axis,
            ],
        );
        let mut more = Vec::new();
        if test.one_of.len() > 1 {
            let rows: Vec<String> = test
                .one_of
                .iter()
                .map(|name| say.speech().row(whole.input.job, name))
                .collect();
            more.push(fill(words.one_of, &[&rows.join("; ")]));
        }
        Line {
            mark: None,
            text: format!("{} {said}", labels.join(" / ")),
            more,
        }
    });
    lines.collect()
}

/// Each thing once, whatever the number of stages.
fn cannot_tell(whole: &Whole<'_>) -> Vec<Line> {
    let mut seen = HashSet::new();
    let all = whole.stages.iter().flat_map(|f| &f.result.cannot_tell);
    all.filter(|cannot| seen.insert(cannot.what.as_str()))
        .map(|cannot| Line::of(whole.say.speech().cannot(&cannot.what)))
        .collect()
}
