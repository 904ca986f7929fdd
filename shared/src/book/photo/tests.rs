//! Photos in a book: written once, hidden by a further record, broken ones said.

use automerge::transaction::{Transactable, Transaction};
use automerge::{ActorId, ObjType, PatchLog, ScalarValue};

use super::*;
use crate::book::intention::Intention;
use crate::book::keep::{Breach, keeps_the_record};
use crate::book::{edit, start};
use crate::job::{Stage, StageKind};

const DIGEST: &str = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";

fn stamp(record: &str) -> Stamp {
    Stamp {
        by: "Ana".to_owned(),
        at: "2026-03-02T09:15:00Z".to_owned(),
        at_ms: 1_772_442_900_000,
        record: record.to_owned(),
    }
}

fn photo(id: &str) -> Photo {
    Photo {
        id: PhotoId::parse(id).unwrap(),
        digest: DIGEST.to_owned(),
        media: Media::Jpeg,
        bytes: 300_000,
        width_px: 1600,
        height_px: 1200,
        stage: StageId::parse("as-received").ok(),
        point: None,
        reading: None,
        caption: "buckled apron".to_owned(),
        by: "Ana".to_owned(),
        at: "2026-03-02T09:14:00Z".to_owned(),
        struck: None,
    }
}

fn act(doc: &mut Automerge, record: &str, intention: &Intention) -> Result<(), EditError> {
    edit::apply(doc, &stamp(record), intention).map(drop)
}

fn book() -> Automerge {
    let mut doc = start().with_actor(ActorId::from(&[1; 16][..]));
    let stage = Stage {
        id: StageId::parse("as-received").unwrap(),
        label: "as received".to_owned(),
        of: StageKind::AsReceived,
        load: None,
    };
    act(&mut doc, "s", &Intention::BeginStage { stage }).unwrap();
    for id in ["p1", "p2"] {
        act(&mut doc, "-", &Intention::AddPhoto { photo: photo(id) }).unwrap();
    }
    doc
}

/// What the rule says when the changes of a document arrive at an older one.
fn arrives(before: &Automerge, after: &Automerge) -> Result<(), Breach> {
    let (mut next, mut log) = (before.clone(), PatchLog::active());
    next.merge_and_log_patches(&mut after.clone(), &mut log)
        .unwrap();
    let patches = next.make_patches(&mut log);
    keeps_the_record(before, &next, &patches)
}

