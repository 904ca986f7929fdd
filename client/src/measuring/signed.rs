//! A sign-off in words: what is signed, and what is still open.
//!
//! Values come from the claims, which anybody computes again; this file refuses to judge.

use shared::ids::StageId;
use shared::job::Job;
use shared::proof::statement::{Checked, Claims, Counts, ToolCheck};
use shared::result::JobResult;
use shared::speech::{counted, fill, not_judged, not_read_again};

use super::sentences::Voice;
use super::unread::unread_line;
use crate::text::office::Office;

/// Micrometres as millimetres.
fn mm(um: i64) -> f64 {
    // Micrometres of a car are far below 2^53.
    #[expect(clippy::cast_precision_loss, reason = "micrometres of a car fit")]
    let um = um as f64;
    um / 1000.0
}

fn whole(count: u64) -> usize {
    usize::try_from(count).unwrap_or(usize::MAX)
}

/// The label of a stage; the id when the book has no such stage any more.
#[must_use]
pub fn stage_label(job: &Job, stage: &StageId) -> String {
    let known = job.stages.iter().find(|known| known.id == *stage);
    known.map_or_else(|| stage.to_string(), |known| known.label.clone())
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
        counted(
            words.reading_one,
            words.reading_many,
            whole(claims.readings),
        ),
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
            voice.measuring.set_aside_by,
            aside.by,
            voice.why_aside(&aside.why)
        ));
    }
    if !claims.suspects.is_empty() {
        lines.push(counted(
            words.suspect_open,
            words.suspects_open,
            claims.suspects.len(),
        ));
    }
    lines.extend(claims.tools.iter().flat_map(|tool| tool_lines(words, tool)));
    lines
}

fn rule(voice: Voice, claims: &Claims) -> String {
    let tolerance = voice.figures.limit(mm(claims.rule.tolerance_um));
    // Thousandths of thousandths.
    let level = voice.figures.level(mm(claims.rule.conformity_ppm) / 1000.0);
    let rule = voice
        .measuring
        .tolerance_line
        .replacen("{}", &tolerance, 1)
        .replacen("{}", &level, 1);
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
    let said = |count: usize, one: &str, many: &str| (count > 0).then(|| counted(one, many, count));
    // Said alike of one and of many.
    let alike = |count: usize, text: &str| (count > 0).then(|| format!("{count} {text}"));
    let suspects = said(
        claims.suspects.len(),
        words.open_suspect,
        words.open_suspects,
    );
    let suspects = suspects.map(|text| {
        let suspects = claims.suspects.iter();
        let readings = suspects.filter_map(|id| job.readings.iter().find(|one| one.id == *id));
        let names: Vec<String> = readings.map(|one| voice.reading(job, one)).collect();
        format!("{text} ({})", names.join("; "))
    });
    let unread = not_read_again(result, &claims.stage);
    let unread = alike(unread.len(), words.open_unread).map(|text| {
        let names: Vec<String> = unread
            .iter()
            .map(|unread| unread_line(voice, job, unread))
            .collect();
        format!("{text} ({})", names.join("; "))
    });
    let unchecked = claims
        .tools
        .iter()
        .filter(|tool| tool.level.is_none() && tool.plumb.is_none())
        .count();
    [
        alike(whole(claims.counts.outside), words.open_outside),
        alike(whole(claims.counts.unproven), words.open_unproven),
        unread,
        suspects,
        said(unchecked, words.open_tool, words.open_tools),
        silent(words, job, result, claims),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// What the stage says nothing of.
fn silent(words: &Office, job: &Job, result: &JobResult, claims: &Claims) -> Option<String> {
    let stages = &result.stages;
    let stage = stages.iter().find(|stage| stage.id == claims.stage);
    let (1.., Some(stage)) = (claims.readings, stage) else {
        return Some(words.open_nothing.to_owned());
    };
    if claims.counts == Counts::default() {
        return Some(words.open_none_judged.to_owned());
    }
    let [without, of] = not_judged(job, stage);
    (without > 0).then(|| {
        fill(
            words.open_unjudged,
            &[&without.to_string(), &of.to_string()],
        )
    })
}

#[cfg(test)]
mod tests {
    use shared::solve::solve;

    use super::*;
    use crate::measuring::figures::Figures;
    use crate::text::{Language, Speaks};

    /// The claims of a stage in words, and what is open.
    fn said(job: &Job, stage: usize, language: Language) -> [String; 2] {
        let result = solve(job);
        let claims = Claims::of(job, &result, &job.stages[stage].id).expect("a stage");
        let figures = Figures {
            language,
            ..Figures::default()
        };
        let voice = Voice::of(language.words(), language.measuring(), figures);
        let office = language.office();
        [
            lines(voice, office, job, &claims),
            open_checks(voice, office, job, &result, &claims),
        ]
        .map(|lines| lines.join("\n"))
    }

    #[test]
    fn what_is_doubted_elsewhere_is_not_said_of_a_stage() {
        let job = shared::demo::job();
        let [claims, open] = said(&job, 0, Language::English);
        assert!(claims.contains("set aside by"), "{claims}");
        assert!(claims.contains("1 contradicted"), "{claims}");
        assert!(
            open.contains("1 reading that the others contradict"),
            "{open}"
        );
        let [claims, open] = said(&job, 1, Language::English);
        assert!(!claims.contains("set aside"), "{claims}");
        assert!(!open.contains("contradict"), "{open}");
        let [claims, open] = said(&job, 0, Language::Spanish);
        assert!(claims.contains("1 contradicha por"), "{claims}");
        assert!(open.contains("1 lectura que las demás"), "{open}");
    }

    #[test]
    fn a_stage_that_says_little_is_not_clean() {
        let mut job = shared::demo::job();
        let [_, open] = said(&job, 0, Language::English);
        assert!(open.contains("not judged in this stage"), "{open}");
        let stage = job.stages[0].id.clone();
        job.readings.retain(|reading| reading.stage == stage);
        job.readings.truncate(1);
        let [claims, open] = said(&job, 0, Language::English);
        assert!(claims.contains("1 reading\n"), "{claims}");
        assert!(open.contains("nothing judged in this stage"), "{open}");
        job.readings.clear();
        let [claims, open] = said(&job, 0, Language::English);
        assert!(claims.contains("0 readings"), "{claims}");
        assert!(open.contains("no reading of this stage counts"), "{open}");
    }
}
