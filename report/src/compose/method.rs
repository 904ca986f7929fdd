//! How it was computed and judged, in words, and what it was read with.

use shared::tools::Check;

use super::Whole;
use crate::model::{Block, Cell, Line, Table};
use crate::say::{safe, time};
use shared::speech::{fill, own_tolerances};

pub(super) fn method(whole: &Whole<'_>) -> Vec<Block> {
    let (words, figures) = (whole.words(), whole.say.figures);
    let (job, result) = (whole.input.job, whole.input.result);
    let compared = match &job.sheet {
        None => words.method_symmetry.to_owned(),
        Some(sheet) => fill(
            words.method_sheet,
            &[&whole.say.speech().range(sheet.spreads_mm())],
        ),
    };
    let rule = &result.rule;
    let fit = &result.fit;
    let tested = fit.p.map_or_else(
        || words.fit_none.to_owned(),
        |p| fill(words.fit_p, &[&figures.decimal(p, 2)]),
    );
    let fitted = fill(
        words.fit_line,
        &[
            &fit.rows.to_string(),
            &figures.decimal(fit.degrees_of_freedom, 1),
            &figures.decimal(fit.chi2, 1),
        ],
    );
    let own = own_tolerances(&result.stages).map(|range| whole.say.speech().own_rule(range));
    let paragraphs = [
        words.method_frame.to_owned(),
        compared,
        words.method_fit.to_owned(),
        fill(
            words.method_rule,
            &[
                &figures.limit(rule.tolerance_mm),
                &figures.level(rule.conformity),
            ],
        ),
        fill(words.method_build, &[&figures.limit(rule.build_spread_mm)]),
        words.method_suspects.to_owned(),
        format!("{fitted}{tested}."),
    ];
    let mut paragraphs = Vec::from(paragraphs);
    paragraphs[3].extend(own.map(|own| format!(" {own}")));
    let mut blocks: Vec<Block> = paragraphs.into_iter().map(Block::Paragraph).collect();
    let trusted = job.points.iter().filter(|(_, point)| point.trusted);
    let trusted: Vec<String> = trusted
        .map(|(id, _)| format!("{} {}", whole.number(id), whole.say.point(id)))
        .collect();
    if !trusted.is_empty() {
        blocks.push(Block::Heading(words.trusted_points.to_owned()));
        blocks.push(Block::Paragraph(trusted.join("; ")));
    }
    blocks
}

pub(super) fn tools(whole: &Whole<'_>) -> Vec<Block> {
    let (words, job) = (whole.words(), whole.input.job);
    let mut blocks = Vec::new();
    if !job.tools.is_empty() {
        let rows = job.tools.iter().map(|(id, tool)| {
            let name = if tool.label.is_empty() {
                id.as_str()
            } else {
                &tool.label
            };
            let per_metre = (tool.per_m_mm > 0.0)
                .then(|| fill(words.per_metre, &[&fine(whole, tool.per_m_mm)]));
            let sigma = fine(whole, tool.sigma_mm);
            vec![
                Cell::of(safe(name)),
                Cell::of(words.tool(tool.kind)),
                Cell::of([sigma, per_metre.unwrap_or_default()].join(" ")),
            ]
        });
        blocks.push(Block::Table(Table {
            columns: vec![
                (words.tool.to_owned(), 3.0),
                (words.tool_kind.to_owned(), 2.0),
                (words.uncertainty.to_owned(), 4.0),
            ],
            rows: rows.collect(),
        }));
    }
    let lasers = job
        .tools
        .iter()
        .filter(|(_, tool)| tool.kind == shared::job::ToolKind::Laser);
    let lines: Vec<Line> = lasers
        .map(|(id, tool)| {
            let name = if tool.label.is_empty() {
                id.as_str()
            } else {
                &tool.label
            };
            let line = |what: &str, check: &Option<Check>| match check {
                None => format!("{what}: {}", words.never_checked),
                Some(check) => format!("{what}: {}", checked(whole, check)),
            };
            Line {
                mark: None,
                text: safe(name),
                more: vec![
                    line(words.check_level, &tool.level_check),
                    line(words.check_plumb, &tool.plumb_check),
                ],
            }
        })
        .collect();
    if !lines.is_empty() {
        blocks.push(Block::Lines(lines));
    }
    let defaults = [0.7, 1.0].map(|mm| fine(whole, mm));
    let [beams, others] = &defaults;
    blocks.push(Block::Note(fill(words.default_tool, &[beams, others])));
    blocks
}

/// Uncertainties are small: a decimal more than lengths have.
fn fine(whole: &Whole<'_>, mm: f64) -> String {
    format!("{} mm", whole.say.figures.decimal(mm, 2))
}

fn checked(whole: &Whole<'_>, check: &Check) -> String {
    let (words, figures) = (whole.words(), whole.say.figures);
    let day = if check.at.is_empty() {
        words.no_day.to_owned()
    } else {
        time(&check.at)
    };
    let by = (!check.by.is_empty()).then(|| fill(words.checked_by, &[&safe(&check.by)]));
    let sign = if check.mm_per_m > 0.0 { "+" } else { "" };
    let found = format!(
        "{sign}{} ± {} mm/m",
        figures.decimal(check.mm_per_m, 2),
        figures.decimal(check.sigma_mm_per_m, 2)
    );
    let parts: Vec<String> = [found, day].into_iter().chain(by).collect();
    parts.join(" · ")
}
