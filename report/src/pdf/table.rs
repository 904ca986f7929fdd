//! Tables whose head stands on every page that they reach.

use super::flow::{Flow, LEADING, SIDE, Style, Thing};
use super::font::{Run, Weight};
use crate::model::{Cell, Table};
use crate::shapes::{BLACK, RULE};
use shared::verdict::Verdict;

const CELL: Style = Style {
    weight: Weight::Regular,
    size: 8.0,
    colour: BLACK,
};
const BOLD: Style = Style {
    weight: Weight::Bold,
    ..CELL
};
/// Between the text of a cell and its edges.
const PAD: f32 = 3.0;
/// Room of a mark in front of a value.
const MARK: f32 = 11.0;
/// Most lines of a heading: the rest of a very long name stands in the list of stages.
const HEAD_LINES: usize = 3;

/// A cell in lines.
struct Laid {
    lines: Vec<Run>,
    style: Style,
    mark: Option<Verdict>,
}

struct Layout<'a> {
    /// Left edge and width of each column.
    columns: Vec<[f32; 2]>,
    head: Vec<&'a str>,
}

pub(super) fn table(flow: &mut Flow<'_>, table: &Table) {
    let whole: f32 = table.columns.iter().map(|(_, share)| share).sum();
    let mut x = SIDE;
    let columns = table.columns.iter().map(|(_, share)| {
        let width = flow.width() * share / whole;
        x += width;
        [x - width, width]
    });
    let layout = Layout {
        columns: columns.collect(),
        head: table
            .columns
            .iter()
            .map(|(name, _)| name.as_str())
            .collect(),
    };
    // The head never stands alone.
    flow.need(4.0 * CELL.size * LEADING);
    head(flow, &layout);
    for cells in &table.rows {
        row(flow, &layout, cells);
    }
    flow.skip(8.0);
}

fn head(flow: &mut Flow<'_>, layout: &Layout<'_>) {
    if layout.head.iter().all(|name| name.is_empty()) {
        return;
    }
    let cells: Vec<Vec<Run>> = layout
        .head
        .iter()
        .zip(&layout.columns)
        .map(|(name, [_, width])| {
            let mut lines = flow.break_lines(name, BOLD, width - 2.0 * PAD);
            if lines.len() > HEAD_LINES {
                lines.truncate(HEAD_LINES);
                if let Some(last) = lines.last_mut() {
                    last.push(&flow.typeface.word(BOLD.weight, "…"));
                }
            }
            lines
        })
        .collect();
    let most = cells.iter().map(Vec::len).max().unwrap_or(0);
    let top = flow.y + 1.5;
    for (lines, [x, _]) in cells.into_iter().zip(&layout.columns) {
        for (run, y) in lines.into_iter().zip(steps(top)) {
            flow.set(run, x + PAD, y, BOLD);
        }
    }
    #[expect(clippy::cast_precision_loss, reason = "a head has few lines")]
    flow.skip(most as f32 * CELL.size * LEADING + 3.0);
    rule(flow, 1.0, BLACK);
}

/// Upper edges of lines, one below the other.
fn steps(top: f32) -> impl Iterator<Item = f32> {
    std::iter::successors(Some(top), |y| Some(y + CELL.size * LEADING))
}

fn rule(flow: &mut Flow<'_>, thick: f32, colour: crate::shapes::Colour) {
    let (y, width) = (flow.y, flow.width());
    flow.put(Thing::Rule {
        x: SIDE,
        y,
        width,
        thick,
        colour,
    });
}

fn row(flow: &mut Flow<'_>, layout: &Layout<'_>, cells: &[Cell]) {
    let laid: Vec<Laid> = cells
        .iter()
        .zip(&layout.columns)
        .map(|(cell, [_, width])| lay(flow, cell, *width))
        .collect();
    let most = laid.iter().map(|cell| cell.lines.len()).max().unwrap_or(0);
    let step = CELL.size * LEADING;
    #[expect(
        clippy::cast_precision_loss,
        reason = "lines of a row fit on few pages"
    )]
    let height = most as f32 * step + 2.0;
    let mut done = 0;
    while done < most {
        // A row is broken only when no page holds it.
        let fits = height <= flow.whole_height() - 60.0;
        if flow.left() < if fits { height } else { 4.0 * step } {
            flow.next_page();
            head(flow, layout);
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a page has room for less than a hundred lines, and for none below zero"
        )]
        let room = ((flow.left() - 2.0) / step).max(1.0) as usize;
        let until = most.min(done + room);
        let top = flow.y + 1.0;
        for (cell, [x, _]) in laid.iter().zip(&layout.columns) {
            let mut x = x + PAD;
            if let Some(verdict) = cell.mark {
                if done == 0 {
                    flow.mark(verdict, x + 4.0, top + step / 2.0, 3.0);
                }
                x += MARK;
            }
            let some = cell.lines.iter().take(until).skip(done);
            for (run, y) in some.zip(steps(top)) {
                flow.set(run.clone(), x, y, cell.style);
            }
        }
        #[expect(clippy::cast_precision_loss, reason = "lines of a page")]
        flow.skip((until - done) as f32 * step + 2.0);
        done = until;
    }
    rule(flow, 0.4, RULE);
}

fn lay(flow: &Flow<'_>, cell: &Cell, width: f32) -> Laid {
    let style = if cell.mark == Some(Verdict::Outside) {
        BOLD
    } else {
        CELL
    };
    let (text, room) = match cell.mark {
        None => (cell.text.clone(), width),
        Some(verdict) => (
            format!("{} {}", cell.text, flow.report.verdict(verdict)),
            width - MARK,
        ),
    };
    Laid {
        lines: flow.break_lines(&text, style, room - 2.0 * PAD),
        style,
        mark: cell.mark,
    }
}
