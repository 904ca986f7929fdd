//! Files: read, written without loss, refused with a place and a remedy.

use serde_json::{Value, json};

use super::*;
use crate::job::Taken;

fn example() -> Value {
    json!({
        "format": "baybook-job/1",
        "job": {"number": "4117", "vehicle": "five-door hatch, invented", "vin": null, "impact": {"zone": "front-left", "direction_deg": 200}},
        "tolerance_mm": 3.0,
        "points": {
            "tower-L": {"label": "strut tower, rear bolt", "side": "left", "mirror": "tower-R", "place": [-60, -545, 840], "member": "left-tower"},
            "tower-R": {"label": "strut tower, rear bolt", "side": "right", "mirror": "tower-L", "place": [-60, 545, 840]},
            "notch": {"label": "cowl notch", "side": "centre", "place": [400, 0, 900], "place_sigma_mm": 50, "trusted": true, "member": "cell"}
        },
        "members": {"cell": {}, "left-tower": {"carried_by": ["cell"]}},
        "sheet": {"name": "own", "revision": 3, "spread_mm": 0.5, "points": {"tower-L": [-61.0, -545.2, 838.7]}},
        "tools": {"tape-1": {"kind": "tape", "sigma_mm": 1.0, "per_m_mm": 0.2}},
        "setups": {"s1": {"label": "front of bay", "plumb": "lengthwise"}, "x1": {"plumb": "crosswise"}},
        "stages": [{"id": "as-received", "label": "as received"}, {"id": "pull-1", "label": "pull 1, released", "of": "pull", "load": "released"}],
        "readings": [
            {"id": "r1", "stage": "as-received", "kind": "height", "setup": "s1", "point": "tower-L", "beam": "above", "value_mm": 96.0, "sigma_mm": 0.7},
            {"id": "r2", "stage": "as-received", "kind": "offset", "setup": "s1", "point": "tower-L", "side": "left", "value_mm": 541.5},
            {"id": "r3", "stage": "as-received", "kind": "split", "setup": "s1", "from": "tower-L", "to": "tower-R", "value_mm": 545.0},
            {"id": "r4", "stage": "as-received", "kind": "span", "from": "tower-L", "to": "notch", "value_mm": 717.0, "tool": "tape-1", "origin_mm": 100},
            {"id": "r5", "stage": "pull-1", "kind": "datum_span", "from": "tower-L", "to": "tower-R", "value_mm": 1090.5},
            {"id": "r6", "stage": "pull-1", "kind": "fix", "frame": "arm", "point": "notch", "xyz_mm": [1502.1, -219.8, 91.0]},
            {"id": "r7", "stage": "as-received", "kind": "height", "setup": "s1", "point": "tower-L", "beam": "above", "value_mm": 91.0,
             "by": "Ana", "at": "2026-03-02T09:14:00Z", "entered": "91 mm", "note": "n", "set_aside": {"why": "tape slipped", "by": "Ana"}, "replaces": "r1"}
        ]
    })
}

#[test]
fn a_job_is_read_and_written_without_loss() {
    let job = parse(&example().to_string()).unwrap();
    assert_eq!(job.readings.len(), 7);
    assert!(matches!(job.readings[5].taken, Taken::Fix { .. }));
    assert_eq!(parse(&write(&job)).unwrap(), job);
    assert!(!write(&job).contains("spreads") && !write(&job).contains("tolerances"));
}

/// A sheet may say more of single points; a file that says no more is written as it always was.
#[test]
fn a_sheet_has_spreads_and_tolerances_of_single_points() {
    let mut file = example();
    file["sheet"]["spreads"] = json!({"tower-L": [0.2, 0.3, 0.4]});
    file["sheet"]["tolerances"] = json!({"tower-L": 2.5});
    let job = parse(&file.to_string()).unwrap();
    let (sheet, tower) = (
        job.sheet.as_ref().unwrap(),
        &job.points.keys().next().unwrap(),
    );
    assert_eq!(sheet.spread_of(tower), [0.2, 0.3, 0.4]);
    assert_eq!(job.tolerance_of(&[tower]), 2.5);
    assert_eq!(parse(&write(&job)).unwrap(), job);
}

/// A file with one value changed or added is refused at a place, in words.
fn check(pointer: &str, value: Value, place: &str, says: &str) {
    let mut file = example();
    match file.pointer_mut(pointer) {
        Some(slot) => *slot = value,
        None => {
            let (parent, key) = pointer.rsplit_once('/').unwrap();
            file.pointer_mut(parent).unwrap()[key] = value;
        }
    }
    refused(&file.to_string(), place, says);
}

