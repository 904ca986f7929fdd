//! Files that somebody altered without the key.

use super::*;

/// The file with one line replaced.
fn with_line(lines: &[&str], at: usize, line: &str) -> String {
    let mut lines = lines.to_vec();
    lines[at] = line;
    lines.join("\n") + "\n"
}

/// May a fault in this line be told of an alteration in that one? A header is judged by what follows.
fn names(told: Option<usize>, altered: usize) -> bool {
    match altered {
        1 | 2 => told.is_some_and(|line| line <= 3),
        _ => told == Some(altered),
    }
}

/// Every field of every line, and every field of the texts within, altered in every way: the
/// verification fails each time and names the line.
#[test]
fn whatever_is_altered_is_found_where_it_was_altered() {
    let text = log().bundle().to_lines().unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let mut tried = 0;
    for (at, line) in lines.iter().enumerate() {
        let value: Value = serde_json::from_str(line).unwrap();
        let mut ways = altered(&value);
        // An entry or a statement is itself a text with fields.
        if let Some(Ok(inner)) = value["text"].as_str().map(serde_json::from_str::<Value>) {
            ways.extend(altered(&inner).into_iter().map(|inner| {
                let mut outer = value.clone();
                outer["text"] = Value::from(canonical::write(&inner).unwrap());
                outer
            }));
        }
        for way in ways {
            let Ok(written) = canonical::write(&way) else {
                continue;
            };
            if written == *line {
                continue;
            }
            let found = fault(&with_line(&lines, at, &written));
            let found = found.unwrap_or_else(|| panic!("line {}: {written} holds", at + 1));
            assert!(
                names(found.place.line, at + 1),
                "line {}: {written} is said to be: {found}",
                at + 1
            );
            assert!(
                !found.expected.is_empty() && found.expected != found.found,
                "{found}"
            );
            tried += 1;
        }
    }
    assert!(tried > 1_500, "{tried}");
}

/// Bytes flipped, put in and taken out all over the file.
#[test]
fn no_byte_can_be_changed() {
    let text = log().bundle().to_lines().unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let mut tried = 0;
    for (at, line) in lines.iter().enumerate() {
        let step = (line.len() / 40).max(1);
        for place in (0..line.len()).step_by(step) {
            let mut flipped = line.as_bytes().to_vec();
            flipped[place] ^= 1;
            let mut longer = line.as_bytes().to_vec();
            longer.insert(place, b' ');
            let mut shorter = line.as_bytes().to_vec();
            shorter.remove(place);
            for spoilt in [flipped, longer, shorter] {
                let Ok(spoilt) = String::from_utf8(spoilt) else {
                    continue;
                };
                let found = fault(&with_line(&lines, at, &spoilt));
                let found = found.unwrap_or_else(|| panic!("line {}: {spoilt} holds", at + 1));
                assert!(
                    names(found.place.line, at + 1),
                    "line {}: {spoilt}: {found}",
                    at + 1
                );
                tried += 1;
            }
        }
    }
    assert!(tried > 3_000, "{tried}");
}

/// Lines taken out, doubled and swapped, with and without a header that counts them rightly.
#[test]
fn no_line_can_be_taken_out_doubled_or_moved() {
    let text = log().bundle().to_lines().unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let mut tried = 0;
    for at in 0..lines.len() {
        let mut less = lines.clone();
        less.remove(at);
        let mut more = lines.clone();
        more.insert(at, lines[at]);
        let mut moved = lines.clone();
        moved.swap(at, (at + 1) % lines.len());
        for spoilt in [less, more, moved] {
            let plain = spoilt.join("\n") + "\n";
            assert!(fault(&plain).is_some(), "line {}", at + 1);
            let counted = recounted(&spoilt);
            let found = fault(&counted).unwrap_or_else(|| panic!("line {} recounted", at + 1));
            assert!(found.place.line.is_some(), "{found}");
            tried += 1;
        }
    }
    assert_eq!(tried, 3 * lines.len());
    for cut in [1, 2, text.len() / 2] {
        let end = (text.len() - cut..)
            .find(|at| text.is_char_boundary(*at))
            .unwrap();
        assert!(fault(&text[..end]).is_some(), "cut by {cut}");
    }
    assert!(fault(&format!("{text}\n")).is_some());
    assert!(fault(&format!("{text}{{}}\n")).is_some());
    assert!(fault(&text.replace('\n', "\r\n")).is_some());
}

fn recounted(lines: &[&str]) -> String {
    let count = |kind: &str| {
        let mark = format!("\"line\":\"{kind}\"");
        lines.iter().filter(|line| line.contains(&mark)).count()
    };
    let mut text = String::new();
    for line in lines {
        let mut value: Value = serde_json::from_str(line).unwrap();
        if value["line"] == "header" {
            value["leaves"] = count("leaf").into();
            value["changes"] = count("change").into();
            value["statements"] = count("statement").into();
        }
        text += &canonical::write(&value).unwrap();
        text.push('\n');
    }
    text
}
