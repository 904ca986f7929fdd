//! Any job is written and read again as it was; any harm done to a file ends in words.

use proptest::prelude::*;
use proptest::sample::Index;
use serde_json::Value;

use super::super::*;
use crate::job::any::{any_job, any_number, config};

/// Harm to bytes: cut, repeated, overwritten.
#[derive(Debug, Clone)]
enum Harm {
    Cut(Index, usize),
    Repeat(Index, usize),
    Overwrite(Index, u8),
    Insert(Index, &'static str),
}

fn harm() -> impl Strategy<Value = Harm> {
    let pieces = vec![
        "{", "}", "[", "]", ",", ":", "\"", "null", "-", "1e999", "\\u0000", "\u{feff}", "{\"a\":",
        "0",
    ];
    prop_oneof![
        (any::<Index>(), 1..200_usize).prop_map(|(at, length)| Harm::Cut(at, length)),
        (any::<Index>(), 1..200_usize).prop_map(|(at, length)| Harm::Repeat(at, length)),
        (any::<Index>(), any::<u8>()).prop_map(|(at, byte)| Harm::Overwrite(at, byte)),
        (any::<Index>(), prop::sample::select(pieces))
            .prop_map(|(at, piece)| Harm::Insert(at, piece)),
    ]
}

fn do_harm(bytes: &mut Vec<u8>, harm: Harm) {
    let length = bytes.len();
    if length == 0 {
        return;
    }
    match harm {
        Harm::Cut(at, many) => {
            let from = at.index(length);
            bytes.drain(from..(from + many).min(length));
        }
        Harm::Repeat(at, many) => {
            let from = at.index(length);
            let piece = bytes[from..(from + many).min(length)].to_vec();
            bytes.splice(from..from, piece);
        }
        Harm::Overwrite(at, byte) => bytes[at.index(length)] = byte,
        Harm::Insert(at, piece) => {
            let from = at.index(length);
            bytes.splice(from..from, piece.bytes());
        }
    }
}

/// Another value, or none, in place of one that is somewhere in the file.
fn stranger() -> impl Strategy<Value = Option<Value>> {
    prop_oneof![
        1 => Just(None),
        1 => Just(Some(Value::Null)),
        1 => any::<bool>().prop_map(|flag| Some(flag.into())),
        2 => any_number().prop_map(|number| Some(number.into())),
        1 => any::<i64>().prop_map(|number| Some(number.into())),
        2 => prop::sample::select(vec!["", "r0", "left", "pull", "span", "cell", "\u{202e}"]).prop_map(|text| Some(text.into())),
        1 => Just(Some(Value::Array(Vec::new()))),
        1 => Just(Some(Value::Object(serde_json::Map::new()))),
    ]
}

/// How many values stand in one.
fn count(value: &Value) -> usize {
    match value {
        Value::Array(items) => items.iter().map(|item| 1 + count(item)).sum(),
        Value::Object(fields) => fields.values().map(|field| 1 + count(field)).sum(),
        _ => 0,
    }
}

/// Replaces the value that comes after so many others, or takes it out.
fn replace(value: &mut Value, skip: &mut usize, by: &Option<Value>) -> bool {
    let here = |skip: &mut usize| {
        let here = *skip == 0;
        *skip = skip.wrapping_sub(1);
        here
    };
    match value {
        Value::Array(items) => {
            for index in 0..items.len() {
                if here(skip) {
                    match by {
                        Some(by) => items[index] = by.clone(),
                        None => drop(items.remove(index)),
                    }
                    return true;
                }
                if replace(&mut items[index], skip, by) {
                    return true;
                }
            }
        }
        Value::Object(fields) => {
            let keys: Vec<String> = fields.keys().cloned().collect();
            for key in keys {
                if here(skip) {
                    match by {
                        Some(by) => fields.insert(key, by.clone()),
                        None => fields.shift_remove(&key),
                    };
                    return true;
                }
                if replace(&mut fields[&key], skip, by) {
                    return true;
                }
            }
        }
        _ => {}
    }
    false
}

/// A job or words: what was read is written and read again, what was refused says so in short lines.
fn holds(bytes: &[u8]) -> Result<bool, TestCaseError> {
    match parse_bytes(bytes) {
        Ok(job) => {
            prop_assert_eq!(parse(&write(&job)), Ok(job));
            Ok(true)
        }
        Err(refusals) => {
            prop_assert!(!refusals.is_empty() && refusals.len() <= MAX_REFUSALS);
            for refusal in refusals {
                let line = refusal.to_string();
                prop_assert!(!refusal.says.is_empty() && !line.contains('\n'), "{}", line);
            }
            Ok(false)
        }
    }
}

proptest! {
    #![proptest_config(config(256))]

    #[test]
    fn any_job_is_written_and_read_again_as_it_was(job in any_job()) {
        let text = write(&job);
        let again = parse(&text).map_err(|refusals| TestCaseError::fail(format!("{refusals:?}\n{text}")))?;
        prop_assert_eq!(&again, &job);
        prop_assert_eq!(write(&again), text);
    }

    #[test]
    fn harmed_bytes_end_in_words(job in any_job(), harms in prop::collection::vec(harm(), 1..4)) {
        let mut bytes = write(&job).into_bytes();
        for harm in harms {
            do_harm(&mut bytes, harm);
        }
        holds(&bytes)?;
    }

    #[test]
    fn strange_values_end_in_words(job in any_job(), at in any::<Index>(), by in stranger()) {
        let mut file: Value = serde_json::from_str(&write(&job)).unwrap();
        let mut skip = at.index(count(&file));
        prop_assert!(replace(&mut file, &mut skip, &by));
        holds(file.to_string().as_bytes())?;
    }
}

#[test]
fn any_job_may_hold_any_kind_of_reading() {
    use proptest::strategy::ValueTree as _;
    use proptest::test_runner::TestRunner;

    let mut runner = TestRunner::new(config(1));
    let mut kinds = std::collections::BTreeSet::new();
    let (mut corrections, mut pairs, mut sheets) = (0, 0, 0);
    for _ in 0..200 {
        let job = any_job().new_tree(&mut runner).unwrap().current();
        kinds.extend(job.readings.iter().map(|r| r.taken.kind()));
        corrections += job.readings.iter().filter(|r| r.replaces.is_some()).count();
        pairs += job.points.values().filter(|p| p.mirror.is_some()).count();
        sheets += usize::from(job.sheet.is_some());
    }
    assert_eq!(kinds.len(), 6, "{kinds:?}");
    assert!(corrections > 20 && pairs > 20 && sheets > 20);
}
