//! A result in words and tables, in English, for a terminal or a page.
//!
//! Millimetres. Worst first; every number with its spread. This module refuses to know where it is
//! shown.

mod damage;
mod tables;

use std::fmt::Write as _;

use crate::ids::PointId;
use crate::job::{Job, Reading, Side, Taken};
use crate::result::{JobResult, Judged, PairResult, StageResult};
use crate::verdict::Verdict;

/// The safety lines that stand where the work is.
pub const SAFETY: [&str; 6] = [
    "The vehicle maker's repair procedure and data rule; sectioning, heat and pulling limits of high-strength steel are theirs to say.",
    "Pulling stores energy: chains and clamps need restraints, and nobody stands in line.",
    "Support a raised car on stands.",
    "Do not look into the beam; use a class 2 laser or safer (IEC 60825-1).",
    "Local law and licensed practice decide who may sign.",
    "Baybook reports measurements; it does not certify a repair.",
];

/// The mark of a verdict with its word.
#[must_use]
pub fn mark(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Within => "● within",
        Verdict::Outside => "◆ outside",
        Verdict::Unproven => "◌ unproven",
    }
}

/// The findings of a job.
#[must_use]
pub fn findings(job: &Job, result: &JobResult) -> String {
    let mut out = String::new();
    write_all(&mut out, job, result).unwrap_or_default();
    out
}

fn write_all(out: &mut String, job: &Job, result: &JobResult) -> std::fmt::Result {
    let card = &job.card;
    writeln!(out, "{} {}", card.number, card.vehicle)?;
    if result.stages.is_empty() || job.readings.is_empty() {
        writeln!(
            out,
            "\nNothing has been read yet. Read heights of a few pairs first: trusted points, then the damage."
        )?;
    } else if !result.fit.converged {
        writeln!(
            out,
            "\nThe solution did not settle: the readings contradict each other or leave too much open. Take what follows with care."
        )?;
    }
    doubts(out, job, result)?;
    for stage in &result.stages {
        stage_findings(out, job, result, stage)?;
    }
    let rule = &result.rule;
    writeln!(
        out,
        "\nRule: within means inside ±{} mm with at least {:.0} % probability (JCGM 106); outside the opposite. Build spread {} mm.",
        rule.tolerance_mm,
        rule.conformity * 100.0,
        rule.build_spread_mm
    )?;
    let fit = &result.fit;
    let p = fit.p.map(|p| format!(", p = {p:.2}")).unwrap_or_default();
    writeln!(
        out,
        "Fit: {} rows, redundancy {:.1}, chi-square {:.1}{p}.",
        fit.rows, fit.degrees_of_freedom, fit.chi2
    )?;
    writeln!(out, "\nSafety")?;
    for line in SAFETY {
        writeln!(out, "  {line}")?;
    }
    Ok(())
}

/// `strut tower, rear bolt (left)`.
#[must_use]
pub fn point(job: &Job, id: &PointId) -> String {
    let Some(point) = job.points.get(id) else {
        return id.to_string();
    };
    let label = if point.label.is_empty() {
        id.as_str()
    } else {
        &point.label
    };
    match point.side {
        Side::Left => format!("{label} (left)"),
        Side::Right => format!("{label} (right)"),
        Side::Centre => label.to_owned(),
    }
}

/// `d012, span from … to …, 1,234.5 mm, by Ana`.
#[must_use]
pub fn reading(job: &Job, reading: &Reading) -> String {
    let at = |id| point(job, id);
    let what = match &reading.taken {
        Taken::Height {
            point, value_mm, ..
        } => format!("height of {}, {value_mm} mm", at(point)),
        Taken::Offset {
            point, value_mm, ..
        } => format!("offset of {}, {value_mm} mm", at(point)),
        Taken::Split {
            from, to, value_mm, ..
        } => format!("split from {} to {}, {value_mm} mm", at(from), at(to)),
        Taken::Span { from, to, value_mm } => {
            format!("span from {} to {}, {value_mm} mm", at(from), at(to))
        }
        Taken::DatumSpan { from, to, value_mm } => {
            format!("datum span from {} to {}, {value_mm} mm", at(from), at(to))
        }
        Taken::Fix { point, .. } => format!("fix of {}", at(point)),
    };
    let by = if reading.by.is_empty() {
        String::new()
    } else {
        format!(", by {}", reading.by)
    };
    format!("{} {what}{by}", reading.id)
}

/// A row of a group: a reading by its id, or trust by its points.
fn row(job: &Job, name: &str) -> String {
    match job.readings.iter().find(|r| r.id.as_str() == name) {
        Some(found) => reading(job, found),
        None => format!("the trust in {name}"),
    }
}

