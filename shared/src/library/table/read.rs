//! From a table to a sheet, or everything that is wrong with it, by row and column.
//!
//! Comma, semicolon or tab between cells; decimal point or comma; any line ends; with or without a
//! byte order mark. Nothing panics, whatever the bytes.

mod rows;

use std::collections::HashSet;

use super::cells::{Numbers, unguarded};
use super::columns::Column;
use crate::jobfile::{MAX_REFUSALS, Refusal, decode};
use crate::library::rules::check;
use crate::library::sheet::Sheet;
use crate::library::{MAX_BYTES, MAX_MEMBERS, MAX_POINTS};
use crate::plain::clip;
use crate::units::Unit;

const TABLE: decode::Kind = decode::Kind {
    name: "CSV",
    begins: "a row of column names: id, side, x_mm, y_mm, z_mm",
    max_bytes: MAX_BYTES,
};
/// Most rows and columns: everything a sheet may hold.
const MAX_ROWS: usize = MAX_POINTS + MAX_MEMBERS + 100;
const MAX_COLUMNS: usize = 100;
/// Before the name of a property of the sheet among the rows.
const PROPERTY: &str = "sheet ";

/// Reads a sheet from a table. `head` says what the table does not: name, revision, body, origin; its
/// members and points are not looked at.
///
/// # Errors
/// Everything that is wrong, at most [`MAX_REFUSALS`] of it, each with its row (as a spreadsheet
/// program counts) and column.
pub fn read_table(bytes: &[u8], head: &Sheet) -> Result<Sheet, Vec<Refusal>> {
    let text = decode::decode(bytes, &TABLE).and_then(|text| decode::trim(text, &TABLE));
    let text = text.map_err(|refusal| vec![refusal])?;
    let mut reader = Reader {
        numbers: Numbers::new(true),
        columns: Vec::new(),
        refusals: Vec::new(),
        rows: Vec::new(),
        sheet: Sheet {
            members: indexmap::IndexMap::new(),
            points: indexmap::IndexMap::new(),
            ..head.clone()
        },
        said: HashSet::new(),
    };
    reader.read(text);
    if reader.refusals.is_empty() {
        reader.sheet = reader.sheet.rounded();
        for refusal in check(&reader.sheet) {
            let place = reader.place_of(&refusal.place);
            reader.refuse(place, refusal.says);
        }
    }
    if reader.refusals.is_empty() {
        return Ok(reader.sheet);
    }
    Err(reader.refusals)
}

struct Reader {
    numbers: Numbers,
    columns: Vec<(Column, Unit, String)>,
    refusals: Vec<Refusal>,
    /// Place in the sheet of each point and member, with its row.
    rows: Vec<(String, u64)>,
    sheet: Sheet,
    /// Properties of the sheet that stood there.
    said: HashSet<String>,
}

/// The cells of one row.
struct Row<'a> {
    line: u64,
    record: &'a csv::StringRecord,
}

impl Reader {
    fn refuse(&mut self, place: impl Into<String>, says: impl Into<String>) {
        if self.refusals.len() < MAX_REFUSALS {
            self.refusals.push(Refusal::new(place, says));
        }
    }

    fn refuse_cell(&mut self, row: &Row<'_>, column: Column, says: impl Into<String>) {
        let place = format!("row {}, column {}", row.line, self.heading(column));
        self.refuse(place, says);
    }

    /// The name of a column as it stands in the file.
    fn heading(&self, column: Column) -> String {
        let own = self.columns.iter().find(|(known, ..)| *known == column);
        own.map_or_else(|| column.name(), |(.., heading)| heading.clone())
    }

    fn read(&mut self, text: &str) {
        // One kind of line end, so that rows are counted as a spreadsheet program does; no text of a
        // sheet may hold one.
        let text = text.replace("\r\n", "\n").replace('\r', "\n");
        let (text, skipped, separator) = separator(&text);
        self.numbers = Numbers::new(separator == b',');
        let mut csv = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(separator)
            .from_reader(text.as_bytes());
        let mut record = csv::StringRecord::new();
        let mut count = 0;
        // The text is UTF-8, and reading memory does not fail.
        while matches!(csv.read_record(&mut record), Ok(true)) {
            let (line, byte) = record
                .position()
                .map_or((0, 0), |at| (at.line(), at.byte()));
            // A record begins where the last one ended; empty rows between them are skipped.
            let behind = text.get(usize::try_from(byte).unwrap_or_default()..);
            let empty = behind
                .unwrap_or_default()
                .bytes()
                .take_while(|byte| *byte == b'\n');
            let line = skipped + line + empty.count() as u64;
            let row = Row {
                line,
                record: &record,
            };
            if record.iter().all(|cell| cell.trim().is_empty()) {
                continue;
            }
            if self.columns.is_empty() {
                self.headings(&row);
                if !self.refusals.is_empty() {
                    return;
                }
                continue;
            }
            count += 1;
            if count > MAX_ROWS {
                self.refuse(
                    format!("row {line}"),
                    format!("too many rows; a sheet has at most {MAX_ROWS}"),
                );
                return;
            }
            self.row(&row);
            if self.refusals.len() == MAX_REFUSALS {
                return;
            }
        }
    }

