//! Per pair and point: value, spread and verdict before and after, and over all stages.

use shared::drawing::worst;
use shared::ids::PointId;
use shared::result::{PairResult, PointResult};
use shared::verdict::Verdict;

use super::{Found, Whole};
use crate::model::{Block, Cell, Table};
use shared::speech::Quantity;
use shared::speech::fill;

/// So many stages stand beside each other on a page.
const ABREAST: usize = 3;

pub(super) fn tables(whole: &Whole<'_>) -> Vec<Block> {
    let words = whole.words();
    let ends = whole.ends();
    if ends.is_empty() {
        return vec![Block::Paragraph(words.summary_none.to_owned())];
    }
    let unit = whole.say.figures.unit_name();
    let mut blocks = vec![Block::Note(format!(
        "{} {}",
        fill(words.table_key, &[unit]),
        words.key_marks
    ))];
    blocks.push(Block::Heading(words.before_after.to_owned()));
    blocks.push(Block::Table(table(whole, &ends)));
    if whole.input.job.sheet.is_none() {
        blocks.push(Block::Note(words.points_by_pairs.to_owned()));
    }
    if whole.stages.len() > 2 {
        blocks.push(Block::Heading(words.all_stages.to_owned()));
        let tables = whole.stages.chunks(ABREAST);
        blocks.extend(tables.map(|some| Block::Table(table(whole, some))));
    }
    blocks
}

/// One row: its place in the order, and its cells before the stages'.
struct Row {
    rank: u8,
    head: [String; 3],
    cells: Vec<Cell>,
}

/// Stages beside each other; what is outside in the last stage of all comes first.
fn table(whole: &Whole<'_>, stages: &[Found<'_>]) -> Table {
    let words = whole.words();
    let mut columns = vec![
        (String::new(), 0.6),
        (format!("{} / {}", words.pair, words.point), 3.1),
        (words.quantity.to_owned(), 2.5),
    ];
    let names = stages.iter().map(|found| whole.say.stage(found.stage));
    columns.extend(names.map(|name| (name, 3.4)));
    let mut rows = pairs(whole, stages);
    rows.extend(points(whole, stages));
    // Stable: within a rank the order is the job's.
    rows.sort_by_key(|row| row.rank);
    let rows = rows.into_iter().map(|row| {
        let head = row.head.into_iter().map(Cell::of);
        head.chain(row.cells).collect()
    });
    Table {
        columns,
        rows: rows.collect(),
    }
}

/// Outside first, then unproven, within, not judged.
fn rank(verdict: Option<Verdict>) -> u8 {
    match verdict {
        Some(Verdict::Outside) => 0,
        Some(Verdict::Unproven) => 1,
        Some(Verdict::Within) => 2,
        None => 3,
    }
}

fn pairs(whole: &Whole<'_>, stages: &[Found<'_>]) -> Vec<Row> {
    let say = whole.say;
    let pair_of = |found: &Found<'_>, left: &PointId| -> Option<PairResult> {
        let pairs = &found.result.pairs;
        pairs.iter().find(|pair| pair.left == *left).cloned()
    };
    let mut rows = Vec::new();
    for (left, point) in &whole.input.job.points {
        let Some(right) = &point.mirror else { continue };
        let now = whole.now().and_then(|found| pair_of(&found, left));
        let found: Vec<Option<PairResult>> =
            stages.iter().map(|found| pair_of(found, left)).collect();
        let of_pair = worst(
            now.iter()
                .flat_map(|pair| Quantity::ALL.map(|quantity| quantity.of(pair).verdict))
                .flatten(),
        );
        for quantity in Quantity::ALL {
            let judged: Vec<_> = found
                .iter()
                .map(|pair| pair.as_ref().map(|pair| quantity.of(pair).clone()))
                .collect();
            let is_read = |judged: &Option<shared::result::Judged>| {
                judged.as_ref().is_some_and(|judged| judged.value.is_some())
            };
            if !judged.iter().any(is_read) {
                continue;
            }
            let own = judged
                .iter()
                .flatten()
                .find_map(|judged| judged.tolerance_mm);
            let cells = judged.into_iter().map(|judged| {
                let judged = judged.unwrap_or_default();
                // Against the sheet a width is told by how far it is off.
                let value = match quantity {
                    Quantity::Width => judged.value,
                    _ => judged
                        .value
                        .map(|value| value - judged.target.unwrap_or(0.0)),
                };
                let signed = quantity != Quantity::Width;
                cell(whole, value, judged.sigma, judged.verdict, signed)
            });
            rows.push(Row {
                rank: rank(of_pair),
                head: [
                    whole.number(left),
                    say.pair(left, right),
                    with_own(whole, say.quantity_name(quantity), own),
                ],
                cells: cells.collect(),
            });
        }
    }
    rows
}

/// Coordinates against their targets.
fn points(whole: &Whole<'_>, stages: &[Found<'_>]) -> Vec<Row> {
    let say = whole.say;
    let axes = ["x", "y", "z"];
    let mut rows = Vec::new();
    for id in whole.input.job.points.keys() {
        let found: Vec<Option<&PointResult>> = stages
            .iter()
            .map(|found| found.result.points.get(id))
            .collect();
        let now = whole.now().and_then(|found| found.result.points.get(id));
        let of_point = worst(now.iter().flat_map(|point| point.verdict).flatten());
        for (axis, name) in axes.into_iter().enumerate() {
            let is_read = |point: &Option<&PointResult>| {
                point.is_some_and(|point| point.deviation_mm[axis].is_some())
            };
            if !found.iter().any(is_read) {
                continue;
            }
            let own = found.iter().flatten().find_map(|point| point.tolerance_mm);
            let cells = found.iter().map(|point| {
                let deviation = point.and_then(|point| point.deviation_mm[axis]);
                let sigma = point.and_then(|point| point.deviation_sigma_mm[axis]);
                let verdict = point.and_then(|point| point.verdict[axis]);
                cell(whole, deviation, sigma, verdict, true)
            });
            rows.push(Row {
                rank: rank(of_point),
                head: [whole.number(id), say.point(id), with_own(whole, name, own)],
                cells: cells.collect(),
            });
        }
    }
    rows
}

/// A quantity's name, with the tolerance that judges it when that is not the rule's.
fn with_own(whole: &Whole<'_>, name: &str, own_mm: Option<f64>) -> String {
    let own = whole.say.speech().own_tolerance(own_mm);
    [Some(name.to_owned()), own]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(", ")
}

fn cell(
    whole: &Whole<'_>,
    value: Option<f64>,
    sigma: Option<f64>,
    verdict: Option<Verdict>,
    signed: bool,
) -> Cell {
    let figures = whole.say.figures;
    let Some(value) = value else {
        return Cell::of("–");
    };
    let value = if signed {
        figures.signed(value)
    } else {
        figures.bare(value)
    };
    let spread = sigma.map(|sigma| format!(" ± {}", figures.bare_spread(sigma)));
    Cell {
        mark: verdict,
        text: value + &spread.unwrap_or_default(),
    }
}
