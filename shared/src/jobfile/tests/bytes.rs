//! Bytes and texts that are no job file.

use super::*;

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