/// Does something that only a hostile program does.
fn harm(doc: &Automerge, edit: impl FnOnce(&mut Transaction<'_>, &automerge::ObjId)) -> Automerge {
    let mut doc = doc.fork().with_actor(ActorId::from(&[2; 16][..]));
    let photos = doc.get(ROOT, "photos").unwrap().unwrap().1;
    let mut tx = doc.transaction();
    edit(&mut tx, &photos);
    tx.commit();
    doc
}

#[test]
fn a_photo_is_written_and_read() {
    let doc = book();
    let doc = Automerge::load(&doc.save()).unwrap();
    assert_eq!(photos(&doc), (vec![photo("p1"), photo("p2")], Vec::new()));
    let (_, findings) = crate::book::read(&doc);
    assert_eq!(findings, Vec::new());
}

#[test]
fn a_hidden_photo_keeps_its_record() {
    let before = book();
    let mut doc = before.clone();
    let strike = |why: &str| Intention::StrikePhoto {
        photo: PhotoId::parse("p1").unwrap(),
        why: why.to_owned(),
    };
    assert!(matches!(
        act(&mut doc, "k1", &strike(" ")),
        Err(EditError::NoReason)
    ));
    act(&mut doc, "k1", &strike("another car")).unwrap();
    let (all, findings) = photos(&doc);
    assert_eq!((all.len(), findings), (2, Vec::new()));
    let struck = all[0].struck.clone().unwrap();
    assert_eq!(
        (struck.why.as_str(), struck.by.as_str()),
        ("another car", "Ana")
    );
    assert_eq!(all[1].struck, None);
    assert_eq!(arrives(&before, &doc), Ok(()));
    // Hiding what hides is nothing.
    let hide = Intention::StrikePhoto {
        photo: PhotoId::parse("k1").unwrap(),
        why: "so".to_owned(),
    };
    assert!(act(&mut doc, "k2", &hide).is_err());
}

#[test]
fn refuses_what_no_photo_is() {
    let refused = |photo: Photo| {
        let mut doc = book();
        let before = doc.get_heads();
        let error = act(&mut doc, "-", &Intention::AddPhoto { photo }).unwrap_err();
        assert_eq!(doc.get_heads(), before);
        error.to_string()
    };
    let new = || photo("p3");
    let shown = refused(Photo {
        bytes: 9 << 20,
        ..new()
    });
    assert!(shown.contains("9437184 is no size"), "{shown}");
    refused(Photo { bytes: 0, ..new() });
    refused(Photo {
        width_px: 0,
        ..new()
    });
    refused(Photo {
        width_px: 16_000,
        height_px: 16_000,
        ..new()
    });
    refused(Photo {
        digest: DIGEST.to_uppercase(),
        ..new()
    });
    refused(Photo {
        digest: "../../etc/passwd".to_owned(),
        ..new()
    });
    refused(Photo {
        caption: "x".repeat(501),
        ..new()
    });
    refused(Photo {
        at: "yesterday".to_owned(),
        ..new()
    });
    refused(Photo {
        stage: StageId::parse("no-such").ok(),
        ..new()
    });
    refused(Photo {
        point: PointId::parse("no-such").ok(),
        ..new()
    });
    refused(Photo {
        reading: ReadingId::parse("no-such").ok(),
        ..new()
    });
    let again = refused(photo("p1"));
    assert!(again.contains("already"), "{again}");
}

#[test]
fn the_gate_keeps_a_photo_as_it_was_written() {
    let before = book();
    let breach = |after: &Automerge| arrives(&before, after).unwrap_err().0;
    // Another record under the same name, a field set, a field taken away, the record taken away.
    let replaced = harm(&before, |tx, photos| {
        let new = tx.put_object(photos, "p1", ObjType::Map).unwrap();
        tx.put(&new, "digest", DIGEST).unwrap();
    });
    assert_eq!(breach(&replaced), "photos/p1");
    let p1 = before.get(before.get(ROOT, "photos").unwrap().unwrap().1, "p1");
    let p1 = p1.unwrap().unwrap().1;
    for after in [
        harm(&before, |tx, _| {
            tx.put(&p1, "digest", "0".repeat(64)).unwrap()
        }),
        harm(&before, |tx, _| tx.put(&p1, "strikes", "p2").unwrap()),
        harm(&before, |tx, _| tx.delete(&p1, "caption").unwrap()),
        harm(&before, |tx, photos| tx.delete(photos, "p1").unwrap()),
    ] {
        assert_eq!(breach(&after), "photos/p1");
    }
    let shadowed = harm(&before, |tx, _| {
        tx.put_object(ROOT, "photos", ObjType::Map).unwrap();
    });
    assert_eq!(breach(&shadowed), "photos");
}

/// A field that a hostile program wrote into a new record, and what is said.
#[track_caller]
fn said(field: &str, value: impl Into<ScalarValue>) -> (usize, Vec<(FindingCode, String)>) {
    let doc = harm(&book(), |tx, photos| {
        let new = tx.put_object(photos, "p9", ObjType::Map).unwrap();
        let Json::Object(fields) = to_json(&photo("p9")) else {
            unreachable!();
        };
        for (name, value) in &fields {
            crate::book::record::put(tx, &new, name, value).unwrap();
        }
        tx.put(&new, field, value).unwrap();
    });
    let (photos, findings) = photos(&doc);
    let said = findings.into_iter().map(|f| (f.code, f.subject)).collect();
    (photos.len(), said)
}

#[test]
fn a_broken_record_is_said_and_the_others_stay() {
    use FindingCode::{Dangling, OutOfBounds, Unreadable};
    let at = |field: &str| format!("photos/p9/{field}");
    assert_eq!(
        said("bytes", i64::MAX),
        (2, vec![(OutOfBounds, at("bytes"))])
    );
    let unreadable = (2, vec![(Unreadable, "photos/p9".to_owned())]);
    assert_eq!(said("bytes", -1), unreadable);
    assert_eq!(said("media", "text/html"), unreadable);
    assert_eq!(said("strikes", 7), unreadable_strike());
    assert_eq!(said("digest", "no"), (2, vec![(OutOfBounds, at("digest"))]));
    assert_eq!(
        said("width_px", 0),
        (2, vec![(OutOfBounds, at("width_px"))])
    );
    let long = said("caption", "x".repeat(100_000));
    assert_eq!(long, (3, vec![(OutOfBounds, at("caption"))]));
    assert_eq!(said("at", "noon"), (3, vec![(Unreadable, at("at"))]));
    for field in ["stage", "point", "reading"] {
        assert_eq!(said(field, "no-such"), (3, vec![(Dangling, at(field))]));
    }
}

fn unreadable_strike() -> (usize, Vec<(FindingCode, String)>) {
    (2, vec![(FindingCode::Unreadable, "photos/p9".to_owned())])
}
