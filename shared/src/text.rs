//! A result in words and tables, in English, for a terminal or a page.
//!
//! Millimetres. Worst first; every number with its spread. This module refuses to know where it is
//! shown.

mod page;
mod tables;
mod doubts;
mod damage;
mod stages;

use crate::figures::Figures;
use crate::ids::PointId;
use crate::job::{Job, Reading, Side, Taken};
use crate::result::JobResult;
use crate::speech::{Speech, own_tolerances};
use crate::verdict::Verdict;
use page::Page;

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

/// The findings of a job. Whatever stands in a name, only line ends steer the terminal.
#[must_use]
pub fn findings(job: &Job, result: &JobResult) -> String {
    let mut page = Page::default();
    let card = &job.card;
    page.line(format_args!("{} {}", card.number, card.vehicle));
    if result.stages.is_empty() || job.readings.is_empty() {
        page.gap();
        page.line(
            "Nothing has been read yet. Read heights of a few pairs first: trusted points, then the damage.",
        );
    } else if !result.fit.converged {
        page.gap();
        page.line(
            "The solution did not settle: the readings contradict each other or leave too much open. Take what follows with care.",
        );
    }
    doubts::doubts(&mut page, job, result);
    for stage in &result.stages {
        stages::stage(&mut page, job, result, stage);
    }
    stages::cannot_tell(&mut page, job, result);
    let rule = &result.rule;
    page.gap();
    page.line(format_args!(
        "Rule: within means inside ±{} mm with at least {:.0} % probability (JCGM 106); outside the opposite. Build spread {} mm.",
        rule.tolerance_mm,
        rule.conformity * 100.0,
        rule.build_spread_mm
    ));
    if let Some(range) = own_tolerances(&result.stages) {
        page.line(Speech::of(Figures::default()).own_rule(range));
    }
    let fit = &result.fit;
    let p = fit.p.map(|p| format!(", p = {p:.2}")).unwrap_or_default();
    page.line(format_args!(
        "Fit: {} rows, redundancy {:.1}, chi-square {:.1}{p}.",
        fit.rows, fit.degrees_of_freedom, fit.chi2
    ));
    page.gap();
    page.line("Safety");
    for line in SAFETY {
        page.line(format_args!("  {line}"));
    }
    page.into_text()
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

#[cfg(test)]
mod tests;