fn refused(text: &str, place: &str, says: &str) {
    let refusals = parse(text).unwrap_err();
    let all: Vec<String> = refusals.iter().map(ToString::to_string).collect();
    assert!(
        refusals
            .iter()
            .any(|r| r.place == place && r.says.contains(says)),
        "{place}: {says}\nis not in\n{}",
        all.join("\n")
    );
}

#[test]
fn each_fault_names_its_place_and_what_would_be_right() {
    check(
        "/format",
        json!("baybook-job/9"),
        "format",
        "write \"baybook-job/1\"",
    );
    check("/colour", json!(1), "colour", "unknown field `colour`");
    check(
        "/readings/0/value",
        json!(1),
        "readings[0].value",
        "unknown field `value`",
    );
    check(
        "/readings/0/value_mm",
        json!("ninety"),
        "readings[0].value_mm",
        "a text stands here; a number belongs here, as 412.5",
    );
    check(
        "/readings/0/value_mm",
        json!(60_000),
        "readings[0].value_mm",
        "between -50000 and 50000",
    );
    check(
        "/readings/0/value_mm",
        Value::Null,
        "readings[0].value_mm",
        "a height needs setup, point, beam, value_mm",
    );
    check(
        "/readings/0/side",
        json!("left"),
        "readings[0].side",
        "a height has no side",
    );
    check(
        "/readings/0/kind",
        json!("depth"),
        "readings[0].kind",
        "unknown variant",
    );
    check(
        "/readings/0/stage",
        json!("pull-9"),
        "readings[0].stage",
        "no stage \"pull-9\"",
    );
    check(
        "/readings/0/point",
        json!("nose"),
        "readings[0].point",
        "no point \"nose\"",
    );
    check(
        "/readings/0/setup",
        json!("s9"),
        "readings[0].setup",
        "no set-up \"s9\"",
    );
    check(
        "/readings/0/sigma_mm",
        json!(0),
        "readings[0].sigma_mm",
        "above 0",
    );
    check(
        "/readings/1/side",
        json!("rear"),
        "readings[1].side",
        "right or left",
    );
    check(
        "/readings/3/to",
        json!("tower-L"),
        "readings[3].to",
        "two different points",
    );
    check(
        "/readings/3/tool",
        json!("tape-9"),
        "readings[3].tool",
        "no tool",
    );
    check(
        "/readings/6/replaces",
        json!("r7"),
        "readings[6].replaces",
        "must stand before",
    );
    check(
        "/readings/6/replaces",
        json!("r99"),
        "readings[6].replaces",
        "there is no reading \"r99\"",
    );
    check(
        "/readings/6/id",
        json!("r1"),
        "readings[6].id",
        "stands twice",
    );
    check(
        "/points/tower-L/mirror",
        json!("notch"),
        "points[\"tower-L\"].mirror",
        "a pair names each other",
    );
    check(
        "/points/tower-R/side",
        json!("left"),
        "points[\"tower-L\"].mirror",
        "one left and one right",
    );
    check(
        "/points/notch/place/1",
        json!(1e9),
        "points.notch.place[1]",
        "between",
    );
    check(
        "/points/notch/member",
        json!("wing"),
        "points.notch.member",
        "no member",
    );
    check(
        "/members/cell/carried_by",
        json!(["cell"]),
        "members.cell.carried_by[0]",
        "cannot carry itself",
    );
    check(
        "/sheet/points/nose",
        json!([0, 0, 0]),
        "sheet.points.nose",
        "no point",
    );
    check("/conformity", json!(1.5), "conformity", "0.5 to below 1");
    check(
        "/stages/1/id",
        json!("as-received"),
        "stages[1].id",
        "stands twice",
    );
    check(
        "/setups/s1/plumb",
        Value::Null,
        "readings[1].setup",
        "has no plumb beam",
    );
}

#[test]
fn what_is_no_job_at_all_is_refused_once() {
    for text in [
        "",
        " \n\t",
        "\u{feff}",
        "[]",
        "null",
        "{",
        "{\"format\": \"baybook-job/1\"}",
        "\u{0}",
        "{} {}",
    ] {
        assert_eq!(parse(text).unwrap_err().len(), 1, "{text}");
    }
    let twice = format!("{}{}", example(), example());
    assert!(parse(&twice).unwrap_err()[0].says.contains("after the job"));
}

