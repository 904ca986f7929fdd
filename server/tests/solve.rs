//! `baybook solve` from outside: the real program, good files and bad ones.

use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Output, Stdio};

fn baybook(arguments: &[&str], input: &[u8]) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_baybook"))
        .args(arguments)
        .current_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join(".."))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    // A program that refuses early closes its input early.
    let _ = child
        .stdin
        .take()
        .expect("its input is ours")
        .write_all(input);
    child.wait_with_output().expect("it ends")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("it prints UTF-8")
}

#[test]
fn a_job_file_gives_a_result_that_is_of_its_form() {
    let output = baybook(&["solve", "docs/examples/demo.json"], b"");
    assert!(output.status.success(), "{}", text(&output.stderr));
    let result: shared::result::JobResult = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(result.format, "baybook-result/1");
    assert_eq!(result.stages.len(), 3);
    assert!(result.fit.converged);
}

#[test]
fn standard_input_is_a_file_like_any_other() {
    let demo = baybook(&["demo"], b"").stdout;
    let from_file = baybook(&["solve", "docs/examples/demo.json"], b"").stdout;
    assert_eq!(baybook(&["solve", "-"], &demo).stdout, from_file);
}

#[test]
fn the_findings_in_words_name_what_is_out_and_end_with_safety() {
    let output = text(&baybook(&["solve", "docs/examples/demo.json", "--text"], b"").stdout);
    for words in [
        "◆ outside front rail, front hole",
        "tape read from its 100 mm mark",
        "it does not certify a repair.",
    ] {
        assert!(output.contains(words), "'{words}' is missing in:\n{output}");
    }
}

#[test]
fn bad_input_is_refused_with_place_and_remedy_and_nothing_on_standard_output() {
    let check = |arguments: &[&str], input: &[u8], says: &str| {
        let output = baybook(arguments, input);
        let errors = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {errors}");
        assert!(output.stdout.is_empty(), "{arguments:?} printed something");
        assert!(errors.contains(says), "{arguments:?}: {errors}");
        assert!(!errors.contains("panicked"), "{errors}");
    };
    check(
        &["solve", "no-such-file.json"],
        b"",
        "no-such-file.json: cannot be read",
    );
    check(&["solve", "docs"], b"", "docs: cannot be read");
    check(&["solve", "-"], b"", "nothing is in it");
    check(&["solve", "-"], b"\xff\xfe", "UTF-16");
    check(&["solve", "-"], b"{\"format\": \"baybook-job/1\", \"points\": {}, \"stages\": [], \"readings\": [], \"colour\": 1}", "colour: unknown field");
    check(
        &["solve", "-"],
        b"{\"format\": \"x\", \"points\": {}, \"stages\": [], \"readings\": []}",
        "format: \"x\" is not known here",
    );
    check(
        &["solve", "-"],
        b"{\"format\": \"baybook-job/1\", \"points\": {}, \"stages\": [], \"readings\": [{\"id\": \"r\", \"stage\": \"s\", \"kind\": \"span\"}]}",
        "readings[0].value_mm: a span needs from, to, value_mm",
    );
    check(&["solve"], b"", "Usage");
}

#[test]
fn an_empty_job_is_a_job() {
    let file = b"{\"format\": \"baybook-job/1\", \"points\": {}, \"stages\": [], \"readings\": []}";
    let output = baybook(&["solve", "-", "--text"], file);
    assert!(output.status.success());
    assert!(text(&output.stdout).contains("Nothing has been read yet"));
}
