//! From a table to a sheet, or everything that is wrong with it, by row and column.
//!
//! Comma, semicolon or tab between cells; decimal point or comma; any line ends; with or without a
//! byte order mark. Nothing panics, whatever the bytes.

use std::collections::HashSet;
use std::str::FromStr;

use super::cells::{Numbers, unguarded};
use super::columns::Column;
use crate::ids::{MemberId, PointId};
use crate::job::Side;
use crate::jobfile::{MAX_REFUSALS, Refusal, decode, place};
use crate::library::rules::check;
use crate::library::sheet::{Member, OriginKind, Point, Sheet, Years};
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
/// Nearer to the centre plane than this, a point without a side is in the middle.
const CENTRE_MM: f64 = 1.0;

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

    /// An identifier; `None` when the cell is empty or refused.
    fn id<T: FromStr<Err = crate::ids::IdError>>(
        &mut self,
        row: &Row<'_>,
        column: Column,
        text: &str,
    ) -> Option<T> {
        match text.parse() {
            Ok(id) => Some(id),
            Err(error) => {
                self.refuse_cell(row, column, error.to_string());
                None
            }
        }
    }

    fn some_id<T: FromStr<Err = crate::ids::IdError>>(
        &mut self,
        row: &Row<'_>,
        column: Column,
    ) -> Option<T> {
        let text = self.cell(row, column);
        (!text.is_empty()).then(|| self.id(row, column, &text))?
    }

    /// A length; `None` when the cell is empty or refused.
    fn length(&mut self, row: &Row<'_>, column: Column) -> Option<f64> {
        let text = self.cell(row, column);
        let unit = self.columns.iter().find(|(known, ..)| *known == column)?.1;
        if text.is_empty() {
            return None;
        }
        match self.numbers.length(&text, unit) {
            Ok(value) => Some(value),
            Err(says) => {
                self.refuse_cell(row, column, says);
                None
            }
        }
    }

    fn needed_length(&mut self, row: &Row<'_>, column: Column) -> f64 {
        if self.cell(row, column).is_empty() {
            self.refuse_cell(row, column, "nothing is here; write a length, as 412.5");
        }
        self.length(row, column).unwrap_or_default()
    }

    fn point(&mut self, row: &Row<'_>) {
        let text = self.cell(row, Column::Id);
        let id: Option<PointId> = self.id(row, Column::Id, &text);
        let target_mm = [0, 1, 2].map(|axis| self.needed_length(row, Column::Target(axis)));
        let all = self.length(row, Column::Spreads);
        let default = all.unwrap_or(crate::job::DEFAULT_BUILD_SPREAD_MM);
        let spread_mm =
            [0, 1, 2].map(|axis| self.length(row, Column::Spread(axis)).unwrap_or(default));
        let side = match self.cell(row, Column::Side).to_lowercase().as_str() {
            "left" | "l" => Side::Left,
            "right" | "r" => Side::Right,
            "centre" | "center" | "c" => Side::Centre,
            "" if target_mm[1].abs() < CENTRE_MM => Side::Centre,
            "" if target_mm[1] < 0.0 => Side::Left,
            "" => Side::Right,
            other => {
                let other = clip(other, 40);
                let says = format!("\"{other}\" is no side; write left, right or centre");
                self.refuse_cell(row, Column::Side, says);
                Side::Centre
            }
        };
        let asymmetric = match self.cell(row, Column::Asymmetric).to_lowercase().as_str() {
            "" | "no" | "false" | "0" => false,
            "yes" | "true" | "1" => true,
            other => {
                let says = format!("\"{}\" is neither yes nor no", clip(other, 40));
                self.refuse_cell(row, Column::Asymmetric, says);
                false
            }
        };
        let cars = self.cell(row, Column::Cars);
        let cars = match (cars.is_empty(), cars.parse()) {
            (true, _) => 0,
            (_, Ok(cars)) => cars,
            _ => {
                let says =
                    "a number of cars is whole, from 0; leave it empty when none were measured";
                self.refuse_cell(row, Column::Cars, says);
                0
            }
        };
        let point = Point {
            label: self.cell(row, Column::Label),
            side,
            mirror: self.some_id(row, Column::Mirror),
            target_mm,
            spread_mm,
            tolerance_mm: self.length(row, Column::Tolerance),
            asymmetric,
            member: self.some_id(row, Column::Member),
            cars,
        };
        let Some(id) = id else { return };
        self.rows
            .push((place::key("points", id.as_str()), row.line));
        if self.sheet.points.insert(id.clone(), point).is_some() {
            let says = format!("the point \"{id}\" stands in another row already; keep one");
            self.refuse_cell(row, Column::Id, says);
        }
    }

    fn member(&mut self, row: &Row<'_>) {
        let text = self.cell(row, Column::Id);
        let id: Option<MemberId> = self.id(row, Column::Id, &text);
        let carriers = self.cell(row, Column::CarriedBy);
        let carried_by = carriers
            .split_whitespace()
            .filter_map(|carrier| self.id(row, Column::CarriedBy, carrier))
            .collect();
        let member = Member {
            label: self.cell(row, Column::Label),
            carried_by,
        };
        let Some(id) = id else { return };
        self.rows
            .push((place::key("members", id.as_str()), row.line));
        if self.sheet.members.insert(id.clone(), member).is_some() {
            let says = format!("the member \"{id}\" stands in another row already; keep one");
            self.refuse_cell(row, Column::Id, says);
        }
    }

    fn property(&mut self, row: &Row<'_>) {
        let name = self.cell(row, Column::Id).to_lowercase();
        let value = self.cell(row, Column::Value);
        if !self.said.insert(name.clone()) {
            let says = format!(
                "\"{}\" stands in another row already; keep one",
                clip(&name, 40)
            );
            self.refuse_cell(row, Column::Id, says);
            return;
        }
        let mut refusal = None;
        let (body, origin) = (&mut self.sheet.body, &mut self.sheet.origin);
        match name.as_str() {
            "name" => self.sheet.name = value,
            "maker" => body.maker = value,
            "model" => body.model = value,
            "style" => body.style = value,
            "source" => origin.source = value,
            "by" => origin.by = value,
            "at" => origin.at = value,
            "revision" => match value.parse() {
                Ok(revision) => self.sheet.revision = revision,
                Err(_) => refusal = Some("a revision is a whole number from 1".to_owned()),
            },
            "years" => match years(&value) {
                Ok(years) => body.years = years,
                Err(says) => refusal = Some(says),
            },
            "vin" if value.is_empty() => body.vin = None,
            "vin" => match value.parse() {
                Ok(pattern) => body.vin = Some(pattern),
                Err(error) => refusal = Some(error.to_string()),
            },
            "origin" => match value.to_lowercase().as_str() {
                "manual" => origin.kind = OriginKind::Manual,
                "measured" => origin.kind = OriginKind::Measured,
                "imported" => origin.kind = OriginKind::Imported,
                _ => refusal = Some("write manual, measured or imported".to_owned()),
            },
            "tolerance_mm" | "tolerance_in" if value.is_empty() => self.sheet.tolerance_mm = None,
            "tolerance_mm" | "tolerance_in" => {
                let unit = match name.ends_with("_in") {
                    true => Unit::Inch,
                    false => Unit::Millimetre,
                };
                match self.numbers.length(&value, unit) {
                    Ok(value) => self.sheet.tolerance_mm = Some(value),
                    Err(says) => refusal = Some(says),
                }
            }
            other => {
                let says = format!(
                    "\"{}\" is nothing that a sheet says; write name, revision, maker, model, years, style, vin, tolerance_mm, origin, source, by or at",
                    clip(other, 40)
                );
                self.refuse_cell(row, Column::Id, says);
            }
        }
        let name = name.replace("_in", "_mm");
        self.rows.push((format!("{PROPERTY}{name}"), row.line));
        if let Some(says) = refusal {
            self.refuse_cell(row, Column::Value, says);
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

/// `2019`, `2019 to 2024` or `2019-2024`; nothing when empty.
fn years(text: &str) -> Result<Option<Years>, String> {
    if text.is_empty() {
        return Ok(None);
    }
    let (from, to) = text
        .split_once("to")
        .or(text.split_once(['-', '–']))
        .unwrap_or((text, text));
    match (from.trim().parse(), to.trim().parse()) {
        (Ok(from), Ok(to)) => Ok(Some(Years { from, to })),
        _ => Err(format!(
            "\"{}\" are no years; write 2019 or 2019 to 2024",
            clip(text, 40)
        )),
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
