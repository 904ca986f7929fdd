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
fn a_key_stands_once_in_its_object() {
    let check = |from: &str, to: &str, place: &str| {
        let text = example().to_string();
        assert!(text.contains(from), "{from}");
        refused(
            &text.replacen(from, to, 1),
            place,
            "stands twice in the same object; keep one",
        );
    };
    check(
        "\"tolerance_mm\":3.0",
        "\"tolerance_mm\":3.0,\"tolerance_mm\":5.0",
        "tolerance_mm",
    );
    check(
        "\"number\":\"4117\"",
        "\"number\":\"4117\",\"number\":\"4117\"",
        "job.number",
    );
    check(
        "\"origin_mm\":100",
        "\"origin_mm\":100,\"origin_mm\":0",
        "readings[3].origin_mm",
    );
    check(
        "\"points\":{",
        "\"points\":{\"notch\":{\"side\":\"left\",\"place\":[0,0,0]},",
        "points.notch",
    );
    // The same name in another spelling of JSON.
    check(
        "\"tools\":{",
        "\"tools\":{\"tape\\u002d1\":{\"kind\":\"tape\",\"sigma_mm\":1},",
        "tools[\"tape-1\"]",
    );
    check(
        "\"tower-L\":[-61.0,",
        "\"tower-L\":[0,0,0],\"tower-L\":[-61.0,",
        "sheet.points[\"tower-L\"]",
    );
    check("\"members\":{", "\"members\":{\"cell\":{},", "members.cell");
    check("\"setups\":{", "\"setups\":{\"x1\":{},", "setups.x1");
}

#[test]
fn everything_is_what_belongs_there() {
    check(
        "/job",
        json!(["4117", "hatch"]),
        "job",
        "a list stands here; an object { … } belongs here",
    );
    check(
        "/job/impact",
        json!(["front", 200]),
        "job.impact",
        "an object { … }",
    );
    check(
        "/points",
        json!([]),
        "points",
        "a list stands here; an object { … }",
    );
    check(
        "/points/notch",
        json!(["notch", "centre"]),
        "points.notch",
        "an object { … }",
    );
    check(
        "/points/notch/place",
        json!({"x": 1}),
        "points.notch.place",
        "an object stands here; a list [ … ]",
    );
    check(
        "/points/notch/place",
        json!([1, 2]),
        "points.notch.place",
        "length 3",
    );
    check(
        "/points/notch/place",
        json!([1, 2, 3, 4]),
        "points.notch.place",
        "may hold 3",
    );
    check(
        "/points/notch/place/0",
        json!("1"),
        "points.notch.place[0]",
        "a text stands here; a number",
    );
    check(
        "/points/notch/place/0",
        json!([[[1]]]),
        "points.notch.place[0]",
        "a list stands here; a number",
    );
    check(
        "/points/notch/trusted",
        json!(1),
        "points.notch.trusted",
        "a number stands here; true or false",
    );
    check(
        "/points/notch/label",
        json!(true),
        "points.notch.label",
        "true or false stands here; a text",
    );
    check(
        "/points/notch/label",
        Value::Null,
        "points.notch.label",
        "nothing (null) stands here; a text",
    );
    check(
        "/members/cell",
        json!([]),
        "members.cell",
        "an object { … }",
    );
    check(
        "/members/cell/carried_by",
        json!("cell"),
        "members.cell.carried_by",
        "a list [ … ]",
    );
    check(
        "/tools/tape-1",
        json!(["tape", "", 1]),
        "tools[\"tape-1\"]",
        "an object { … }",
    );
    check(
        "/stages",
        json!({"as-received": {}}),
        "stages",
        "an object stands here; a list [ … ]",
    );
    check(
        "/stages/0",
        json!(["as-received"]),
        "stages[0]",
        "an object { … }",
    );
    check(
        "/readings",
        json!({"r1": {}}),
        "readings",
        "an object stands here; a list [ … ]",
    );
    check(
        "/readings/0",
        json!(["r1", "as-received"]),
        "readings[0]",
        "an object { … }",
    );
    check(
        "/readings/6/set_aside",
        json!(["slipped", "Ana"]),
        "readings[6].set_aside",
        "an object { … }",
    );
    check(
        "/readings/6/set_aside",
        json!("slipped"),
        "readings[6].set_aside",
        "an object { … }",
    );
    check(
        "/sheet/revision",
        json!(1.5),
        "sheet.revision",
        "a whole number from 0",
    );
    check(
        "/sheet/revision",
        json!(-1),
        "sheet.revision",
        "a whole number from 0",
    );
    // The place in the text, for a file that is too long to look through.
    let says =
        parse("{\"format\": \"baybook-job/1\",\n \"points\": []}").unwrap_err()[0].to_string();
    assert!(says.contains("(line 2, column "), "{says}");
}

