//! A sheet as a table for spreadsheet programs: CSV by RFC 4180, without loss.
//!
//! One row per property of the sheet, member and point; `docs/library.md` says the columns. Written
//! with commas, points, CRLF and a byte order mark (which spreadsheet programs need to see UTF-8);
//! read far more freely. Millimetres; inches where a column's name says so.

mod cells;
mod columns;
mod read;

use super::sheet::{OriginKind, Point, Sheet};
use crate::job::Side;
use columns::Column;

pub use read::read_table;

/// Columns in the order in which they are written.
const WRITTEN: [Column; 17] = [
    Column::Row,
    Column::Id,
    Column::Label,
    Column::Side,
    Column::Mirror,
    Column::Target(0),
    Column::Target(1),
    Column::Target(2),
    Column::Spread(0),
    Column::Spread(1),
    Column::Spread(2),
    Column::Tolerance,
    Column::Asymmetric,
    Column::Member,
    Column::Cars,
    Column::CarriedBy,
    Column::Value,
];

/// Writes a sheet as a table.
#[must_use]
pub fn write_table(sheet: &Sheet) -> String {
    let sheet = sheet.clone().rounded();
    let mut out = Out(csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new()));
    out.row(|column| column.name());
    for (name, value) in properties(&sheet) {
        out.row(|column| match column {
            Column::Row => "sheet".into(),
            Column::Id => name.into(),
            Column::Value => cells::guarded(&value),
            _ => String::new(),
        });
    }
    for (id, member) in &sheet.members {
        out.row(|column| match column {
            Column::Row => "member".into(),
            Column::Id => cells::guarded(id.as_str()),
            Column::Label => cells::guarded(&member.label),
            Column::CarriedBy => {
                let ids: Vec<&str> = member.carried_by.iter().map(|id| id.as_str()).collect();
                cells::guarded(&ids.join(" "))
            }
            _ => String::new(),
        });
    }
    for (id, point) in &sheet.points {
        out.row(|column| of_point(id.as_str(), point, column));
    }
    format!("\u{feff}{}", out.text())
}

struct Out(csv::Writer<Vec<u8>>);

impl Out {
    fn row(&mut self, cell: impl Fn(Column) -> String) {
        // A row of texts into memory: neither can fail.
        let _ = self.0.write_record(WRITTEN.map(cell));
    }

    fn text(self) -> String {
        let bytes = self.0.into_inner().unwrap_or_default();
        String::from_utf8(bytes).unwrap_or_default()
    }
}

/// What the sheet says as a whole, by the names of the rows.
fn properties(sheet: &Sheet) -> Vec<(&'static str, String)> {
    let (body, origin) = (&sheet.body, &sheet.origin);
    let kind = match origin.kind {
        OriginKind::Manual => "manual",
        OriginKind::Measured => "measured",
        OriginKind::Imported => "imported",
    };
    let years = body
        .years
        .map(|years| format!("{} to {}", years.from, years.to));
    let all = [
        ("name", sheet.name.clone()),
        ("revision", sheet.revision.to_string()),
        ("maker", body.maker.clone()),
        ("model", body.model.clone()),
        ("years", years.unwrap_or_default()),
        ("style", body.style.clone()),
        (
            "vin",
            body.vin.map(|vin| vin.to_string()).unwrap_or_default(),
        ),
        ("tolerance_mm", number(sheet.tolerance_mm)),
        ("origin", kind.to_owned()),
        ("source", origin.source.clone()),
        ("by", origin.by.clone()),
        ("at", origin.at.clone()),
    ];
    // Empty ones too: what is read must not keep what stood there before.
    all.into()
}

fn of_point(id: &str, point: &Point, column: Column) -> String {
    let text = |text: Option<&str>| cells::guarded(text.unwrap_or_default());
    match column {
        Column::Row => "point".into(),
        Column::Id => cells::guarded(id),
        Column::Label => cells::guarded(&point.label),
        Column::Side => match point.side {
            Side::Left => "left".into(),
            Side::Right => "right".into(),
            Side::Centre => "centre".into(),
        },
        Column::Mirror => text(point.mirror.as_ref().map(|id| id.as_str())),
        Column::Target(axis) => point.target_mm[axis].to_string(),
        Column::Spread(axis) => point.spread_mm[axis].to_string(),
        Column::Tolerance => number(point.tolerance_mm),
        Column::Asymmetric if point.asymmetric => "yes".into(),
        Column::Member => text(point.member.as_ref().map(|id| id.as_str())),
        Column::Cars if point.cars > 0 => point.cars.to_string(),
        _ => String::new(),
    }
}

fn number(value: Option<f64>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}
