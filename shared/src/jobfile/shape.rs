//! What may stand where in a job file, and how many of it: known before anything is built.

use super::{MAX_ENTRIES, MAX_POINTS, MAX_READINGS, MAX_STAGES};

/// What a value is.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Shape {
    /// A text in quotes.
    Text,
    /// A number.
    Number,
    /// `true` or `false`.
    Flag,
    /// An object with these fields.
    Object(&'static [(&'static str, Shape)]),
    /// An object with names of its own, at most so many.
    Map(usize, &'static Shape),
    /// A list, at most so long.
    List(usize, &'static Shape),
    /// Or nothing (`null`).
    Maybe(&'static Shape),
}

use Shape::{Flag, List, Map, Maybe, Number, Object, Text};

const MAYBE_TEXT: Shape = Maybe(&Text);
const MAYBE_NUMBER: Shape = Maybe(&Number);
const PLACE: Shape = List(3, &Number);

const IMPACT: Shape = Object(&[("zone", Text), ("direction_deg", Number)]);
const CARD: Shape = Object(&[
    ("number", Text),
    ("vehicle", Text),
    ("vin", MAYBE_TEXT),
    ("impact", Maybe(&IMPACT)),
]);
const POINT: Shape = Object(&[
    ("label", Text),
    ("side", Text),
    ("mirror", MAYBE_TEXT),
    ("place", PLACE),
    ("place_sigma_mm", MAYBE_NUMBER),
    ("trusted", Flag),
    ("member", MAYBE_TEXT),
]);
const MEMBER: Shape = Object(&[("label", Text), ("carried_by", List(MAX_ENTRIES, &Text))]);
const SHEET: Shape = Object(&[
    ("name", Text),
    ("revision", Number),
    ("digest", Text),
    ("spread_mm", Number),
    ("points", Map(MAX_POINTS, &PLACE)),
    ("spreads", Map(MAX_POINTS, &PLACE)),
    ("tolerances", Map(MAX_POINTS, &Number)),
]);
const TOOL: Shape = Object(&[
    ("kind", Text),
    ("label", Text),
    ("sigma_mm", Number),
    ("per_m_mm", Number),
    ("level_check", Maybe(&CHECK)),
    ("plumb_check", Maybe(&CHECK)),
]);
const CHECK: Shape = Object(&[
    ("mm_per_m", Number),
    ("sigma_mm_per_m", Number),
    ("at", Text),
    ("by", Text),
]);
const SETUP: Shape = Object(&[
    ("label", Text),
    ("plumb", MAYBE_TEXT),
    ("tool", MAYBE_TEXT),
    ("stands_mm", Maybe(&List(2, &Number))),
]);
const STAGE: Shape = Object(&[
    ("id", Text),
    ("label", Text),
    ("of", Text),
    ("load", MAYBE_TEXT),
]);
const SET_ASIDE: Shape = Object(&[("why", Text), ("by", Text)]);
const READING: Shape = Object(&[
    ("id", Text),
    ("stage", Text),
    ("kind", Text),
    ("setup", MAYBE_TEXT),
    ("frame", MAYBE_TEXT),
    ("point", MAYBE_TEXT),
    ("from", MAYBE_TEXT),
    ("to", MAYBE_TEXT),
    ("beam", MAYBE_TEXT),
    ("side", MAYBE_TEXT),
    ("value_mm", MAYBE_NUMBER),
    ("xyz_mm", Maybe(&PLACE)),
    ("sigma_mm", MAYBE_NUMBER),
    ("tool", MAYBE_TEXT),
    ("origin_mm", Number),
    ("by", Text),
    ("at", Text),
    ("entered", Text),
    ("note", Text),
    ("set_aside", Maybe(&SET_ASIDE)),
    ("replaces", MAYBE_TEXT),
]);

/// A whole job file.
pub(super) static JOB: Shape = Object(&[
    ("format", Text),
    ("job", CARD),
    ("tolerance_mm", Number),
    ("conformity", Number),
    ("build_spread_mm", Number),
    ("points", Map(MAX_POINTS, &POINT)),
    ("members", Map(MAX_ENTRIES, &MEMBER)),
    ("sheet", Maybe(&SHEET)),
    ("tools", Map(MAX_ENTRIES, &TOOL)),
    ("setups", Map(MAX_ENTRIES, &SETUP)),
    ("stages", List(MAX_STAGES, &STAGE)),
    ("readings", List(MAX_READINGS, &READING)),
]);

impl Shape {
    /// What belongs there, in words.
    pub(crate) fn belongs(self) -> &'static str {
        match self {
            Text => "a text in quotes belongs here",
            Number => "a number belongs here, as 412.5",
            Flag => "true or false belongs here",
            Object(_) | Map(..) => "an object { … } belongs here",
            List(..) => "a list [ … ] belongs here",
            Maybe(shape) => shape.belongs(),
        }
    }

    /// The shape without the choice of nothing.
    pub(crate) fn inner(self) -> Self {
        match self {
            Maybe(shape) => shape.inner(),
            shape => shape,
        }
    }
}

#[cfg(test)]
mod tests {
    use serde_json::Value;

    use super::*;

    /// The form is written twice, as types and as shapes; the schema of the types must say the same.
    #[test]
    fn shapes_and_forms_are_the_same() {
        let schema = crate::jobfile::schema();
        same(&schema, &schema, JOB, "job file");
    }

    fn same(root: &Value, schema: &Value, shape: Shape, place: &str) {
        let schema = resolve(root, schema);
        let types: Vec<&str> = match &schema["type"] {
            Value::String(one) => vec![one],
            Value::Array(many) => many.iter().filter_map(Value::as_str).collect(),
            _ => Vec::new(),
        };
        let choices = schema["anyOf"].as_array();
        let nullable = types.contains(&"null")
            || choices.is_some_and(|some| some.iter().any(|one| one["type"] == "null"));
        assert_eq!(nullable, matches!(shape, Maybe(_)), "{place}");
        if let Some(some) = choices {
            let other = some.iter().find(|one| one["type"] != "null").unwrap();
            return same(root, other, shape.inner(), place);
        }
        match shape.inner() {
            Text => assert!(
                types.contains(&"string") || schema["oneOf"].is_array(),
                "{place}"
            ),
            Number => assert!(
                types.contains(&"number") || types.contains(&"integer"),
                "{place}"
            ),
            Flag => assert!(types.contains(&"boolean"), "{place}"),
            Object(fields) => {
                let properties = schema["properties"].as_object().unwrap();
                let names: Vec<&String> = properties.keys().collect();
                let own: Vec<&&str> = fields.iter().map(|(name, _)| name).collect();
                assert_eq!(names, own, "{place}");
                for (name, shape) in fields {
                    same(root, &properties[*name], *shape, &format!("{place}.{name}"));
                }
            }
            Map(_, of) => same(root, &schema["additionalProperties"], *of, place),
            List(_, of) => same(root, &schema["items"], *of, place),
            Maybe(_) => unreachable!("inner() has none"),
        }
    }

    fn resolve<'a>(root: &'a Value, schema: &'a Value) -> &'a Value {
        match schema["$ref"].as_str() {
            Some(name) => root.pointer(name.trim_start_matches('#')).unwrap(),
            None => schema,
        }
    }
}