#[test]
fn what_no_tape_can_read_is_refused() {
    let height = |value: Value, says: &str| {
        check("/readings/0/value_mm", value, "readings[0].value_mm", says)
    };
    height(
        json!(-3.5),
        "-3.5 cannot be read off a scale or tape; write 0 or more; when the beam is on the other side of the point, change beam",
    );
    height(
        json!(1e300),
        "1e300 is no length here; write millimetres between -50000 and 50000",
    );
    height(json!(50_000.1), "between -50000 and 50000");
    check(
        "/readings/1/value_mm",
        json!(-1),
        "readings[1].value_mm",
        "change side",
    );
    check(
        "/readings/2/value_mm",
        json!(-1),
        "readings[2].value_mm",
        "write 0 or more",
    );
    check(
        "/readings/0/origin_mm",
        json!(100),
        "readings[0].value_mm",
        "96 is less than origin_mm, 100",
    );
    check(
        "/readings/3/value_mm",
        json!(0),
        "readings[3].value_mm",
        "is no span: the distance of two points is above 0",
    );
    check(
        "/readings/3/value_mm",
        json!(-717),
        "readings[3].value_mm",
        "-817 is no span",
    );
    check(
        "/readings/3/value_mm",
        json!(100),
        "readings[3].value_mm",
        "0 is no span",
    );
    check(
        "/readings/4/value_mm",
        json!(0),
        "readings[4].value_mm",
        "is no datum_span",
    );
    check(
        "/readings/5/xyz_mm/2",
        json!(-50_001),
        "readings[5].xyz_mm[2]",
        "no length",
    );
    check(
        "/readings/5/origin_mm",
        json!(100),
        "readings[5].origin_mm",
        "a fix has no origin_mm",
    );
    check(
        "/readings/3/origin_mm",
        json!(-50_001),
        "readings[3].origin_mm",
        "no length",
    );
    check(
        "/readings/0/sigma_mm",
        json!(-0.7),
        "readings[0].sigma_mm",
        "above 0, at most 1000",
    );
    check(
        "/readings/0/sigma_mm",
        json!(1_000.5),
        "readings[0].sigma_mm",
        "at most 1000",
    );
    check(
        "/tools/tape-1/sigma_mm",
        json!(-1),
        "tools[\"tape-1\"].sigma_mm",
        "0 to 1000",
    );
    check(
        "/tools/tape-1/per_m_mm",
        json!(1e9),
        "tools[\"tape-1\"].per_m_mm",
        "1e9 is no spread per metre",
    );
    check("/tolerance_mm", json!(0), "tolerance_mm", "above 0");
    check("/build_spread_mm", json!(-1), "build_spread_mm", "above 0");
    check("/sheet/spread_mm", json!(0), "sheet.spread_mm", "above 0");
    check(
        "/points/notch/place_sigma_mm",
        json!(0),
        "points.notch.place_sigma_mm",
        "above 0, at most 50000",
    );
    check(
        "/job/impact/direction_deg",
        json!(3_600),
        "job.impact.direction_deg",
        "between -360 and 360",
    );
    for (number, says) in [
        ("NaN", "not JSON"),
        ("Infinity", "not JSON"),
        ("-Infinity", "not JSON"),
        ("1e999", "out of range"),
    ] {
        let text = example().to_string().replacen(
            "\"value_mm\":96.0",
            &format!("\"value_mm\":{number}"),
            1,
        );
        refused(&text, "readings[0].value_mm", says);
    }
    // A beam that touches the point.
    let mut touches = example();
    touches["readings"][0]["value_mm"] = json!(0);
    parse(&touches.to_string()).unwrap();
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

#[test]
fn bytes_are_utf_8_or_named_for_what_they_are() {
    let text = example().to_string();
    let job = parse(&text).unwrap();
    assert_eq!(parse_bytes(text.as_bytes()).unwrap(), job);
    assert_eq!(
        parse_bytes(format!("\u{feff}{text}").as_bytes()).unwrap(),
        job
    );

    let refused = |bytes: &[u8], says: &str| {
        let refusals = parse_bytes(bytes).unwrap_err();
        assert_eq!(refusals.len(), 1);
        assert!(refusals[0].says.contains(says), "{}", refusals[0]);
    };
    let little = |mark: &str| -> Vec<u8> {
        let units = format!("{mark}{text}");
        units.encode_utf16().flat_map(u16::to_le_bytes).collect()
    };
    let big = |mark: &str| -> Vec<u8> {
        let units = format!("{mark}{text}");
        units.encode_utf16().flat_map(u16::to_be_bytes).collect()
    };
    for mark in ["", "\u{feff}"] {
        refused(&little(mark), "the text is UTF-16");
        refused(&big(mark), "the text is UTF-16");
    }
    let wide: Vec<u8> = text
        .chars()
        .flat_map(|c| u32::from(c).to_le_bytes())
        .collect();
    refused(&wide, "the text is UTF-32");
    refused(b"", "nothing is in it; a job file begins with");
    refused(b" \n", "nothing is in it");
    refused(b"\xef\xbb\xbf", "nothing is in it");
    // Latin-1: the byte after `Karosserie: L`.
    refused(
        b"{\n \"job\": \"L\xe4ngs\"",
        "the byte 0xe4 at line 2, column 11 (byte 12) is not UTF-8",
    );
    refused(b"{\"a\xe2\x82", "line 1, column 4 (byte 3)");
}

#[test]
fn whatever_its_size_a_text_ends_in_one_clear_refusal() {
    let refused = |text: &str, place: &str, says: &str| {
        let refusals = parse(text).unwrap_err();
        assert_eq!(refusals.len(), 1);
        assert_eq!(refusals[0].place, place, "{}", refusals[0]);
        assert!(refusals[0].says.contains(says), "{}", refusals[0]);
        assert!(refusals[0].to_string().len() < 2_000);
    };
    // Fifty megabytes, a million readings.
    let mut file = example();
    file["readings"] = json!([]);
    let one = r#"{"id": "r1", "stage": "as-received", "kind": "height"}"#;
    let many = format!("[{}", one).to_owned() + &format!(",{one}").repeat(1_000_000) + "]";
    let text = file
        .to_string()
        .replacen("\"readings\":[]", &format!("\"readings\":{many}"), 1);
    assert!(text.len() > 50_000_000 && text.len() < MAX_BYTES);
    refused(
        &text,
        "readings",
        "too many stand here; a file may hold 50000",
    );
    drop((text, many));

    let points =
        (0..=MAX_POINTS).map(|n| format!("\"p{n}\":{{\"side\":\"left\",\"place\":[0,0,0]}}"));
    let points: Vec<String> = points.collect();
    let mut few = example();
    few["points"] = json!({});
    let text = few.to_string().replacen(
        "\"points\":{}",
        &format!("\"points\":{{{}}}", points.join(",")),
        1,
    );
    refused(&text, "points", "a file may hold 2000");

    let deep = "[".repeat(10_000_000);
    refused(
        &deep,
        "",
        "a list stands here; an object { … } belongs here",
    );
    refused(
        &format!("{{\"points\":{deep}"),
        "points",
        "a list stands here",
    );
    refused(
        &format!("{{\"stages\":{deep}"),
        "stages[0]",
        "a list stands here; an object",
    );
    refused(
        &format!(
            "{{\"colour\":{}1{}}}",
            "[".repeat(1_000_000),
            "]".repeat(1_000_000)
        ),
        "colour",
        "unknown field",
    );
    refused(&"{\"colour\":".repeat(1_000_000), "", "not JSON");
    let strange: String = (0..1_000_000).map(|n| format!("\"k{n}\":1,")).collect();
    refused(&format!("{{{strange}\"z\":1}}"), "k0", "unknown field");
    let long = "x".repeat(20_000_000);
    refused(
        &format!("{{\"{long}\":1}}"),
        &format!("[\"{}…\"]", "x".repeat(80)),
        "unknown field",
    );
    let mut wordy = example();
    wordy["format"] = json!(long);
    refused(&wordy.to_string(), "format", "is not known here");
    refused(&" ".repeat(MAX_BYTES + 1), "", "longer than 64 MB");
    assert!(
        parse_bytes(&vec![b' '; MAX_BYTES + 1]).unwrap_err()[0]
            .says
            .contains("longer than 64 MB")
    );
}

#[test]
fn what_is_said_of_a_file_does_not_steer_the_terminal() {
    let mut file = example();
    file["readings"][6]["at"] = json!("\u{1b}[2J\u{202e}\n");
    file["points"]["\u{202e}x"] =
        json!({"side": "left", "mirror": "\u{202e}y", "place": [0, 0, 0]});
    let refusals = parse(&file.to_string()).unwrap_err();
    assert_eq!(refusals.len(), 2);
    for refusal in refusals {
        let line = refusal.to_string();
        assert_eq!(crate::plain::plain(&line), line);
        assert!(line.contains("\\u{202e}"), "{line}");
    }
}

mod document;
mod properties;
