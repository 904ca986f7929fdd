//! Records as plain values: a type of `job` in, a map of scalars in the document out, and back.
//!
//! The shape of a record is the shape of its type in serde; `null` and absent are the same.

use std::collections::HashMap;

use automerge::hydrate::Value as Hydrated;
use automerge::transaction::Transactable;
use automerge::{Automerge, AutomergeError, ObjId, ObjType, ReadDoc, ScalarValue, Value};
use serde::Serialize;
use serde_json::{Map, Number, Value as Json};

use super::edit::EditError;
use super::tree::{Item, Tree};
use crate::finding::{Finding, FindingCode, Severity};

/// Deepest nesting that is read; a record of ours has three levels.
const MAX_DEPTH: usize = 8;

/// A value of `job` as JSON.
pub(super) fn to_json(record: &impl Serialize) -> Json {
    serde_json::to_value(record).unwrap_or(Json::Null)
}

/// Writes a value at a key, replacing what is there. A record goes in as one: field by field costs a
/// search in all columns for each.
pub(super) fn put(
    tx: &mut impl Transactable,
    parent: &ObjId,
    key: &str,
    value: &Json,
) -> Result<(), AutomergeError> {
    match value {
        Json::Object(_) | Json::Array(_) => {
            tx.batch_create_object(parent, key, &in_engine(value), false)?;
            Ok(())
        }
        other => tx.put(parent, key, scalar(other)),
    }
}

/// A value as the engine takes it: absent instead of `null`.
fn in_engine(value: &Json) -> Hydrated {
    match value {
        Json::Object(fields) => {
            let present = fields.iter().filter(|(_, value)| !value.is_null());
            let present = present.map(|(name, value)| (name.as_str(), in_engine(value)));
            Hydrated::from(present.collect::<HashMap<_, _>>())
        }
        // Lists of the book hold numbers and names, nothing nested.
        Json::Array(items) => {
            let items = items.iter().map(|item| Hydrated::Scalar(scalar(item)));
            Hydrated::from(items.collect::<Vec<_>>())
        }
        other => Hydrated::Scalar(scalar(other)),
    }
}

/// Sets the fields of a map that differ from what is there; fields that became `null` are removed. What
/// stays the same is not written: it would be another value beside one that somebody else is setting.
pub(super) fn set_fields(
    tx: &mut impl Transactable,
    map: &ObjId,
    fields: &Map<String, Json>,
) -> Result<(), EditError> {
    for (name, value) in fields {
        let present = tx.get(map, name.as_str())?;
        match (value, present) {
            (Json::Null, None) => {}
            (Json::Null, Some(_)) => tx.delete(map, name.as_str())?,
            (value, Some((old, id))) if json_in(tx, &old, &id) == without_nulls(value) => {}
            (value, _) => put(tx, map, name, value)?,
        }
    }
    Ok(())
}

fn scalar(value: &Json) -> ScalarValue {
    match value {
        Json::Bool(flag) => (*flag).into(),
        Json::Number(number) => match number.as_i64() {
            Some(whole) => whole.into(),
            None => number.as_f64().unwrap_or(0.0).into(),
        },
        Json::String(text) => text.as_str().into(),
        Json::Null | Json::Array(_) | Json::Object(_) => ScalarValue::Null,
    }
}

/// Reads a map, and finds the fields that two people set differently.
pub(super) fn read_map(
    tree: &Tree<'_>,
    map: &ObjId,
    path: &str,
    depth: usize,
    findings: &mut Vec<Finding>,
) -> Map<String, Json> {
    let mut fields = Map::new();
    if depth > MAX_DEPTH {
        return fields;
    }
    for field in tree.fields(map) {
        let place = format!("{path}/{}", field.key);
        if field.conflict {
            findings.extend(conflict(tree.doc, map, &field.key, place.clone()));
        }
        let value = match &field.item {
            Item::Object(ObjType::Map | ObjType::Table, id) => {
                Json::Object(read_map(tree, id, &place, depth + 1, findings))
            }
            Item::Object(ObjType::List, id) => Json::Array(read_list(tree, id, &place, findings)),
            Item::Object(ObjType::Text, id) => tree.doc.text(id).map_or(Json::Null, Json::String),
            Item::Scalar(value) => read_scalar(value, &place, findings),
        };
        // Nothing is the same as no field.
        if !value.is_null() {
            fields.insert(field.key.clone().into_owned(), value);
        }
    }
    fields
}

fn read_list(tree: &Tree<'_>, list: &ObjId, path: &str, findings: &mut Vec<Finding>) -> Vec<Json> {
    let values = tree
        .items(list)
        .iter()
        .enumerate()
        .map(|(index, item)| match item {
            Item::Scalar(value) => read_scalar(value, &format!("{path}/{index}"), findings),
            Item::Object(..) => Json::Null,
        });
    values.collect()
}

