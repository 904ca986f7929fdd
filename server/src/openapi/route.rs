//! Short ways to write a route down.

use schemars::{Schema, SchemaGenerator, json_schema};

use super::{Access, Describes, JSON, Operation};

pub(super) const NOTHING: (u16, &str, Option<Describes>) = (204, "", None);

pub(super) const fn gives(describes: Describes) -> (u16, &'static str, Option<Describes>) {
    (200, JSON, Some(describes))
}

pub(super) const fn makes(describes: Describes) -> (u16, &'static str, Option<Describes>) {
    (201, JSON, Some(describes))
}

/// How a report is wanted.
pub(super) const REPORT: [(&str, &str, bool); 3] = [
    ("language", "language", false),
    ("paper", "paper", false),
    ("unit", "unit", false),
];

/// How readings are wanted in words.
pub(super) const FIGURES: [(&str, &str, bool); 2] =
    [("language", "language", false), ("unit", "unit", false)];

/// What a request of the tus protocol carries.
pub(super) const TUS: [&str; 1] = ["Tus-Resumable"];
/// The same, to begin an upload.
pub(super) const TUS_BEGIN: [&str; 3] = ["Tus-Resumable", "Upload-Length", "Upload-Metadata"];
/// The same, with a part of one.
pub(super) const TUS_PART: [&str; 3] = ["Tus-Resumable", "Upload-Offset", "Content-Type"];

/// Bytes that are no text.
pub(super) fn file(_: &mut SchemaGenerator) -> Schema {
    json_schema!({ "type": "string", "format": "binary" })
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
        headers: &[],
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

    pub(super) const fn told(self, headers: &'static [&'static str]) -> Self {
        Self { headers, ..self }
    }

    pub(super) const fn asked(self, query: &'static [(&'static str, &'static str, bool)]) -> Self {
        Self { query, ..self }
    }
}