#[test]
fn too_much_is_refused_before_it_is_worked_on() {
    let mut file = example();
    let one = file["readings"][0].clone();
    file["readings"] = Value::Array(vec![one; MAX_READINGS + 1]);
    assert_eq!(parse(&file.to_string()).unwrap_err()[0].place, "readings");
}

#[test]
fn the_kept_schemas_are_those_of_the_code() {
    for (name, schema) in [("job-file", schema()), ("job-result", result_schema())] {
        let path = format!("{}/../docs/{name}.schema.json", env!("CARGO_MANIFEST_DIR"));
        let kept = std::fs::read_to_string(&path).unwrap_or_default();
        let now = format!("{}\n", serde_json::to_string_pretty(&schema).unwrap());
        assert!(
            kept == now,
            "docs/{name}.schema.json is old; write it with `baybook schema`"
        );
    }
}

#[test]
fn every_number_comes_back_to_the_last_bit() {
    // A linear congruential generator (Knuth's MMIX constants) makes the same numbers every time.
    let mut state = 1_u64;
    let mut job = parse(&example().to_string()).unwrap();
    for _ in 0..2_000 {
        let mut number = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state as f64 / u64::MAX as f64 - 0.5) * 1e5
        };
        let place = [number(), number(), number()];
        job.points[0].place_mm = place;
        let again = parse(&write(&job)).unwrap();
        assert_eq!(
            again.points[0].place_mm.map(f64::to_bits),
            place.map(f64::to_bits),
            "{place:?}"
        );
    }
}

#[test]
fn members_are_not_carried_in_a_circle() {
    let mut file = example();
    file["members"] = json!({"cell": {"carried_by": ["left-tower"]}, "rail": {"carried_by": ["cell"]}, "left-tower": {"carried_by": ["rail", "cell"]}});
    refused(
        &file.to_string(),
        "members.rail.carried_by[0]",
        "a circle: \"cell\" → \"left-tower\" → \"rail\" → \"cell\"",
    );
}

#[test]
fn a_correction_is_of_an_earlier_reading_of_the_same_stage_and_kind() {
    check(
        "/readings/6/replaces",
        json!("r2"),
        "readings[6].replaces",
        "\"r2\" is read as offset; a correction is of the same kind: set \"r2\" aside",
    );
    check(
        "/readings/4/replaces",
        json!("r4"),
        "readings[4].replaces",
        "belongs to the stage \"as-received\"",
    );
    check(
        "/readings/0/replaces",
        json!("r7"),
        "readings[0].replaces",
        "must stand before",
    );
    check(
        "/readings/6/set_aside/why",
        json!(" "),
        "readings[6].set_aside.why",
        "say why",
    );
    // Two phones may correct the same reading: both stay, and the findings name it.
    let mut file = example();
    let mut other = file["readings"][6].clone();
    other["id"] = json!("r8");
    other["set_aside"] = Value::Null;
    file["readings"].as_array_mut().unwrap().push(other);
    let mut job = parse(&file.to_string()).unwrap();
    assert_eq!(job.corrected_twice().count(), 0);
    job.readings[6].set_aside = None;
    let twice: Vec<_> = job.corrected_twice().collect();
    assert_eq!(twice[0].0.id.as_str(), "r1");
    assert_eq!(twice[0].1.len(), 2);
}

#[test]
fn a_time_is_one_of_rfc_3339() {
    check(
        "/tools/tape-1/level_check",
        json!({"mm_per_m": 0.1, "sigma_mm_per_m": 0.05, "at": "last week"}),
        "tools[\"tape-1\"].level_check.at",
        "\"last week\" is no time",
    );
    let place = "readings[6].at";
    check(
        "/readings/6/at",
        json!("Monday, 9:14"),
        place,
        "\"Monday, 9:14\" is no time; write it as 2026-03-02T09:14:00Z",
    );
    check(
        "/readings/6/at",
        json!("2026-02-30T09:14:00Z"),
        place,
        "is no time",
    );
    for good in ["", "2026-03-02T10:14:00.25+01:00"] {
        let mut file = example();
        file["readings"][6]["at"] = json!(good);
        assert_eq!(parse(&file.to_string()).unwrap().readings[6].at, good);
    }
}

mod document;
mod properties;
mod shape;
mod bytes;