/// A scalar; a number that is not finite is said and not read.
fn read_scalar(value: &ScalarValue, path: &str, findings: &mut Vec<Finding>) -> Json {
    if let ScalarValue::F64(number) = value
        && !number.is_finite()
    {
        findings.push(Finding {
            code: FindingCode::OutOfBounds,
            severity: Severity::Ask,
            subject: path.to_owned(),
            values: vec![number.to_string()],
        });
    }
    from_scalar(value)
}

pub(super) fn from_scalar(value: &ScalarValue) -> Json {
    match value {
        ScalarValue::Str(text) => Json::String(text.to_string()),
        ScalarValue::Int(whole) | ScalarValue::Timestamp(whole) => Json::Number((*whole).into()),
        ScalarValue::Uint(whole) => Json::Number((*whole).into()),
        ScalarValue::F64(number) => Number::from_f64(*number).map_or(Json::Null, Json::Number),
        ScalarValue::Boolean(flag) => Json::Bool(*flag),
        _ => Json::Null,
    }
}

/// A value as a finding shows it: lists with their values, a record with its fields.
pub(super) fn shown_in(doc: &impl ReadDoc, value: &Value<'_>, id: &ObjId) -> String {
    shown(&json_in(doc, value, id))
}

/// A value that somebody can keep: as a finding shows it; a whole sheet by what it is called.
pub(super) fn choice(subject: &str, value: &Json) -> String {
    match (subject, value) {
        (SHEET, Json::Object(fields)) => {
            // Two libraries may have revisions of one name and number, and a book takes the targets of the
            // points that it has.
            let said = |field: &str, most| {
                let text = fields.get(field).map_or_else(String::new, shown);
                text.chars().take(most).collect::<String>()
            };
            let points = fields.get("points").and_then(Json::as_object);
            format!(
                "points {}, revision {}, digest {}, name {}",
                points.map_or(0, Map::len),
                said("revision", 9),
                said("digest", 8),
                said("name", 60)
            )
        }
        _ => shown(value),
    }
}

/// The sheet is the only record that is set as a whole.
pub(super) const SHEET: &str = "sheet";

fn shown(value: &Json) -> String {
    match value {
        Json::String(text) => text.clone(),
        Json::Array(items) => items.iter().map(shown).collect::<Vec<_>>().join(", "),
        Json::Object(fields) => {
            let fields = fields
                .iter()
                .map(|(name, value)| format!("{name} {}", shown(value)));
            fields.collect::<Vec<_>>().join(", ")
        }
        other => other.to_string(),
    }
}

/// A value of the document, read from it piece by piece; what is nested too deep is nothing.
pub(super) fn json_in(doc: &impl ReadDoc, value: &Value<'_>, id: &ObjId) -> Json {
    json_at(doc, value, id, 0)
}

fn json_at(doc: &impl ReadDoc, value: &Value<'_>, id: &ObjId, depth: usize) -> Json {
    if depth > MAX_DEPTH {
        return Json::Null;
    }
    match value {
        Value::Scalar(value) => from_scalar(value),
        Value::Object(ObjType::Text) => doc.text(id).map_or(Json::Null, Json::String),
        Value::Object(ObjType::List) => {
            let items = doc.values(id);
            let items = items.map(|(value, id)| json_at(doc, &value, &id, depth + 1));
            Json::Array(items.collect())
        }
        Value::Object(_) => {
            let fields = doc.map_range(id, ..).map(|item| {
                let value = item.value.clone().into_value();
                let value = json_at(doc, &value, &item.id(), depth + 1);
                (item.key.into_owned(), value)
            });
            Json::Object(fields.collect())
        }
    }
}

/// As it would come back from a document.
fn without_nulls(value: &Json) -> Json {
    match value {
        Json::Object(fields) => {
            let present = fields.iter().filter(|(_, value)| !value.is_null());
            let present = present.map(|(name, value)| (name.clone(), without_nulls(value)));
            Json::Object(present.collect())
        }
        other => other.clone(),
    }
}

/// All values of a field, the one in force first, when two people set it differently. Two who set the
/// same value agree.
pub(super) fn conflict(
    doc: &Automerge,
    map: &ObjId,
    key: &str,
    subject: String,
) -> Option<Finding> {
    let all = doc.get_all(map, key).unwrap_or_default();
    if all.len() < 2 {
        return None;
    }
    let mut values: Vec<String> = all
        .into_iter()
        .map(|(value, id)| choice(&subject, &json_in(doc, &value, &id)))
        .collect();
    values.reverse();
    let differ = values.windows(2).any(|two| two[0] != two[1]);
    differ.then_some(Finding {
        code: FindingCode::Conflict,
        severity: Severity::Ask,
        subject,
        values,
    })
}
