//! The pairs of a stage as a table, and one quantity as a sentence.

use super::mark;
use super::page::Page;
use crate::figures::Figures;
use crate::ids::PointId;
use crate::job::Job;
use crate::plain::plain;
use crate::result::{Judged, PairResult, StageResult};
use crate::verdict::Verdict;

/// Headings of the table.
const COLUMNS: [&str; 4] = ["right higher", "middle right", "right back", "width"];

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
    pair_label(job, &pair.left, &pair.right)
}

fn pair_label(job: &Job, left: &PointId, right: &PointId) -> String {
    match job.points.get(left) {
        Some(point) if !point.label.is_empty() => point.label.clone(),
        _ => format!("{left} / {right}"),
    }
}

/// A quantity of a result, `left/right right_higher_mm`, in the words of the table:
/// `strut tower, rear bolt: right higher`.
pub(super) fn quantity(job: &Job, name: &str) -> String {
    let pair = job.points.iter().find_map(|(left, point)| {
        let right = point.mirror.as_ref()?;
        let kind = name.strip_prefix(&format!("{left}/{right} "))?;
        Some((left, right, kind))
    });
    let Some((left, right, kind)) = pair else {
        return name.to_owned();
    };
    let column = match kind {
        "right_higher_mm" => COLUMNS[0],
        "centre_right_mm" => COLUMNS[1],
        "right_rearward_mm" => COLUMNS[2],
        "width_mm" => COLUMNS[3],
        other => other,
    };
    format!("{}: {column}", pair_label(job, left, right))
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
        .map(|p| format!("; chance of being within {}", Figures::default().percent(p)))
        .unwrap_or_default();
    let own = judged.tolerance_mm;
    let own = own.map(|own| format!(" (tolerance ±{own} mm)"));
    let own = own.unwrap_or_default();
    format!(
        "{}: {words} by {:.1} mm{sigma}{chance}{own}",
        label(job, pair),
        value.abs()
    )
}

/// Every pair with something measured.
pub(super) fn pairs(page: &mut Page, job: &Job, stage: &StageResult) {
    let rows: Vec<(String, [String; 4])> = stage
        .pairs
        .iter()
        .filter(|pair| {
            quantities(pair)
                .iter()
                .any(|(_, judged)| judged.value.is_some())
        })
        .map(|pair| {
            let name = plain(&label(job, pair)).into_owned();
            (name, quantities(pair).map(|(_, judged)| cell(judged)))
        })
        .collect();
    let longest = rows.iter().map(|(name, _)| name.chars().count()).max();
    let Some(width) = longest.map(|longest| longest.max(4)) else {
        return;
    };
    page.gap();
    page.line(format_args!(
        "{:width$}  {:>18}  {:>18}  {:>18}  {:>16}",
        "Pair", COLUMNS[0], COLUMNS[1], COLUMNS[2], COLUMNS[3]
    ));
    for (name, cells) in rows {
        page.line(format_args!(
            "{name:width$}  {:>18}  {:>18}  {:>18}  {:>16}",
            cells[0], cells[1], cells[2], cells[3]
        ));
    }
    page.line(format_args!(
        "{} · {} · {} · – not measured",
        mark(Verdict::Within),
        mark(Verdict::Outside),
        mark(Verdict::Unproven)
    ));
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
