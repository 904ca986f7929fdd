//! One text per value.

use proptest::prelude::*;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use crate::proof::canonical::{CanonicalError, MAX_WHOLE, parse, write};

/// The example of RFC 8785, section 3.2.3: by UTF-16 code units, so that the face (D83D…) stands
/// before U+FB33.
#[test]
fn names_are_sorted_as_in_rfc_8785() {
    let value = json!({
        "\u{20ac}": "Euro Sign",
        "\r": "Carriage Return",
        "\u{fb33}": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\u{1f600}": "Emoji: Grinning Face",
        "\u{80}": "Control",
        "\u{f6}": "Latin Small Letter O With Diaeresis"
    });
    let text = write(&value).unwrap();
    let names = [
        "Carriage", "One", "Control", "Latin", "Euro", "Emoji", "Hebrew",
    ];
    let places = names.map(|name| text.find(name).unwrap());
    assert!(places.is_sorted(), "{text}");
}

/// The string of the example of RFC 8785, section 3.2.2.
#[test]
fn escapes_are_the_shortest() {
    let text = write(&"\u{20ac}$\u{f}\nA'B\"\\\\\"/").unwrap();
    assert_eq!(text, "\"\u{20ac}$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"");
}

#[test]
fn fractions_and_huge_numbers_are_refused_with_their_place() {
    let fraction = write(&json!({ "a": [1, { "b": 0.5 }] }));
    assert_eq!(fraction, Err(CanonicalError::Number(".a[1].b 0.5".into())));
    assert!(write(&json!(MAX_WHOLE)).is_ok() && write(&json!(-MAX_WHOLE)).is_ok());
    for huge in [
        json!(MAX_WHOLE + 1),
        json!(i64::MIN),
        json!(u64::MAX),
        json!(1.0),
    ] {
        assert!(
            matches!(write(&huge), Err(CanonicalError::Number(_))),
            "{huge}"
        );
    }
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
struct Pair {
    b: i64,
    a: Option<String>,
}

#[test]
fn only_the_one_way_is_read() {
    let pair = Pair { b: 1, a: None };
    assert_eq!(parse::<Pair>(br#"{"a":null,"b":1}"#), Ok(pair));
    for other in [
        r#"{"b":1,"a":null}"#,
        r#"{"a":null, "b":1}"#,
        r#"{"a":null,"b":1} "#,
        r#"{"b":1}"#,
        r#"{"a":null,"b":1,"c":2}"#,
        r#"{"a":"\u0041","b":1}"#,
        r#"{"a":null,"a":null,"b":1}"#,
    ] {
        let read = parse::<Pair>(other.as_bytes());
        assert!(
            matches!(read, Err(CanonicalError::OtherWay(_))),
            "{other}: {read:?}"
        );
    }
    for broken in ["", "{", r#"{"a":null,"b":1.0}"#, r#"{"a":null,"b":-0}"#] {
        let read = parse::<Pair>(broken.as_bytes());
        assert!(
            matches!(read, Err(CanonicalError::Unreadable(_))),
            "{broken}: {read:?}"
        );
    }
}

fn value() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        (-MAX_WHOLE..=MAX_WHOLE).prop_map(Value::from),
        any::<String>().prop_map(Value::from),
    ];
    leaf.prop_recursive(4, 40, 6, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
            prop::collection::btree_map(any::<String>(), inner, 0..6)
                .prop_map(|map| Value::Object(map.into_iter().collect())),
        ]
    })
}

proptest! {
    #[test]
    fn what_is_written_is_read(value in value()) {
        let text = write(&value).unwrap();
        prop_assert_eq!(&parse::<Value>(text.as_bytes()).unwrap(), &value);
    }
}