fn doubts(out: &mut String, job: &Job, result: &JobResult) -> std::fmt::Result {
    if !result.suspects.is_empty() {
        writeln!(
            out,
            "\nReadings that the others contradict (they do not count until a person decides)"
        )?;
    }
    for suspect in &result.suspects {
        let slip = suspect
            .slip
            .as_ref()
            .map(|slip| format!("; likely: {slip}"))
            .unwrap_or_default();
        writeln!(out, "  ? {}", row(job, suspect.reading.as_str()))?;
        writeln!(
            out,
            "      off by about {:+.1} mm (± {:.1}){slip}",
            suspect.error_mm, suspect.sigma_mm
        )?;
        group(out, job, &suspect.one_of)?;
        for difference in suspect.difference.iter().take(2) {
            writeln!(
                out,
                "      leaving it out changes {} by {:+.1} mm",
                difference.quantity, difference.change_mm
            )?;
        }
    }
    let bent: Vec<_> = result.trust.iter().filter(|test| !test.fits).collect();
    if !bent.is_empty() {
        writeln!(out, "\nReferences that do not fit (bent, or misread)")?;
    }
    for test in bent {
        let names: Vec<String> = test.points.iter().map(|id| point(job, id)).collect();
        let size = test
            .error_mm
            .map(|error| format!(" by about {:.1} mm", error.abs()))
            .unwrap_or_default();
        writeln!(
            out,
            "  ? {}: {} does not fit{size}",
            names.join(" / "),
            axis_word(&test.axis)
        )?;
        group(out, job, &test.one_of)?;
    }
    Ok(())
}

fn group(out: &mut String, job: &Job, one_of: &[String]) -> std::fmt::Result {
    if one_of.len() < 2 {
        return Ok(());
    }
    writeln!(
        out,
        "      one of these is wrong, the readings cannot tell which (none of them counts):"
    )?;
    for name in one_of {
        writeln!(out, "        - {}", row(job, name))?;
    }
    Ok(())
}

fn axis_word(axis: &str) -> &'static str {
    match axis {
        "x" => "length",
        "y" => "width",
        _ => "height",
    }
}

fn stage_findings(
    out: &mut String,
    job: &Job,
    result: &JobResult,
    stage: &StageResult,
) -> std::fmt::Result {
    let label = job
        .stages
        .iter()
        .find(|s| s.id == stage.id)
        .map_or(stage.id.as_str(), |s| s.label.as_str());
    writeln!(out, "\n== {label} ==")?;
    if let Some(roll) = stage.tilt_deg.roll {
        let side = if roll > 0.0 { "right" } else { "left" };
        writeln!(
            out,
            "The car stands {:.2}° rolled, {side} side low.",
            roll.abs()
        )?;
    }
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
        writeln!(out, "\n{title}")?;
        for (pair, name, judged) in some {
            writeln!(
                out,
                "  {} {}",
                mark(verdict),
                tables::sentence(job, pair, name, judged)
            )?;
        }
    }
    damage::causes(out, job, stage)?;
    damage::pulls(out, job, stage)?;
    tables::pairs(out, job, stage)?;
    damage::modes(out, stage)?;
    damage::changes(out, job, result, stage)?;
    let next: Vec<_> = result
        .next
        .iter()
        .filter(|next| next.stage == stage.id)
        .take(5)
        .collect();
    if !next.is_empty() {
        writeln!(out, "\nRead next")?;
    }
    for next in next {
        writeln!(out, "  {}", damage::next(job, next))?;
    }
    if !stage.cannot_tell.is_empty() {
        writeln!(out, "\nWhat these readings cannot tell")?;
    }
    for cannot in &stage.cannot_tell {
        writeln!(out, "  {}: {}", cannot.what, cannot.why)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_demo_reads_worst_first_and_ends_with_safety() {
        let job = crate::demo::job();
        let text = findings(&job, &crate::solve::solve(&job));
        let place = |words: &str| {
            text.find(words)
                .unwrap_or_else(|| panic!("'{words}' is missing in:\n{text}"))
        };
        assert!(place("tape read from its 100 mm mark") < place("== as received =="));
        assert!(place("Outside") < place("What these readings cannot tell"));
        assert!(place("◆ outside") < place("● within"));
        assert!(place("References that do not fit") < place("Safety"));
        assert!(place("Front rail, left moved back") < place("Pull, in this order"));
        assert!(place("Moved since as received") < place("Read next"));
        assert!(text.trim_end().ends_with(SAFETY[5]));
    }

    #[test]
    fn an_empty_job_says_what_to_do_first() {
        let job = Job::default();
        assert!(
            findings(&job, &crate::solve::solve(&job))
                .contains("Read heights of a few pairs first")
        );
    }
}
