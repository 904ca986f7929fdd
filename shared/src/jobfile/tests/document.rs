//! The document for users is true: its example solves to what it says, its keys and limits are those
//! of the code.

use serde_json::Value;

use super::super::*;
use crate::verdict::Verdict;

const DOCUMENT: &str = include_str!("../../../../docs/job-file.md");

/// The first block of the document in this language.
fn block(language: &str) -> &'static str {
    let (_, rest) = DOCUMENT.split_once(&format!("```{language}\n")).unwrap();
    rest.split_once("```").unwrap().0
}

#[test]
fn the_example_solves_to_what_the_document_says() {
    let job = parse(block("json")).unwrap();
    let result = crate::solve::solve(&job);
    assert!(result.fit.converged && result.suspects.is_empty());
    let pair = &result.stages[0].pairs[2];
    assert_eq!(pair.right_higher_mm.verdict, Some(Verdict::Outside));
    let text = crate::text::findings(&job, &result);
    for line in block("text").lines() {
        assert!(
            text.lines().any(|own| own == line),
            "{line}\nis not in\n{text}"
        );
    }
}

#[test]
fn every_key_and_every_word_of_the_form_is_explained() {
    fn names(schema: &Value, found: &mut Vec<String>) {
        match schema {
            Value::Object(fields) => {
                if let Some(properties) = fields.get("properties").and_then(Value::as_object) {
                    found.extend(properties.keys().cloned());
                }
                let words = fields.get("enum").and_then(Value::as_array);
                let word = fields.get("const");
                let words = words.into_iter().flatten().chain(word);
                found.extend(words.filter_map(Value::as_str).map(str::to_owned));
                fields.values().for_each(|field| names(field, found));
            }
            Value::Array(items) => items.iter().for_each(|item| names(item, found)),
            _ => {}
        }
    }
    let mut found = Vec::new();
    names(&schema(), &mut found);
    assert!(found.len() > 60, "{found:?}");
    for name in found {
        assert!(
            DOCUMENT.contains(&format!("`{name}`")),
            "`{name}` is missing"
        );
    }
    let result = result_schema();
    for name in result["properties"].as_object().unwrap().keys() {
        assert!(
            DOCUMENT.contains(&format!("`{name}`")),
            "`{name}` is missing"
        );
    }
}

#[test]
fn the_limits_are_those_of_the_code() {
    let thousands = |number: usize| match (number / 1_000, number % 1_000) {
        (0, rest) => rest.to_string(),
        (above, rest) => format!("{above},{rest:03}"),
    };
    for says in [
        format!("at most {MAX_REFUSALS} faults"),
        format!("{} points", thousands(MAX_POINTS)),
        format!("{MAX_STAGES} stages; {} readings", thousands(MAX_READINGS)),
        format!("{} MB", MAX_BYTES / 1024 / 1024),
    ] {
        assert!(DOCUMENT.contains(&says), "{says}");
    }
    assert_eq!(MAX_ENTRIES, MAX_POINTS);
    assert_eq!(crate::job::rules::MAX_LENGTH_MM, 50_000.0);
    assert_eq!(crate::job::rules::MAX_SPREAD_MM, 1_000.0);
    assert_eq!(crate::tools::MOST_SLOPE_MM_PER_M, 5.0);
    // The faults that the document quotes are worded as the code words them.
    let mut file: Value = serde_json::from_str(block("json")).unwrap();
    file["readings"][0]["value_mm"] = (-3.5).into();
    file["points"]["tower-R"]["mirror"] = Value::Null;
    for refusal in parse(&file.to_string()).unwrap_err() {
        assert!(DOCUMENT.contains(&refusal.says), "{refusal}");
    }
}
