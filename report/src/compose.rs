//! What a report says, in its order: the job, what is outside, views, tables, causes, doubts,
//! method, tools, photos, sign-offs, safety.

mod head;
mod outside;
mod views;
mod labels;
mod tables;
mod causes;
mod doubts;
mod method;
mod signed;

use indexmap::IndexMap;
use shared::ids::PointId;
use shared::job::{Job, Stage};
use shared::result::StageResult;
use shared::speech::{Unread, fill, not_read_again};

use crate::model::{Block, PhotoText, Report, Section};
use crate::say::{Say, safe, time};
use crate::words::Words;
use crate::{Input, Lack};

/// The report of a job.
#[must_use]
pub fn compose(input: &Input<'_>) -> Report {
    let words = Words::of(input.figures.language);
    let whole = Whole::new(input, words);
    let section = |title: &str, blocks: Vec<Block>| Section {
        title: title.to_owned(),
        blocks,
    };
    let card = &input.job.card;
    let names = [words.number, &safe(&card.number), "·", &safe(&card.vehicle)];
    Report {
        language: input.figures.language,
        paper: input.paper,
        title: words.title.to_owned(),
        job: names.join(" ").trim_end_matches([' ', '·']).to_owned(),
        made: format!("{} {}", words.made_at, time(input.made_at)),
        made_at: input.made_at.to_owned(),
        foot: words.safety_report,
        page: words.page,
        verdicts: [words.within, words.outside, words.unproven],
        sections: vec![
            section("", head::head(&whole)),
            section(words.result, outside::outside(&whole)),
            section(words.views, views::views(&whole)),
            section(words.table, tables::tables(&whole)),
            section(words.causes, causes::causes(&whole)),
            section(words.doubts, doubts::doubts(&whole)),
            section(words.method, method::method(&whole)),
            section(words.tools, method::tools(&whole)),
            section(words.photos, photos(&whole)),
            section(words.sign_offs, signed::signed(&whole)),
            section(words.safety_title, safety(words)),
        ],
    }
}

/// One stage of the job with its result.
#[derive(Debug, Clone, Copy)]
struct Found<'a> {
    stage: &'a Stage,
    result: &'a StageResult,
}

/// What every part of the report is made from.
#[derive(Debug)]
struct Whole<'a> {
    input: &'a Input<'a>,
    say: Say<'a>,
    /// Stages that were read, or all when none was, in the order of work.
    stages: Vec<Found<'a>>,
    /// The number of each point in tables and views; both points of a pair have one.
    numbers: IndexMap<PointId, usize>,
}

impl<'a> Whole<'a> {
    fn new(input: &'a Input<'a>, words: &'static Words) -> Self {
        let job = input.job;
        let all = job.stages.iter().filter_map(|stage| {
            let result = input.result.stages.iter().find(|r| r.id == stage.id)?;
            Some(Found { stage, result })
        });
        let read = |found: &Found<'_>| counting(job, found.stage) > 0;
        let mut stages: Vec<Found<'_>> = all.clone().filter(read).collect();
        if stages.is_empty() {
            stages = all.collect();
        }
        Self {
            input,
            say: Say {
                job,
                words,
                figures: input.figures,
            },
            stages,
            numbers: numbers(job),
        }
    }

    fn words(&self) -> &'static Words {
        self.say.words
    }

    /// The stage that stands for how the car is now.
    fn now(&self) -> Option<Found<'a>> {
        self.stages.last().copied()
    }

    /// What was outside before the stage that stands for how the car is now, and says nothing in it.
    fn unread(&self) -> Vec<Unread> {
        let now = self.now().map(|now| &now.stage.id);
        now.map_or_else(Vec::new, |now| not_read_again(self.input.result, now))
    }

    /// The first and, where there is another, the last stage.
    fn ends(&self) -> Vec<Found<'a>> {
        match self.stages.as_slice() {
            [] => Vec::new(),
            [only] => vec![*only],
            [first, .., last] => vec![*first, *last],
        }
    }

    fn number(&self, id: &PointId) -> String {
        let number = self.numbers.get(id);
        number.map(usize::to_string).unwrap_or_default()
    }
}

/// Readings of a stage that count.
fn counting(job: &Job, stage: &Stage) -> usize {
    job.counting_readings()
        .filter(|reading| reading.stage == stage.id)
        .count()
}

fn numbers(job: &Job) -> IndexMap<PointId, usize> {
    let mut numbers = IndexMap::new();
    let mut next = 1;
    for (id, point) in &job.points {
        if numbers.contains_key(id) {
            continue;
        }
        numbers.insert(id.clone(), next);
        if let Some(mirror) = &point.mirror {
            numbers.insert(mirror.clone(), next);
        }
        next += 1;
    }
    numbers
}

fn photos(whole: &Whole<'_>) -> Vec<Block> {
    let words = whole.words();
    let photos = whole.input.photos;
    if photos.is_empty() {
        return vec![Block::Paragraph(words.photos_none.to_owned())];
    }
    let mut blocks = vec![Block::Note(words.photos_key.to_owned())];
    blocks.extend(photos.iter().map(|photo| {
        if let Some([why, by]) = &photo.hidden {
            let text = fill(
                words.photo_hidden,
                &[&safe(&photo.caption), &safe(by), &safe(why)],
            );
            return Block::Paragraph(text);
        }
        let by = (!photo.by.is_empty()).then(|| fill(words.by, &[&safe(&photo.by)]));
        let at = (!photo.at.is_empty()).then(|| time(&photo.at));
        let caption = (!photo.caption.is_empty()).then(|| safe(&photo.caption));
        let parts: Vec<String> = caption.into_iter().chain(by).chain(at).collect();
        let text = PhotoText {
            caption: parts.join(" · "),
            digest: safe(&photo.digest),
            unreadable: match photo.lacks {
                Some(Lack::Absent) => words.photo_absent,
                Some(Lack::Large) => words.photo_large,
                None => words.photo_unreadable,
            },
            large: words.photo_large,
        };
        Block::Photo(photo.clone(), text)
    }));
    blocks
}

fn safety(words: &'static Words) -> Vec<Block> {
    let lines = words
        .safety_lines()
        .map(|line| Block::Paragraph(line.to_owned()));
    lines.into()
}
