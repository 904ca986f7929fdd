//! Every value is what belongs in its place, and no more.

use super::*;

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
        "/sheet/spreads",
        json!({"tower-L": [0.5, 0, 0.5]}),
        "sheet.spreads[\"tower-L\"][1]",
        "0 is no spread; write millimetres above 0, at most 1000",
    );
    check(
        "/sheet/spreads",
        json!({"tower-L": [0.5, 0.5]}),
        "sheet.spreads[\"tower-L\"]",
        "",
    );
    check(
        "/sheet/tolerances",
        json!({"tower-L": -2}),
        "sheet.tolerances[\"tower-L\"]",
        "above 0",
    );
    check(
        "/sheet/tolerances",
        json!({"tower-R": 2}),
        "sheet.tolerances[\"tower-R\"]",
        "there is no target \"tower-R\"",
    );
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
