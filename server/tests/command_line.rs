//! The `baybook` command from outside: what it writes where, and how it ends.

use std::io::{Write as _, pipe};
use std::process::{Command, Output, Stdio};

use anyhow::{Context as _, Result};

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/examples/demo.json");

fn baybook(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_baybook"));
    command.args(arguments).stdin(Stdio::null());
    command
}

/// Runs with bytes on standard input.
fn fed(arguments: &[&str], input: &[u8]) -> Result<Output> {
    let mut child = baybook(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()?;
    let mut stdin = child.stdin.take().context("no standard input")?;
    // A command that has read enough closes its end.
    let _ = stdin.write_all(input);
    drop(stdin);
    Ok(child.wait_with_output()?)
}

fn text(bytes: &[u8]) -> std::borrow::Cow<'_, str> {
    String::from_utf8_lossy(bytes)
}

#[track_caller]
fn refused(output: &Output, says: &str) {
    let errors = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{errors}");
    assert_eq!(text(&output.stdout), "");
    assert!(errors.contains(says), "{errors}");
}

#[test]
fn a_good_file_ends_in_0_and_says_nothing_on_the_side() -> Result<()> {
    for arguments in [
        &["solve", DEMO][..],
        &["solve", DEMO, "--text"],
        &["demo"],
        &["schema"],
        &["schema", "--result"],
    ] {
        let output = baybook(arguments).output()?;
        assert_eq!(output.status.code(), Some(0), "{arguments:?}");
        assert_eq!(text(&output.stderr), "");
        assert!(text(&output.stdout).ends_with('\n'));
    }
    let demo = std::fs::read(DEMO)?;
    let solved = fed(&["solve", "-"], &demo)?;
    assert_eq!(solved.stdout, baybook(&["solve", DEMO]).output()?.stdout);
    let marked = [&b"\xef\xbb\xbf"[..], &demo].concat();
    assert_eq!(fed(&["solve", "-"], &marked)?.stdout, solved.stdout);
    Ok(())
}

#[test]
fn a_bad_file_ends_in_2_with_each_fault_on_a_line_of_the_error_output() -> Result<()> {
    let demo = std::fs::read_to_string(DEMO)?;
    let bad = demo.replace("\"kind\": \"span\"", "\"kind\": \"spam\"");
    refused(
        &fed(&["solve", "-", "--text"], bad.as_bytes())?,
        "-: readings[",
    );
    let two = demo
        .replacen("\"tolerance_mm\": 3.0", "\"tolerance_mm\": -3.0", 1)
        .replacen("\"conformity\": 0.95", "\"conformity\": 95", 1);
    let output = fed(&["solve", "-"], two.as_bytes())?;
    refused(&output, "-: tolerance_mm: -3 is no spread");
    assert_eq!(text(&output.stderr).lines().count(), 2);
    refused(&fed(&["solve", "-"], b"")?, "-: nothing is in it");
    let wide: Vec<u8> = demo.encode_utf16().flat_map(u16::to_le_bytes).collect();
    refused(&fed(&["solve", "-"], &wide)?, "-: the text is UTF-16");
    refused(
        &fed(&["solve", "-"], b"{\"job\": \"L\xe4ngs\"}")?,
        "-: the byte 0xe4 at line 1, column 11",
    );
    refused(
        &baybook(&["solve", "no-such-file.json"]).output()?,
        "no-such-file.json: cannot be read",
    );
    refused(&baybook(&["solve", "."]).output()?, ".: cannot be read");
    refused(
        &baybook(&["solve", "no\u{1b}[2J.json"]).output()?,
        "no\\u{1b}[2J.json: cannot be read",
    );
    refused(&baybook(&["solve"]).output()?, "FILE");
    Ok(())
}

#[test]
fn whatever_its_size_a_file_ends_in_one_clear_refusal() -> Result<()> {
    let output = fed(&["solve", "-"], &vec![b'['; 30_000_000])?;
    refused(
        &output,
        "-: a list stands here; an object { … } belongs here",
    );
    let output = fed(&["solve", "-"], &vec![b' '; 70_000_000])?;
    refused(&output, "-: longer than 64 MB; a job is far smaller");
    let one = r#"{"id": "r1", "stage": "as-received", "kind": "height"},"#;
    let many = format!("{{\"readings\": [{}", one.repeat(1_000_000));
    refused(
        &fed(&["solve", "-", "--text"], many.as_bytes())?,
        "-: readings: too many stand here",
    );
    Ok(())
}

#[test]
fn nobody_listening_is_no_reason_to_panic() -> Result<()> {
    for arguments in [
        &["solve", DEMO][..],
        &["solve", DEMO, "--text"],
        &["demo"],
        &["schema"],
        &["--help"],
    ] {
        let (reader, writer) = pipe()?;
        drop(reader);
        let output = baybook(arguments).stdout(writer).output()?;
        assert_eq!(text(&output.stderr), "", "{arguments:?}");
        assert_eq!(output.status.code(), Some(0), "{arguments:?}");
    }
    let (reader, writer) = pipe()?;
    drop(reader);
    let status = baybook(&["solve", "no-such-file.json"])
        .stderr(writer)
        .status()?;
    assert_eq!(status.code(), Some(2));
    Ok(())
}
