//! The movements of members that explain what was read, stage by stage.

use super::Whole;
use crate::model::{Block, Line};

pub(super) fn causes(whole: &Whole<'_>) -> Vec<Block> {
    let words = whole.words();
    let mut blocks = vec![Block::Note(words.cause_key.to_owned())];
    for found in &whole.stages {
        blocks.push(Block::Heading(whole.say.stage(found.stage)));
        if found.result.causes.is_empty() {
            blocks.push(Block::Paragraph(words.no_cause.to_owned()));
            continue;
        }
        let lines = found.result.causes.iter().map(|cause| Line {
            mark: None,
            text: whole.say.speech().cause(whole.input.job, cause),
            more: whole.say.speech().cause_reasons(whole.input.job, cause),
        });
        blocks.push(Block::Lines(lines.collect()));
    }
    blocks
}
