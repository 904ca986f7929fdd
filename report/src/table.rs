//! Readings and results as tables for other programs: CSV (RFC 4180), UTF-8.
//!
//! Numbers have a point and no thousands marks, whatever the language; the unit stands in the head.
//! A text that a spreadsheet would take for a formula gets an apostrophe in front.

use shared::figures::{Figures, LengthUnit};
use shared::job::{Job, Reading, Taken};
use shared::result::{JobResult, StageResult};
use shared::units::MM_PER_INCH;

use crate::say::{Say, code};
use crate::words::Words;
use shared::speech::Quantity;
use shared::speech::fill;

/// Lengths as numbers in the reader's unit.
#[derive(Debug, Clone, Copy)]
struct Lengths {
    inches: bool,
}

impl Lengths {
    fn of(figures: Figures) -> Self {
        Self {
            inches: figures.unit != LengthUnit::Millimetre,
        }
    }

    fn unit(self) -> &'static str {
        if self.inches { "in" } else { "mm" }
    }

    /// A value of a result: rounded far below its spread.
    fn result(self, mm: Option<f64>) -> String {
        let text = mm.map_or_else(String::new, |mm| match self.inches {
            true => format!("{:.5}", mm / MM_PER_INCH),
            false => format!("{mm:.4}"),
        });
        match text.strip_prefix('-') {
            // Nothing has no side.
            Some(size) if size.bytes().all(|byte| matches!(byte, b'0' | b'.')) => size.to_owned(),
            _ => text,
        }
    }

    /// A value as it was taken: every digit.
    fn taken(self, mm: f64) -> String {
        match self.inches {
            true => format!("{}", mm / MM_PER_INCH),
            false => format!("{mm}"),
        }
    }
}

/// Every reading of a job, those that do not count as well.
#[must_use]
pub fn readings(job: &Job, figures: Figures) -> String {
    let (words, lengths) = (Words::of(figures.language), Lengths::of(figures));
    let say = Say {
        job,
        words,
        figures,
    };
    let unit = lengths.unit();
    let head = [
        words.csv_reading,
        words.csv_stage,
        words.csv_kind,
        words.csv_setup,
        words.csv_from,
        words.csv_to,
        words.csv_side,
        words.csv_value,
        words.csv_x,
        words.csv_y,
        words.csv_z,
        words.csv_origin,
        words.csv_sigma,
        words.csv_tool,
        words.csv_by,
        words.csv_at,
        words.csv_entered,
        words.csv_note,
        words.csv_counts,
        words.csv_set_aside,
        words.csv_set_aside_by,
        words.csv_replaces,
    ];
    let counts: std::collections::HashSet<&shared::ids::ReadingId> =
        job.counting_readings().map(|reading| &reading.id).collect();
    let row = |reading: &Reading| {
        let mut points = reading.taken.points().map(|id| say.point(id));
        let (from, to) = (points.next(), points.next());
        let setup = reading.taken.setup();
        let (value, xyz) = match &reading.taken {
            Taken::Height { value_mm, .. }
            | Taken::Offset { value_mm, .. }
            | Taken::Split { value_mm, .. }
            | Taken::Span { value_mm, .. }
            | Taken::DatumSpan { value_mm, .. } => (Some(*value_mm), [None; 3]),
            Taken::Fix { xyz_mm, .. } => (None, xyz_mm.map(Some)),
        };
        let taken = |mm: Option<f64>| mm.map(|mm| lengths.taken(mm)).unwrap_or_default();
        let aside = reading.set_aside.as_ref();
        let yes = if counts.contains(&reading.id) {
            words.yes
        } else {
            words.no
        };
        vec![
            reading.id.to_string(),
            say.stage_of(&reading.stage),
            say.speech().kind(reading.taken.kind()).to_owned(),
            setup.map(|id| setup_name(job, id)).unwrap_or_default(),
            from.unwrap_or_default(),
            to.unwrap_or_default(),
            say.speech().beam_side(&reading.taken).to_owned(),
            taken(value),
            taken(xyz[0]),
            taken(xyz[1]),
            taken(xyz[2]),
            lengths.taken(reading.origin_mm),
            taken(reading.sigma_mm),
            reading
                .tool
                .as_ref()
                .map(|id| tool_name(job, id))
                .unwrap_or_default(),
            reading.by.clone(),
            reading.at.clone(),
            reading.entered.clone(),
            reading.note.clone(),
            yes.to_owned(),
            aside
                .map(|aside| say.speech().why_aside(&aside.why).to_owned())
                .unwrap_or_default(),
            aside.map(|aside| aside.by.clone()).unwrap_or_default(),
            reading
                .replaces
                .as_ref()
                .map(ToString::to_string)
                .unwrap_or_default(),
        ]
    };
    write(&head, unit, job.readings.iter().map(row))
}

