//! Notes and checkpoints against the published note of the reference implementation.

use crate::proof::checkpoint::{Checkpoint, CheckpointError};
use crate::proof::note::{Note, NoteError, NoteKey};
use crate::proof::tree::{Frontier, leaf_hash};
use crate::proof::{Digest, Seed};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

/// golang.org/x/mod, `sumdb/note/note_test.go` (BSD-3-Clause): key, secret half, text, note.
const KEY: &str = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW";
const SECRET: &str = "AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz";
const TEXT: &str = "If you think cryptography is the answer to your problem,\nthen you don't know what your problem is.\n";
const LINE: &str = "— PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=\n";

fn published_seed() -> Seed {
    let typed = STANDARD.decode(SECRET).unwrap();
    Seed::new(typed[1..].try_into().unwrap())
}

#[test]
fn writes_the_published_note() {
    let note = Note::sign(TEXT, "PeterNeumann", &published_seed()).unwrap();
    assert_eq!(note.to_string(), format!("{TEXT}\n{LINE}"));
    let key: NoteKey = KEY.parse().unwrap();
    assert_eq!(key.to_string(), KEY);
    assert_eq!(
        key,
        NoteKey::new("PeterNeumann", published_seed().public()).unwrap()
    );
    let read = Note::parse(&format!("{TEXT}\n{LINE}")).unwrap();
    assert_eq!(read.verify(&key), Ok(TEXT));
}

#[test]
fn other_keys_are_passed_over_and_a_broken_signature_is_not() {
    let key: NoteKey = KEY.parse().unwrap();
    let other = Note::sign(TEXT, "Somebody", &Seed::new(&[3; 32]))
        .unwrap()
        .to_string();
    let line = &other[TEXT.len() + 1..];
    let both = Note::parse(&format!("{TEXT}\n{line}{LINE}")).unwrap();
    assert_eq!(both.verify(&key), Ok(TEXT));
    let alone = Note::parse(&other).unwrap();
    assert_eq!(alone.verify(&key), Err(NoteError::Unsigned(KEY.into())));
    let broken = LINE.replace("nAM=", "nQM=");
    for lines in [
        broken.clone(),
        format!("{LINE}{broken}"),
        format!("{broken}{LINE}"),
    ] {
        let note = Note::parse(&format!("{TEXT}\n{lines}")).unwrap();
        assert_eq!(note.verify(&key), Err(NoteError::Broken(KEY.into())));
    }
    let changed = Note::parse(&format!(
        "{}\n{LINE}",
        TEXT.replace("problem is", "trouble is")
    ));
    assert!(changed.unwrap().verify(&key).is_err());
}

#[test]
fn what_is_no_note_is_refused() {
    for text in [
        "",
        "\n\n",
        TEXT,
        &format!("{TEXT}\n"),
        &format!("{TEXT}{LINE}"),
        &format!("\n\n{LINE}"),
        &format!("a\tb\n\n{LINE}"),
        &format!("{TEXT}\n{}", LINE.trim_end()),
        &format!("{TEXT}\n{}", LINE.replace('—', "-")),
        &format!("{TEXT}\n{}", LINE.replace("nAM=", "nAM")),
        &format!("{TEXT}\n{LINE}and more\n"),
        &format!("{TEXT}\n{}", LINE.repeat(101)),
    ] {
        assert!(Note::parse(text).is_err(), "{text:?}");
    }
    for key in [
        "",
        "PeterNeumann",
        "Peter Neumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW",
        "PeterNeumann+c74f20a4+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW",
        "PeterNeumann+C74F20A3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW",
        "PeterNeumann+c74f20a3+AhpC2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW",
        "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TWAA==",
    ] {
        assert!(key.parse::<NoteKey>().is_err(), "{key}");
    }
    let seed = Seed::new(&[3; 32]);
    assert_eq!(Note::sign("no newline", "a", &seed), Err(NoteError::Text));
    assert_eq!(Note::sign(TEXT, "a+b", &seed), Err(NoteError::Name));
}

fn checkpoint() -> Checkpoint {
    let mut tree = Frontier::default();
    [b"a", b"b", b"c"]
        .iter()
        .for_each(|entry| tree.push(&leaf_hash(*entry)));
    Checkpoint::of("baybook/01SHOP", tree.head())
}

#[test]
fn a_checkpoint_has_the_three_lines_of_c2sp() {
    let seed = Seed::new(&[5; 32]);
    let key = NoteKey::new("baybook/01SHOP", seed.public()).unwrap();
    let text = checkpoint().sign(&seed).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines[..2], ["baybook/01SHOP", "3"]);
    assert_eq!(lines[2], STANDARD.encode(checkpoint().root.0));
    assert_eq!(lines[3], "");
    assert!(lines[4].starts_with("— baybook/01SHOP ") && lines.len() == 5);
    assert_eq!(Checkpoint::open(&text, &key), Ok(checkpoint()));
    let another = NoteKey::new("baybook/01SHOP", Seed::new(&[6; 32]).public()).unwrap();
    assert!(Checkpoint::open(&text, &another).is_err());
}

/// The example of C2SP tlog-checkpoint reads, whatever its signature is worth.
#[test]
fn checkpoints_written_oddly_are_refused_although_they_are_signed() {
    let seed = Seed::new(&[5; 32]);
    let origin = "example.com/behind-the-sofa";
    let key = NoteKey::new(origin, seed.public()).unwrap();
    let open = |text: &str| {
        let note = Note::sign(text, origin, &seed).unwrap().to_string();
        Checkpoint::open(&note, &key)
    };
    let root = "CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=";
    let good = open(&format!("{origin}\n20852163\n{root}\n")).unwrap();
    assert_eq!(good.size, 20_852_163);
    assert_eq!(STANDARD.encode(good.root.0), root);
    for text in [
        format!("{origin}\n020852163\n{root}\n"),
        format!("{origin}\n+20852163\n{root}\n"),
        format!("{origin}\n-1\n{root}\n"),
        format!("{origin}\n1\n{}\n", &root[..40]),
        format!("{origin}\n1\n{root}\nextension\n"),
        format!("another.example/log\n1\n{root}\n"),
        format!("{origin}\n1\n"),
    ] {
        assert_eq!(open(&text), Err(CheckpointError::Form), "{text}");
    }
}

#[test]
fn an_empty_log_has_a_head_too() {
    let seed = Seed::new(&[5; 32]);
    let key = NoteKey::new("log", seed.public()).unwrap();
    let empty = Checkpoint::of("log", Frontier::default().head());
    assert_eq!(empty.root, Digest::of(b""));
    let text = empty.sign(&seed).unwrap();
    assert_eq!(Checkpoint::open(&text, &key), Ok(empty));
}
