//! The job: number, car, what it is judged by, and its stages with their verdicts.

use std::collections::BTreeSet;

use shared::proof::statement::Counts;
use shared::verdict::Verdict;
use shared::vin::{VinCheck, check};

use super::{Whole, counting};
use crate::model::{Block, Cell, Table};
use crate::say::{safe, time};
use shared::speech::{counted, fill};

pub(super) fn head(whole: &Whole<'_>) -> Vec<Block> {
    let mut blocks = vec![Block::Facts(facts(whole))];
    let words = whole.words();
    blocks.push(Block::Heading(words.summary.to_owned()));
    if whole.input.job.stages.is_empty() {
        blocks.push(Block::Paragraph(words.summary_none.to_owned()));
        return blocks;
    }
    blocks.push(Block::Table(stages(whole)));
    let unread = whole.unread().len();
    if unread > 0 {
        let text = counted(words.unread_one, words.unread_many, unread);
        blocks.push(Block::Paragraph(text));
    }
    blocks.push(Block::Note(words.key_marks.to_owned()));
    if !whole.input.result.fit.converged && !whole.input.job.readings.is_empty() {
        blocks.push(Block::Paragraph(words.not_settled.to_owned()));
    }
    blocks
}

fn facts(whole: &Whole<'_>) -> Vec<[String; 2]> {
    let (words, input) = (whole.words(), whole.input);
    let card = &input.job.card;
    let mut facts = Vec::new();
    let mut fact = |name: &str, value: String| {
        let is_said = !value.trim().is_empty();
        let value = if is_said {
            value
        } else {
            words.no_words.to_owned()
        };
        facts.push([name.to_owned(), value]);
    };
    fact(words.number, safe(&card.number));
    fact(words.vehicle, safe(&card.vehicle));
    let vin = card.vin.as_deref().unwrap_or_default();
    let doubt = !vin.is_empty() && !matches!(check(vin), VinCheck::Good);
    let doubt = if doubt { words.vin_looks_wrong } else { "" };
    fact(words.vin, format!("{} {doubt}", safe(vin)));
    match &input.job.sheet {
        None => fact(words.body, words.no_sheet.to_owned()),
        Some(sheet) => {
            let revision = sheet.revision.to_string();
            let name = fill(words.sheet_revision, &[&safe(&sheet.name), &revision]);
            fact(words.body, name);
            if !sheet.digest.is_empty() {
                fact(words.sheet_digest, safe(&sheet.digest));
            }
        }
    }
    let zone = card.impact.as_ref().map(|impact| words.zone(impact.zone));
    fact(words.impact, zone.unwrap_or_default().to_owned());
    let people: BTreeSet<String> = input
        .job
        .readings
        .iter()
        .filter(|reading| !reading.by.is_empty())
        .map(|reading| safe(&reading.by))
        .collect();
    let people: Vec<String> = people.into_iter().collect();
    fact(words.read_by, people.join(", "));
    fact(words.shop, safe(input.shop));
    fact(words.made_at, time(input.made_at));
    if !input.state.is_empty() {
        fact(words.state, input.state.to_owned());
    }
    facts
}

fn stages(whole: &Whole<'_>) -> Table {
    let (words, job) = (whole.words(), whole.input.job);
    let rows = job.stages.iter().map(|stage| {
        let found = whole.input.result.stages.iter().find(|r| r.id == stage.id);
        let counts = found.map(Counts::of).unwrap_or_default();
        let count = |verdict, count: u64| Cell {
            mark: Some(verdict),
            text: count.to_string(),
        };
        vec![
            Cell::of(whole.say.stage(stage)),
            Cell::of(words.stage_kind(stage.of, stage.pulled())),
            Cell::of(counting(job, stage).to_string()),
            count(Verdict::Outside, counts.outside),
            count(Verdict::Unproven, counts.unproven),
            count(Verdict::Within, counts.within),
        ]
    });
    Table {
        columns: vec![
            (words.stage.to_owned(), 3.0),
            (String::new(), 2.6),
            (words.readings.to_owned(), 1.3),
            // The cells say which verdict they count.
            (String::new(), 1.5),
            (String::new(), 1.8),
            (String::new(), 1.5),
        ],
        rows: rows.collect(),
    }
}