fn setup_name(job: &Job, id: &shared::ids::SetupId) -> String {
    let label = job.setups.get(id).map(|setup| setup.label.clone());
    label
        .filter(|label| !label.is_empty())
        .unwrap_or_else(|| id.to_string())
}

fn tool_name(job: &Job, id: &shared::ids::ToolId) -> String {
    let label = job.tools.get(id).map(|tool| tool.label.clone());
    label
        .filter(|label| !label.is_empty())
        .unwrap_or_else(|| id.to_string())
}

/// Every quantity that was determined, per stage: pairs, then coordinates against their targets.
#[must_use]
pub fn results(job: &Job, result: &JobResult, figures: Figures) -> String {
    let words = Words::of(figures.language);
    let say = Say {
        job,
        words,
        figures,
    };
    let head = [
        words.csv_stage,
        words.csv_subject,
        words.csv_quantity,
        words.csv_value_of,
        words.csv_spread,
        words.csv_target,
        words.csv_chance,
        words.csv_verdict,
        words.csv_tolerance,
    ];
    let rows = result.stages.iter().flat_map(|stage| {
        let name = say.stage_of(&stage.id);
        of_stage(say, result, stage)
            .into_iter()
            .map(move |row| std::iter::once(name.clone()).chain(row).collect())
    });
    write(&head, Lengths::of(figures).unit(), rows)
}

/// What a stage determined, without its name.
fn of_stage(say: Say<'_>, result: &JobResult, stage: &StageResult) -> Vec<Vec<String>> {
    let pairs = stage.pairs.iter().flat_map(|pair| {
        Quantity::ALL.map(|quantity| {
            let name = say.pair(&pair.left, &pair.right);
            (name, code(quantity).to_owned(), quantity.of(pair).clone())
        })
    });
    let points = stage.points.iter().flat_map(|(id, point)| {
        [0, 1, 2].map(|axis| {
            let name = ["deviation_x", "deviation_y", "deviation_z"][axis];
            (say.point(id), name.to_owned(), point.judged(axis))
        })
    });
    let lengths = Lengths::of(say.figures);
    let of_all = result.rule.tolerance_mm;
    pairs
        .chain(points)
        .filter(|(_, _, judged)| judged.value.is_some())
        .map(|(name, what, judged)| {
            let chance = judged.conformity.map(|p| format!("{p:.6}"));
            let verdict = judged.verdict.map(|verdict| say.words.verdict(verdict));
            let tolerance = verdict.map(|_| judged.tolerance_mm.unwrap_or(of_all));
            vec![
                name,
                what,
                lengths.result(judged.value),
                lengths.result(judged.sigma),
                lengths.result(judged.target),
                chance.unwrap_or_default(),
                verdict.unwrap_or_default().to_owned(),
                lengths.result(tolerance),
            ]
        })
        .collect()
}

/// A table as text; the first line has the names, with the unit in place of `{}`.
fn write(head: &[&str], unit: &str, rows: impl Iterator<Item = Vec<String>>) -> String {
    let mut table = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    let head: Vec<String> = head.iter().map(|name| fill(name, &[unit])).collect();
    // Rows of one length into memory cannot fail.
    let _ = table.write_record(&head);
    for row in rows {
        let _ = table.write_record(row.iter().map(|text| harmless(text)));
    }
    let bytes = table.into_inner().unwrap_or_default();
    String::from_utf8(bytes).unwrap_or_default()
}

/// A text that no spreadsheet takes for a formula: one that begins with `=`, `+`, `-`, `@`, a tab or
/// a line end gets an apostrophe in front, unless it is a number (OWASP, *CSV Injection*).
fn harmless(text: &str) -> String {
    let first = text.chars().next();
    let steers = first.is_some_and(|c| {
        matches!(
            c,
            '=' | '+' | '-' | '@' | '\t' | '\r' | '\n' | '＝' | '＋' | '－' | '＠'
        )
    });
    if steers && text.parse::<f64>().is_err() {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}
