//! One stage in words: tilt, what is out, what cannot be told, the table, what to read next.

use indexmap::IndexMap;

use super::page::Page;
use super::{damage, mark, tables};
use crate::job::{Job, Stage};
use crate::result::{JobResult, Judged, PairResult, StageResult};
use crate::verdict::Verdict;

/// What a stage is called: its label, or its id where it has none.
pub(super) fn label(stage: &Stage) -> &str {
    if stage.label.is_empty() {
        stage.id.as_str()
    } else {
        &stage.label
    }
}

fn label_of<'a>(job: &'a Job, stage: &'a StageResult) -> &'a str {
    let known = job.stages.iter().find(|s| s.id == stage.id);
    known.map_or(stage.id.as_str(), label)
}

pub(super) fn stage(page: &mut Page, job: &Job, result: &JobResult, stage: &StageResult) {
    page.gap();
    page.line(format_args!("== {} ==", label_of(job, stage)));
    if let Some(roll) = stage.tilt_deg.roll {
        let side = if roll > 0.0 { "right" } else { "left" };
        page.line(format_args!(
            "The car stands {:.2}° rolled, {side} side low.",
            roll.abs()
        ));
    }
    out(page, job, stage);
    damage::causes(page, job, stage);
    damage::pulls(page, job, stage);
    tables::pairs(page, job, stage);
    damage::modes(page, stage);
    damage::changes(page, job, result, stage);
    let next: Vec<_> = result
        .next
        .iter()
        .filter(|next| next.stage == stage.id)
        .take(5)
        .collect();
    if !next.is_empty() {
        page.gap();
        page.line("Read next");
    }
    for next in next {
        page.line(format_args!("  {}", damage::next(job, next)));
    }
}

/// What is outside and what cannot be told yet, largest first.
fn out(page: &mut Page, job: &Job, stage: &StageResult) {
    let mut quantities: Vec<(&PairResult, &str, &Judged)> = stage
        .pairs
        .iter()
        .flat_map(|pair| tables::quantities(pair).map(move |(name, judged)| (pair, name, judged)))
        .filter(|(_, _, judged)| judged.verdict.is_some())
        .collect();
    let off = |judged: &Judged| (judged.value.unwrap_or(0.0) - judged.target.unwrap_or(0.0)).abs();
    quantities.sort_by(|a, b| off(b.2).total_cmp(&off(a.2)));
    for (verdict, title) in [
        (Verdict::Outside, "Outside"),
        (
            Verdict::Unproven,
            "Cannot be told yet: read these again, or from another set-up",
        ),
    ] {
        let some: Vec<_> = quantities
            .iter()
            .filter(|(_, _, judged)| judged.verdict == Some(verdict))
            .collect();
        if some.is_empty() {
            continue;
        }
        page.gap();
        page.line(title);
        for (pair, name, judged) in some {
            page.line(format_args!(
                "  {} {}",
                mark(verdict),
                tables::sentence(job, pair, name, judged)
            ));
        }
    }
}

/// What can never be told, each reason once, with its stages where it does not hold for all.
pub(super) fn cannot_tell(page: &mut Page, job: &Job, result: &JobResult) {
    let mut reasons: IndexMap<(&str, &str), Vec<&str>> = IndexMap::new();
    for stage in &result.stages {
        for cannot in &stage.cannot_tell {
            let stages = reasons.entry((&cannot.what, &cannot.why)).or_default();
            stages.push(label_of(job, stage));
        }
    }
    if !reasons.is_empty() {
        page.gap();
        page.line("What these readings cannot tell");
    }
    for ((what, why), stages) in reasons {
        let stages = if stages.len() == result.stages.len() {
            String::new()
        } else {
            format!(" ({})", stages.join("; "))
        };
        page.line(format_args!("  {what}: {why}{stages}"));
    }
}
