//! What is outside now, largest first, what was and is not read again, and what the readings cannot
//! tell yet.

use shared::result::StageResult;
use shared::verdict::Verdict;

use super::Whole;
use crate::model::{Block, Line};
use shared::drawing::pair_of;
use shared::speech::{Quantity, Unread, UnreadOf, fill};

pub(super) fn outside(whole: &Whole<'_>) -> Vec<Block> {
    let words = whole.words();
    let Some(now) = whole.now() else {
        return vec![Block::Paragraph(words.summary_none.to_owned())];
    };
    let judged = judged(whole, now.result);
    let of = |verdict: Verdict| -> Vec<Line> {
        let of = judged.iter().filter(|(_, line)| line.mark == Some(verdict));
        of.map(|(_, line)| line.clone()).collect()
    };
    let mut blocks = vec![Block::Paragraph(fill(
        words.result_of,
        &[&whole.say.stage(now.stage)],
    ))];
    for (verdict, title, none) in [
        (Verdict::Outside, words.outside_title, words.nothing_outside),
        (
            Verdict::Unproven,
            words.unproven_title,
            words.nothing_unproven,
        ),
    ] {
        let lines = of(verdict);
        if lines.is_empty() {
            blocks.push(Block::Paragraph(none.to_owned()));
        } else {
            blocks.push(Block::Heading(title.to_owned()));
            blocks.push(Block::Lines(lines));
        }
        if verdict == Verdict::Outside {
            blocks.extend(unread(whole));
        }
    }
    blocks
}

/// Fewer quantities outside are no repair by themselves.
fn unread(whole: &Whole<'_>) -> Vec<Block> {
    let say = whole.say;
    let line = |one: &Unread| {
        let (id, name) = match &one.of {
            UnreadOf::Pair(left, _) => {
                let mut stages = whole.input.result.stages.iter();
                let since = stages.find(|stage| stage.id == one.since);
                let pair = since.and_then(|stage| pair_of(stage, left));
                let right = pair.map_or(left, |pair| &pair.right);
                (left, say.pair(left, right))
            }
            UnreadOf::Point(id, _) => (id, say.point(id)),
        };
        Line::of(format!(
            "{} {name}: {} {} · {}",
            whole.number(id),
            say.speech().unread(one),
            say.doubt(&one.judged),
            say.stage_of(&one.since)
        ))
    };
    let lines: Vec<Line> = whole.unread().iter().map(line).collect();
    if lines.is_empty() {
        return Vec::new();
    }
    let title = whole.words().unread_title.to_owned();
    vec![Block::Heading(title), Block::Lines(lines)]
}

/// Every judged quantity of a stage as a sentence, the largest first.
fn judged(whole: &Whole<'_>, stage: &StageResult) -> Vec<(f64, Line)> {
    let say = whole.say;
    let mut list = Vec::new();
    for pair in &stage.pairs {
        for quantity in Quantity::ALL {
            let judged = quantity.of(pair);
            if let (Some(value), Some(_)) = (judged.value, judged.verdict) {
                let number = whole.number(&pair.left);
                let label = say.pair(&pair.left, &pair.right);
                let line = Line {
                    mark: judged.verdict,
                    text: format!(
                        "{number} {label}: {} {}",
                        say.speech().quantity(quantity, judged),
                        say.doubt(judged)
                    ),
                    more: Vec::new(),
                };
                list.push(((value - judged.target.unwrap_or(0.0)).abs(), line));
            }
        }
    }
    for (id, point) in &stage.points {
        for axis in 0..3 {
            if let (Some(deviation), Some(_)) = (point.deviation_mm[axis], point.verdict[axis]) {
                let line = Line {
                    mark: point.verdict[axis],
                    text: format!(
                        "{} {}: {} {}",
                        whole.number(id),
                        say.point(id),
                        say.speech().deviation(axis, deviation),
                        say.doubt(&point.judged(axis))
                    ),
                    more: Vec::new(),
                };
                list.push((deviation.abs(), line));
            }
        }
    }
    list.sort_by(|a, b| b.0.total_cmp(&a.0));
    list
}
