//! Short ways to write a route down.

use super::{Access, Describes, JSON, Operation};

pub(super) const NOTHING: (u16, &str, Option<Describes>) = (204, "", None);

/// A file that is written for people.
pub(super) const PDF: &str = "application/pdf";
/// How a report is wanted.
pub(super) const REPORT: &[(&str, &str, bool)] = &[
    ("language", "language", false),
    ("paper", "paper", false),
    ("unit", "unit", false),
];

pub(super) const fn gives(describes: Describes) -> (u16, &'static str, Option<Describes>) {
    (200, JSON, Some(describes))
}

pub(super) const fn makes(describes: Describes) -> (u16, &'static str, Option<Describes>) {
    (201, JSON, Some(describes))
}

/// A route without a query that takes nothing.
pub(super) const fn route(
    method: &'static str,
    path: &'static str,
    what: &'static str,
    access: Access,
    gives: (u16, &'static str, Option<Describes>),
) -> Operation {
    Operation {
        method,
        path,
        what,
        access,
        query: &[],
        takes: None,
        gives,
        refuses: &[],
    }
}

impl Operation {
    pub(super) const fn taking(self, describes: Describes) -> Self {
        Self {
            takes: Some(describes),
            ..self
        }
    }

    pub(super) const fn refusing(self, refuses: &'static [u16]) -> Self {
        Self { refuses, ..self }
    }

    pub(super) const fn asked(self, query: &'static [(&'static str, &'static str, bool)]) -> Self {
        Self { query, ..self }
    }
}
