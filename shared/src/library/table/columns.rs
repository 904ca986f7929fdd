//! The columns of a table by their names.

use crate::units::Unit;

/// A column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Column {
    /// What the row is: `sheet`, `member`, `point`.
    Row,
    /// Identifier, or the name of a property of the sheet.
    Id,
    Label,
    Side,
    Mirror,
    Target(usize),
    Spread(usize),
    /// The same spread along all axes.
    Spreads,
    Tolerance,
    Asymmetric,
    Member,
    Cars,
    CarriedBy,
    /// Value of a property of the sheet.
    Value,
}

/// Name without unit, and the column; those before [`LENGTHS`] are lengths.
const NAMES: [(&str, Column); 18] = [
    ("x", Column::Target(0)),
    ("y", Column::Target(1)),
    ("z", Column::Target(2)),
    ("spread_x", Column::Spread(0)),
    ("spread_y", Column::Spread(1)),
    ("spread_z", Column::Spread(2)),
    ("spread", Column::Spreads),
    ("tolerance", Column::Tolerance),
    ("row", Column::Row),
    ("id", Column::Id),
    ("label", Column::Label),
    ("side", Column::Side),
    ("mirror", Column::Mirror),
    ("asymmetric", Column::Asymmetric),
    ("member", Column::Member),
    ("cars", Column::Cars),
    ("carried_by", Column::CarriedBy),
    ("value", Column::Value),
];
const LENGTHS: usize = 8;

impl Column {
    /// Its name as it is written.
    pub(super) fn name(self) -> String {
        let known = NAMES.iter().enumerate().find(|(_, (_, c))| *c == self);
        known
            .map(|(at, (name, _))| match at < LENGTHS {
                true => format!("{name}_mm"),
                false => (*name).to_owned(),
            })
            .unwrap_or_default()
    }

    /// The column of a heading, with the unit of its numbers.
    pub(super) fn of(heading: &str) -> Option<(Self, Unit)> {
        let heading = heading.trim().to_lowercase().replace([' ', '-'], "_");
        let (name, unit) = match heading.rsplit_once('_') {
            Some((name, "mm")) => (name, Some(Unit::Millimetre)),
            Some((name, "in" | "inch")) => (name, Some(Unit::Inch)),
            _ => (heading.as_str(), None),
        };
        let at = NAMES.iter().position(|(known, _)| *known == name)?;
        if unit.is_some() && at >= LENGTHS {
            return None;
        }
        Some((NAMES[at].1, unit.unwrap_or(Unit::Millimetre)))
    }

    /// All names, for whoever wrote another.
    pub(super) fn all() -> String {
        let written = super::WRITTEN.iter().chain([&Self::Spreads]);
        let names: Vec<String> = written.map(|column| column.name()).collect();
        names.join(", ")
    }
}
