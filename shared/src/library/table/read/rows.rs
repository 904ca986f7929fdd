//! What one row says: a point, a member, or a property of the sheet.

use std::str::FromStr;

use super::{PROPERTY, Reader, Row};
use crate::ids::{MemberId, PointId};
use crate::job::Side;
use crate::jobfile::place;
use crate::library::sheet::{Member, OriginKind, Point, Years};
use crate::library::table::columns::Column;
use crate::plain::clip;
use crate::units::Unit;

/// Nearer to the centre plane than this, a point without a side is in the middle.
const CENTRE_MM: f64 = 1.0;

impl Reader {
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

    pub(super) fn point(&mut self, row: &Row<'_>) {
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

    pub(super) fn member(&mut self, row: &Row<'_>) {
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

    pub(super) fn property(&mut self, row: &Row<'_>) {
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
