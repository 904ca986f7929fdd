//! Who signed what and when, with the code by which the shop finds it, and what came since.

use shared::book::Since;
use shared::proof::statement::{SignOff, SignedStatement};
use shared::verdict::Verdict;

use super::Whole;
use crate::model::{Block, Cell, Table};
use crate::say::{safe, time_of};
use crate::words::Words;
use shared::speech::{counted, fill};

pub(super) fn signed(whole: &Whole<'_>) -> Vec<Block> {
    let words = whole.words();
    let Some(signed) = whole.input.signed else {
        return vec![Block::Paragraph(words.sign_offs_elsewhere.to_owned())];
    };
    if signed.is_empty() {
        return vec![Block::Paragraph(words.sign_offs_none.to_owned())];
    }
    let mut blocks = vec![Block::Note(words.code_key.to_owned())];
    for (one, since) in signed {
        blocks.extend(sign_off(whole, one, *since));
    }
    blocks
}

fn sign_off(whole: &Whole<'_>, one: &SignOff, since: Option<Since>) -> Vec<Block> {
    let (words, figures) = (whole.words(), whole.say.figures);
    let claims = &one.signed.statement().claims;
    let mut facts = signature(words, words.signed_by, &one.signed);
    for joined in &one.joined {
        facts.extend(signature(words, words.countersigned_by, joined));
    }
    #[expect(
        clippy::cast_precision_loss,
        reason = "micrometres and millionths are small"
    )]
    let (tolerance_mm, conformity) = (
        claims.rule.tolerance_um as f64 / 1e3,
        claims.rule.conformity_ppm as f64 / 1e6,
    );
    let readings = usize::try_from(claims.readings).unwrap_or(usize::MAX);
    let readings = counted(words.reading_one, words.reading_many, readings);
    let rule = fill(
        words.signed_rule,
        &[
            &readings,
            &figures.limit(tolerance_mm),
            &figures.level(conformity),
        ],
    );
    let own = claims.rule.own_um;
    let own = own.map(|um| whole.say.speech().own_rule(um.map(|um| um as f64 / 1e3)));
    let rule = [Some(rule), own].into_iter().flatten();
    let rule = rule.collect::<Vec<_>>().join(". ");
    // Older sign-offs name those of other stages too, which are not among the readings counted here.
    let [aside, suspects] = claims.doubted_elsewhere(whole.input.job);
    let (aside, suspects) = (claims.aside.len() - aside, claims.suspects.len() - suspects);
    let aside = fill(
        words.signed_aside,
        &[
            &counted(words.aside_one, words.aside_many, aside),
            &counted(words.suspect_one, words.suspect_many, suspects),
        ],
    );
    let counts = claims.counts;
    let count = |verdict, count: u64| Cell {
        mark: Some(verdict),
        text: count.to_string(),
    };
    vec![
        Block::Heading(whole.say.stage_of(&claims.stage)),
        Block::Facts(facts),
        Block::Table(Table {
            columns: vec![(String::new(), 1.0); 3],
            rows: vec![vec![
                count(Verdict::Outside, counts.outside),
                count(Verdict::Unproven, counts.unproven),
                count(Verdict::Within, counts.within),
            ]],
        }),
        Block::Paragraph(format!("{rule}; {aside}.")),
        Block::Paragraph(since_text(words, since)),
    ]
}

/// Who, when and the code.
fn signature(words: &Words, what: &str, signed: &SignedStatement) -> Vec<[String; 2]> {
    let said = signed.statement();
    let who = format!("{} · {}", safe(&said.who.name), time_of(said.at_ms));
    vec![
        [what.to_owned(), who],
        [words.code.to_owned(), signed.code()],
    ]
}

fn since_text(words: &Words, since: Option<Since>) -> String {
    match since {
        None => words.since_unknown.to_owned(),
        Some(Since { entries: 0, .. }) => words.since_nothing.to_owned(),
        Some(Since { readings: 1, .. }) => words.since_one.to_owned(),
        Some(Since {
            readings: 0,
            entries: 1,
        }) => words.since_entry.to_owned(),
        Some(Since {
            readings: 0,
            entries,
        }) => fill(words.since_entries, &[&entries.to_string()]),
        Some(Since { readings, .. }) => fill(words.since_many, &[&readings.to_string()]),
    }
}
