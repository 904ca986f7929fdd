//! The open JSON form of a sheet (`baybook-sheet/1`): reading and writing, with the job file's walk
//! and its errors.

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Deserialize, Serialize};

use super::rules::check;
use super::sheet::Sheet;
use super::{MAX_BYTES, MAX_MEMBERS, MAX_POINTS, digest};
use crate::jobfile::shape::Shape::{self, Flag, List, Map, Maybe, Number, Object, Text};
use crate::jobfile::{Refusal, decode, survey, typed};
use crate::plain::clip;

/// `format` of a sheet's file.
pub const FORMAT: &str = "baybook-sheet/1";

const SHEET_FILE: decode::Kind = decode::Kind {
    name: "sheet",
    begins: "{\"format\": \"baybook-sheet/1\"",
    max_bytes: MAX_BYTES,
};

const AXES: Shape = List(3, &Number);
const MAYBE_NUMBER: Shape = Maybe(&Number);
const BODY: Shape = Object(&[
    ("maker", Text),
    ("model", Text),
    ("years", Maybe(&Object(&[("from", Number), ("to", Number)]))),
    ("style", Text),
    ("vin", Maybe(&Text)),
]);
const ORIGIN: Shape = Object(&[("kind", Text), ("source", Text), ("by", Text), ("at", Text)]);
const MEMBER: Shape = Object(&[("label", Text), ("carried_by", List(MAX_MEMBERS, &Text))]);
const POINT: Shape = Object(&[
    ("label", Text),
    ("side", Text),
    ("mirror", Maybe(&Text)),
    ("target_mm", AXES),
    ("spread_mm", AXES),
    ("tolerance_mm", MAYBE_NUMBER),
    ("asymmetric", Flag),
    ("member", Maybe(&Text)),
    ("cars", Number),
]);
const SHEET: Shape = Object(&[
    ("name", Text),
    ("revision", Number),
    ("body", BODY),
    ("tolerance_mm", MAYBE_NUMBER),
    ("origin", ORIGIN),
    ("members", Map(MAX_MEMBERS, &MEMBER)),
    ("points", Map(MAX_POINTS, &POINT)),
]);
const FILE: Shape = Object(&[("format", Text), ("digest", Maybe(&Text)), ("sheet", SHEET)]);

#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "SheetFile")]
struct Form<S> {
    format: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    digest: Option<String>,
    sheet: S,
}

/// The schema of a sheet's file, with what it refers to in the generator.
pub fn file_schema(generator: &mut SchemaGenerator) -> Schema {
    generator.subschema_for::<Form<Sheet>>()
}

/// Reads a sheet from a file's bytes: UTF-8, with or without a byte order mark.
///
/// # Errors
/// As [`parse`], and when the bytes are no such text.
pub fn parse_bytes(bytes: &[u8]) -> Result<Sheet, Vec<Refusal>> {
    parse(decode::decode(bytes, &SHEET_FILE).map_err(|refusal| vec![refusal])?)
}

/// Reads a sheet.
///
/// # Errors
/// One refusal when the text is not of the form, else all that does not hold together; and when the
/// file names a digest that its content has not.
pub fn parse(text: &str) -> Result<Sheet, Vec<Refusal>> {
    let form = read(text).map_err(|refusal| vec![refusal])?;
    if form.format != FORMAT {
        let found = clip(&form.format, 40);
        let says = format!("\"{found}\" is not known here; write \"{FORMAT}\"");
        return Err(vec![Refusal::new("format", says)]);
    }
    let sheet = form.sheet.rounded();
    let mut refusals = check(&sheet);
    for refusal in &mut refusals {
        refusal.place = format!("sheet.{}", refusal.place);
    }
    if !refusals.is_empty() {
        return Err(refusals);
    }
    if let Some(named) = form.digest {
        let own = digest(&sheet).to_string();
        if named != own {
            let says = format!(
                "the content has the digest {own}: it was changed after this was written; take the digest out to read it as it is, under a revision of its own"
            );
            return Err(vec![Refusal::new("digest", says)]);
        }
    }
    Ok(sheet)
}

fn read(text: &str) -> Result<Form<Sheet>, Refusal> {
    let text = decode::trim(text, &SHEET_FILE)?;
    survey::survey(text, FILE, "sheet")?;
    typed(text)
}

/// Writes a sheet with its digest, indented for people.
#[must_use]
pub fn write(sheet: &Sheet) -> String {
    let sheet = sheet.clone().rounded();
    let form = Form {
        format: FORMAT.to_owned(),
        digest: Some(digest(&sheet).to_string()),
        sheet,
    };
    let mut text = serde_json::to_string_pretty(&form).unwrap_or_default();
    text.push('\n');
    text
}
