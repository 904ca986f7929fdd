//! The JSON form, its rules and its digest.

use proptest::prelude::*;
use serde_json::{Value, json};

use super::any::{any_sheet, hatch};
use crate::library::{check, digest, parse, parse_bytes, write};

fn changed(pointer: &str, value: Value) -> String {
    let mut file: Value = serde_json::from_str(&write(&hatch())).unwrap();
    file.as_object_mut().unwrap().remove("digest");
    let (parent, key) = pointer.rsplit_once('/').unwrap();
    file.pointer_mut(parent).unwrap()[key] = value;
    file.to_string()
}

#[track_caller]
fn refused(pointer: &str, value: Value, place: &str, says: &str) {
    let refusals = parse(&changed(pointer, value)).unwrap_err();
    let found = refusals
        .iter()
        .any(|r| r.place == place && r.says.contains(says));
    assert!(found, "{refusals:?}");
}

#[test]
fn what_breaks_a_rule_is_named_with_its_place_and_the_remedy() {
    assert_eq!(check(&hatch()), []);
    refused("/format", json!("sheet/9"), "format", "baybook-sheet/1");
    refused("/sheet/name", json!(""), "sheet.name", "needs a name");
    refused("/sheet/name", json!("two\nlines"), "sheet.name", "one line");
    refused("/sheet/name", json!(" a"), "sheet.name", "spaces");
    refused("/sheet/name", json!("x".repeat(201)), "sheet.name", "200");
    refused("/sheet/revision", json!(0), "sheet.revision", "from 1");
    refused(
        "/sheet/revision",
        json!(-1),
        "sheet.revision",
        "whole number from 0",
    );
    refused(
        "/sheet/colour",
        json!("red"),
        "sheet.colour",
        "unknown field",
    );
    refused("/sheet/body", json!({}), "sheet.body", "VIN pattern");
    refused(
        "/sheet/body/vin",
        json!("1HGI*"),
        "sheet.body.vin",
        "in no VIN",
    );
    refused(
        "/sheet/body/years",
        json!({"from": 2024, "to": 2019}),
        "sheet.body.years",
        "first year",
    );
    refused(
        "/sheet/body/years",
        json!({"from": 24, "to": 25}),
        "sheet.body.years",
        "1900",
    );
    refused(
        "/sheet/origin/kind",
        json!("stolen"),
        "sheet.origin.kind",
        "unknown variant",
    );
    refused(
        "/sheet/origin/at",
        json!("yesterday"),
        "sheet.origin.at",
        "2026-03-02",
    );
    refused(
        "/sheet/tolerance_mm",
        json!(0),
        "sheet.tolerance_mm",
        "above 0",
    );
    refused("/sheet/points", json!({}), "sheet.points", "at least one");
    let tower = "/sheet/points/tower-L";
    let at = |field: &str| format!("{tower}/{field}");
    let place = |field: &str| format!("sheet.points[\"tower-L\"].{field}");
    refused(
        &at("target_mm"),
        json!([-61.0, -545.25, 60000]),
        &place("target_mm[2]"),
        "50000",
    );
    refused(
        &at("target_mm"),
        json!([-61.0, -545.25]),
        &place("target_mm"),
        "length 2",
    );
    refused(
        &at("target_mm"),
        json!([-161.0, -545.25, 838.7]),
        &place("target_mm[0]"),
        "100.0 mm",
    );
    refused(
        &at("spread_mm"),
        json!([0, 1, 1]),
        &place("spread_mm[0]"),
        "0.001",
    );
    refused(
        &at("mirror"),
        json!("rail-R"),
        &place("mirror"),
        "names each other",
    );
    refused(
        &at("side"),
        json!("right"),
        &place("mirror"),
        "one left and one right",
    );
    refused(&at("member"), json!("roof"), &place("member"), "no member");
    refused(
        &at("asymmetric"),
        json!(true),
        &place("asymmetric"),
        "on both",
    );
    refused(
        "/sheet/members/cell",
        json!({"carried_by": ["left-rail"]}),
        "sheet.members[\"left-rail\"].carried_by[0]",
        "circle",
    );
    let twice = write(&hatch()).replace("\"revision\": 3", "\"revision\": 3, \"revision\": 4");
    assert!(parse(&twice).unwrap_err()[0].says.contains("stands twice"));
}

#[test]
fn bytes_that_are_no_sheet_are_refused_without_harm() {
    let deep = "[".repeat(100_000);
    for bytes in [
        &b""[..],
        b"\xff\xfe1\0",
        b"{",
        b"\x80",
        deep.as_bytes(),
        b"null",
        b"{\"format\":1}",
    ] {
        assert!(!parse_bytes(bytes).unwrap_err().is_empty());
    }
    let many: String = (0..2001).map(|n| format!("\"p{n}\":{{}},")).collect();
    let many =
        format!("{{\"format\":\"baybook-sheet/1\",\"sheet\":{{\"points\":{{{many}\"q\":{{}}}}}}}}");
    assert!(parse(&many).unwrap_err()[0].says.contains("2000"));
}

#[test]
fn the_digest_is_of_everything_that_is_said() {
    // Computed by Python's hashlib over the canonical text of this sheet, written by its json module
    // (see `the_canonical_text`).
    let own = digest(&hatch());
    let mut others = vec![hatch(); 12];
    others[0].name = "hatch 2".into();
    others[1].revision += 1;
    others[2].body.maker.clear();
    others[3].body.vin = None;
    others[4].tolerance_mm = None;
    others[5].origin.by = "Ben".into();
    others[6].points[0].target_mm[0] += 1e-6;
    others[7].points[0].spread_mm[2] = 0.6;
    others[8].points[0].asymmetric = true;
    others[9].members[0].label = "cell".into();
    others[10].points.swap_indices(0, 1);
    others[11].points[0].cars = 1;
    for other in &others {
        assert_ne!(digest(other), own);
    }
    let file = write(&hatch());
    assert!(file.contains(&own.to_string()));
    let tampered = file.replace("838.7", "838.8");
    let refusals = parse(&tampered).unwrap_err();
    assert_eq!(refusals[0].place, "digest");
    assert!(refusals[0].says.contains("changed"), "{refusals:?}");
}

proptest! {
    #[test]
    fn what_is_written_is_read_back_the_same(sheet in any_sheet()) {
        prop_assert_eq!(check(&sheet), vec![]);
        let again = parse(&write(&sheet)).unwrap();
        prop_assert_eq!(digest(&again), digest(&sheet));
        prop_assert_eq!(again, sheet);
    }
}
