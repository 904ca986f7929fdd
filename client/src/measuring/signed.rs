//! A sign-off in words: what is signed, and what is still open.
//!
//! Values come from the claims, which anybody computes again; this file refuses to judge.

use shared::ids::StageId;
use shared::job::Job;
use shared::proof::statement::{Checked, Claims, ToolCheck};
use shared::result::JobResult;

use super::sentences::Voice;
use super::task::label;
use super::unread::{Unread, not_read_again};
use crate::text::office::Office;

/// Micrometres as millimetres.
fn mm(um: i64) -> f64 {
    // Micrometres of a car are far below 2^53.
    #[expect(clippy::cast_precision_loss, reason = "micrometres of a car fit")]
    let um = um as f64;
    um / 1000.0
}

/// The label of a stage; the id when the book has no such stage any more.
#[must_use]
pub fn stage_label(job: &Job, stage: &StageId) -> String {
    let known = job.stages.iter().find(|known| known.id == *stage);
    known.map_or_else(|| stage.to_string(), |known| known.label.clone())
}

/// What was outside and how far, with the stage that read it last.
#[must_use]
pub fn unread_line(voice: Voice, job: &Job, unread: &Unread) -> String {
    format!(
        "{}: {} {}, {}",
        label(job, &unread.left),
        voice.quantity(unread.quantity, &unread.judged),
        voice.doubt(&unread.judged),
        stage_label(job, &unread.since)
    )
}

/// What is claimed, line by line.
#[must_use]
pub fn lines(voice: Voice, words: &Office, job: &Job, claims: &Claims) -> Vec<String> {
    let counts = claims.counts;
    let mut lines = vec![
        format!(
            "{}: {}",
            voice.measuring.stage,
            stage_label(job, &claims.stage)
        ),
        format!("{} {}", claims.readings, voice.words.reading_count),
        format!(
            "{} {} · {} {} · {} {}",
            counts.outside,
            voice.words.outside_count,
            counts.unproven,
            voice.words.unproven_count,
            counts.within,
            voice.words.within_count
        ),
        rule(voice, claims),
    ];
    for aside in &claims.aside {
        let reading = job.readings.iter().find(|known| known.id == aside.reading);
        let reading = reading.map_or_else(
            || aside.reading.to_string(),
            |reading| voice.reading(job, reading),
        );
        lines.push(format!(
            "{} {}: {reading} – {}",
            voice.measuring.set_aside_by, aside.by, aside.why
        ));
    }
    if !claims.suspects.is_empty() {
        lines.push(format!("{} {}", claims.suspects.len(), words.suspects_open));
    }
    lines.extend(claims.tools.iter().flat_map(|tool| tool_lines(words, tool)));
    lines
}

fn rule(voice: Voice, claims: &Claims) -> String {
    let tolerance = voice.figures.size(mm(claims.rule.tolerance_um));
    let percent = claims.rule.conformity_ppm / 10_000;
    let rule = voice
        .measuring
        .tolerance_line
        .replacen("{}", &tolerance, 1)
        .replacen("{}", &format!("{percent} %"), 1);
    voice.with_own(rule, claims.rule.own_um.map(|own| own.map(mm)))
}

fn tool_lines(words: &Office, tool: &ToolCheck) -> Vec<String> {
    let name = match tool.label.is_empty() {
        true => tool.tool.to_string(),
        false => tool.label.clone(),
    };
    let line = |what: &str, check: &Option<Checked>| match check {
        Some(check) => {
            let day = check.at.get(..10).unwrap_or(words.no_day);
            format!(
                "{name}: {what} {} {day}, {:+.2} mm/m ± {:.2} ({})",
                words.checked_on,
                mm(check.found_um_per_m),
                mm(check.sigma_um_per_m),
                check.by
            )
        }
        None => format!("{name}: {what} {}", words.never_checked),
    };
    vec![
        line(words.level_beam, &tool.level),
        line(words.plumb_beam, &tool.plumb),
    ]
}

/// What is still open before somebody signs; empty when nothing is.
#[must_use]
pub fn open_checks(
    voice: Voice,
    words: &Office,
    job: &Job,
    result: &JobResult,
    claims: &Claims,
) -> Vec<String> {
    let counted = |count: u64, text: &str| (count > 0).then(|| format!("{count} {text}"));
    let suspects = counted(claims.suspects.len() as u64, words.open_suspects).map(|text| {
        let suspects = claims.suspects.iter();
        let readings = suspects.filter_map(|id| job.readings.iter().find(|one| one.id == *id));
        let names: Vec<String> = readings.map(|one| voice.reading(job, one)).collect();
        format!("{text} ({})", names.join("; "))
    });
    let unread = not_read_again(result, &claims.stage);
    let unread = counted(unread.len() as u64, words.open_unread).map(|text| {
        let names: Vec<String> = unread
            .iter()
            .map(|unread| unread_line(voice, job, unread))
            .collect();
        format!("{text} ({})", names.join("; "))
    });
    let in_stage = result.stages.iter().find(|stage| stage.id == claims.stage);
    let unchecked = claims
        .tools
        .iter()
        .filter(|tool| tool.level.is_none() && tool.plumb.is_none())
        .count() as u64;
    [
        counted(claims.counts.outside, words.open_outside),
        counted(claims.counts.unproven, words.open_unproven),
        unread,
        suspects,
        counted(unchecked, words.open_tools),
        (claims.readings == 0 || in_stage.is_none()).then(|| words.open_nothing.to_owned()),
    ]
    .into_iter()
    .flatten()
    .collect()
}