    fn headings(&mut self, row: &Row<'_>) {
        if row.record.len() > MAX_COLUMNS {
            self.refuse(
                format!("row {}", row.line),
                format!("too many columns; a sheet has at most {MAX_COLUMNS}"),
            );
            return;
        }
        for (index, heading) in row.record.iter().enumerate() {
            let place = format!("row {}, column {}", row.line, index + 1);
            let shown = clip(heading.trim(), 40).into_owned();
            match Column::of(heading) {
                Some((column, _)) if self.columns.iter().any(|(known, ..)| *known == column) => {
                    self.refuse(place, format!("\"{shown}\" stands twice; keep one"));
                }
                Some((column, unit)) => self.columns.push((column, unit, shown)),
                None => self.refuse(
                    place,
                    format!(
                        "\"{shown}\" is no column of a sheet; the columns are {}, lengths also with _in for inches",
                        Column::all()
                    ),
                ),
            }
        }
        let has = |column| self.columns.iter().any(|(known, ..)| *known == column);
        let needed = [
            Column::Id,
            Column::Target(0),
            Column::Target(1),
            Column::Target(2),
        ];
        let missing: Vec<String> = needed
            .into_iter()
            .filter(|column| !has(*column))
            .map(Column::name)
            .collect();
        if has(Column::Spreads) && (0..3).any(|axis| has(Column::Spread(axis))) {
            self.refuse(
                format!("row {}", row.line),
                "spread_mm says all three axes, spread_x_mm one; use either",
            );
        }
        if !missing.is_empty() {
            self.refuse(
                format!("row {}", row.line),
                format!(
                    "no column {}; the first row names the columns",
                    missing.join(", ")
                ),
            );
        }
    }

    /// A cell as text, without its guards; empty when there is none.
    fn cell(&self, row: &Row<'_>, column: Column) -> String {
        let at = self.columns.iter().position(|(known, ..)| *known == column);
        let cell = at.and_then(|at| row.record.get(at)).unwrap_or_default();
        unguarded(cell.trim()).into_owned()
    }

    fn row(&mut self, row: &Row<'_>) {
        if row.record.len() > self.columns.len()
            && row
                .record
                .iter()
                .skip(self.columns.len())
                .any(|cell| !cell.trim().is_empty())
        {
            self.refuse(
                format!("row {}", row.line),
                format!(
                    "{} cells are here, {} columns are named; is a separator inside a text without quotes, or a decimal comma between commas?",
                    row.record.len(),
                    self.columns.len()
                ),
            );
            return;
        }
        match self.cell(row, Column::Row).to_lowercase().as_str() {
            "" | "point" => self.point(row),
            "member" => self.member(row),
            "sheet" => self.property(row),
            other => {
                let other = clip(other, 40);
                let says = format!("\"{other}\" is no kind of row; write sheet, member or point");
                self.refuse_cell(row, Column::Row, says);
            }
        }
    }

    /// Row and column of a place in the sheet, where it stands in the table.
    fn place_of(&self, place: &str) -> String {
        let property = place.rsplit('.').next().unwrap_or_default();
        for (known, row) in &self.rows {
            let Some(rest) = place.strip_prefix(known.as_str()) else {
                continue;
            };
            if !rest.is_empty() && !rest.starts_with(['.', '[']) {
                continue;
            }
            let axis = rest.trim_end_matches(']').rsplit('[').next();
            let axis = axis
                .and_then(|axis| axis.parse().ok())
                .filter(|axis| *axis < 3);
            let column = match rest.trim_start_matches('.').split(['[', '.']).next() {
                Some("target_mm") => axis.map(Column::Target),
                Some("spread_mm") => axis.map(Column::Spread),
                Some("tolerance_mm") => Some(Column::Tolerance),
                Some("mirror") => Some(Column::Mirror),
                Some("member") => Some(Column::Member),
                Some("asymmetric") => Some(Column::Asymmetric),
                Some("carried_by") => Some(Column::CarriedBy),
                Some("label") => Some(Column::Label),
                _ => None,
            };
            let column = match column {
                Some(Column::Spread(_))
                    if self.columns.iter().any(|(c, ..)| *c == Column::Spreads) =>
                {
                    Some(Column::Spreads)
                }
                column => column,
            };
            return match column {
                Some(column) => format!("row {row}, column {}", self.heading(column)),
                None => format!("row {row}"),
            };
        }
        let property = format!("{PROPERTY}{property}");
        match self.rows.iter().find(|(known, _)| *known == property) {
            Some((_, row)) => format!("row {row}, column {}", self.heading(Column::Value)),
            None => place.to_owned(),
        }
    }
}

/// The text behind a line `sep=;`, how many lines that took, and what separates its cells: the one
/// that is in the first row most often, outside quotes.
fn separator(text: &str) -> (&str, u64, u8) {
    let (first, rest) = text.split_once('\n').unwrap_or((text, ""));
    let named = first.trim().to_lowercase();
    match named.strip_prefix("sep=") {
        Some(";") => return (rest, 1, b';'),
        Some(",") => return (rest, 1, b','),
        Some("") if first.ends_with('\t') => return (rest, 1, b'\t'),
        _ => {}
    }
    let mut counts = [(b',', 0), (b';', 0), (b'\t', 0)];
    let mut quoted = false;
    let heading = text.trim_start_matches(['\n', ' ']).bytes();
    for byte in heading.take_while(|byte| *byte != b'\n') {
        quoted ^= byte == b'"';
        for (separator, count) in &mut counts {
            *count += usize::from(!quoted && byte == *separator);
        }
    }
    // The earlier one when two are as many.
    let best = counts.into_iter().rev().max_by_key(|(_, count)| *count);
    (text, 0, best.map_or(b',', |(separator, _)| separator))
}
