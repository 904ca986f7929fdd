//! The pairs of a stage as a table, and one quantity as a sentence.

use std::fmt::Write as _;

use super::mark;
use crate::job::Job;
use crate::result::{Judged, PairResult, StageResult};
use crate::verdict::Verdict;

/// The quantities of a pair with their names.
pub(super) fn quantities(pair: &PairResult) -> [(&'static str, &Judged); 4] {
    [
        ("height", &pair.right_higher_mm),
        ("centre", &pair.centre_right_mm),
        ("length", &pair.right_rearward_mm),
        ("width", &pair.width_mm),
    ]
}

fn label(job: &Job, pair: &PairResult) -> String {
    let label = job
        .points
        .get(&pair.left)
        .map(|point| point.label.clone())
        .unwrap_or_default();
    if label.is_empty() {
        format!("{} / {}", pair.left, pair.right)
    } else {
        label
    }
}

/// `strut tower, rear bolt: right higher by 5.0 mm (± 0.8); chance of being within 1 %`.
pub(super) fn sentence(job: &Job, pair: &PairResult, name: &str, judged: &Judged) -> String {
    let value = judged.value.unwrap_or(0.0) - judged.target.unwrap_or(0.0);
    let (more, less) = match name {
        "height" => ("right higher", "left higher"),
        "centre" => ("middle to the right", "middle to the left"),
        "length" => ("right further back", "left further back"),
        _ => ("too wide", "too narrow"),
    };
    let words = if value > 0.0 { more } else { less };
    let sigma = judged
        .sigma
        .map(|sigma| format!(" (± {sigma:.1})"))
        .unwrap_or_default();
    let chance = judged
        .conformity
        .map(|p| format!("; chance of being within {:.0} %", p * 100.0))
        .unwrap_or_default();
    format!(
        "{}: {words} by {:.1} mm{sigma}{chance}",
        label(job, pair),
        value.abs()
    )
}

/// Every pair with something measured.
pub(super) fn pairs(out: &mut String, job: &Job, stage: &StageResult) -> std::fmt::Result {
    let rows: Vec<&PairResult> = stage
        .pairs
        .iter()
        .filter(|pair| {
            quantities(pair)
                .iter()
                .any(|(_, judged)| judged.value.is_some())
        })
        .collect();
    if rows.is_empty() {
        return Ok(());
    }
    let width = rows
        .iter()
        .map(|pair| label(job, pair).chars().count())
        .max()
        .unwrap_or(0)
        .max(4);
    writeln!(
        out,
        "\n{:width$}  {:>18}  {:>18}  {:>18}  {:>16}",
        "Pair", "right higher", "middle right", "right back", "width"
    )?;
    for pair in rows {
        let cells = quantities(pair).map(|(_, judged)| cell(judged));
        writeln!(
            out,
            "{:width$}  {:>18}  {:>18}  {:>18}  {:>16}",
            label(job, pair),
            cells[0],
            cells[1],
            cells[2],
            cells[3]
        )?;
    }
    writeln!(
        out,
        "{} · {} · {} · – not measured",
        mark(Verdict::Within),
        mark(Verdict::Outside),
        mark(Verdict::Unproven)
    )
}

fn cell(judged: &Judged) -> String {
    let (Some(value), Some(sigma)) = (judged.value, judged.sigma) else {
        return "–".to_owned();
    };
    let mark = judged
        .verdict
        .map(|verdict| mark(verdict).chars().next().unwrap_or(' '))
        .map(|c| format!("{c} "))
        .unwrap_or_default();
    format!("{mark}{value:+.1} ± {sigma:.1}")
}
