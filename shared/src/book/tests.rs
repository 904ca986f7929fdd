//! Books: same first bytes everywhere, nothing lost in any order, broken parts are findings.

use automerge::transaction::Transactable;
use automerge::{ActorId, Automerge, ObjType, PatchLog, ROOT, ReadDoc};
use proptest::prelude::*;

use super::intention::{Intention, Stamp};
use super::keep::{Breach, keeps_the_record};
use super::*;
use crate::finding::FindingCode;
use crate::ids::{PointId, ReadingId, SetupId, StageId, ToolId};
use crate::job::{Beam, Card, Point, Reading, SetAside, Setup, Side, Stage, StageKind, Taken};

fn point(id: &str, side: Side, mirror: &str) -> Point {
    Point {
        label: id.to_owned(),
        side,
        mirror: PointId::parse(mirror).ok(),
        place_mm: [
            -60.0,
            if side == Side::Left { -545.5 } else { 545.5 },
            840.0,
        ],
        place_sigma_mm: None,
        trusted: false,
        member: None,
    }
}

fn reading(id: &str, value_mm: f64) -> Reading {
    Reading {
        id: ReadingId::parse(id).unwrap(),
        stage: StageId::parse("as-received").unwrap(),
        taken: Taken::Height {
            setup: SetupId::parse("s1").unwrap(),
            point: PointId::parse("tower-L").unwrap(),
            beam: Beam::Above,
            value_mm,
        },
        sigma_mm: None,
        tool: None,
        origin_mm: 0.0,
        by: "Ana".to_owned(),
        at: "2026-03-02T09:14:00Z".to_owned(),
        entered: format!("{value_mm} mm"),
        note: String::new(),
        set_aside: None,
        replaces: None,
    }
}

fn job() -> Job {
    let mut job = Job {
        card: Card {
            number: "4117".to_owned(),
            vehicle: "hatch, invented".to_owned(),
            ..Card::default()
        },
        ..Job::default()
    };
    job.points.insert(
        PointId::parse("tower-L").unwrap(),
        point("tower-L", Side::Left, "tower-R"),
    );
    job.points.insert(
        PointId::parse("tower-R").unwrap(),
        point("tower-R", Side::Right, "tower-L"),
    );
    job.points.insert(
        PointId::parse("notch").unwrap(),
        point("notch", Side::Centre, ""),
    );
    job.setups
        .insert(SetupId::parse("s1").unwrap(), Setup::default());
    job.stages.push(Stage {
        id: StageId::parse("as-received").unwrap(),
        label: "as received".to_owned(),
        of: StageKind::AsReceived,
        load: None,
    });
    job.readings.push(reading("r1", 96.0));
    job.readings.push(Reading {
        set_aside: Some(SetAside {
            why: "tape slipped".to_owned(),
            by: "Ben".to_owned(),
        }),
        ..reading("r2", 91.5)
    });
    job
}

fn stamp(record: &str) -> Stamp {
    Stamp {
        by: "Ana".to_owned(),
        at: "2026-03-02T09:15:00Z".to_owned(),
        at_ms: 1_772_442_900_000,
        record: record.to_owned(),
    }
}

fn actor(number: u8) -> ActorId {
    ActorId::from(&[number; 16][..])
}

#[test]
fn every_device_starts_a_book_with_the_same_bytes() {
    let heads: Vec<String> = start()
        .get_heads()
        .iter()
        .map(ToString::to_string)
        .collect();
    // Frozen with schema 1: another hash would keep two phones from merging what they began offline.
    assert_eq!(heads, [FIRST_CHANGE]);
}
const FIRST_CHANGE: &str = "aad7837435b2c9f3174d79d37e4accd195d5e599c325da923814e80d99bf4f85";

#[test]
fn a_job_becomes_a_book_and_comes_back() {
    let doc = import(&job(), actor(1), &stamp("i")).unwrap();
    let again = Automerge::load(&doc.save()).unwrap();
    assert_eq!(read(&again), (job(), Vec::new()));
}

#[test]
fn a_book_beyond_the_limits_of_a_file_says_so_and_a_bad_file_says_where() {
    let mut job = job();
    let stage = job.stages[0].clone();
    job.stages = (0..=crate::jobfile::MAX_STAGES)
        .map(|n| Stage {
            id: StageId::parse(&format!("s{n}")).unwrap(),
            ..stage.clone()
        })
        .collect();
    job.readings.clear();
    let doc = import(&job, actor(1), &stamp("i")).unwrap();
    let error = export(&doc).unwrap_err().to_string();
    assert!(error.contains("stages: too many stand here"), "{error}");

    let file = br#"{"format": "baybook-job/1", "points": {}, "stages": [], "readings": [], "conformity": 2}"#;
    let error = import_file(file, actor(1), &stamp("i")).unwrap_err();
    let says = error.to_string();
    assert!(says.starts_with("conformity: 2 is no level"), "{says}");
    assert!(matches!(error, ImportError::File(refusals) if refusals.len() == 1));
}

#[test]
fn a_job_is_taken_over_by_an_empty_book_and_by_no_other() {
    let mut doc = start().with_actor(actor(1));
    let whole = Intention::TakeOverJob {
        job: Box::new(job()),
    };
    edit::apply(&mut doc, &stamp("i"), &whole).unwrap();
    assert_eq!(read(&doc), (job(), Vec::new()));
    assert!(edit::apply(&mut doc, &stamp("j"), &whole).is_err());
    assert_eq!(read(&doc).0, job());
}

#[test]
fn setting_aside_and_bringing_back_leave_the_reading_as_it_was() {
    let mut doc = import(&job(), actor(1), &stamp("i")).unwrap();
    let id = ReadingId::parse("r1").unwrap();
    let aside = Intention::SetReadingAside {
        reading: id.clone(),
        why: "tape slipped".to_owned(),
    };
    edit::apply(&mut doc, &stamp("a"), &aside).unwrap();
    assert_eq!(
        read(&doc).0.readings[0].set_aside.as_ref().unwrap().why,
        "tape slipped"
    );
    let back = Intention::BringReadingBack {
        reading: id,
        why: "it had not".to_owned(),
    };
    edit::apply(&mut doc, &stamp("b"), &back).unwrap();
    assert_eq!(read(&doc).0, job());
}

#[test]
fn an_edit_that_would_break_the_book_changes_nothing() {
    let mut doc = import(&job(), actor(1), &stamp("i")).unwrap();
    let heads = doc.get_heads();
    let mut check = |intention: Intention, says: &str| {
        let error = edit::apply(&mut doc, &stamp("x"), &intention)
            .unwrap_err()
            .to_string();
        assert!(error.contains(says), "{error}");
    };
    check(
        Intention::RecordReading {
            reading: reading("r1", 1.0),
        },
        "readings/r1 is in this book already",
    );
    check(
        Intention::RecordReading {
            reading: reading("r9", f64::NAN),
        },
        "NaN is no length here",
    );
    check(
        Intention::RecordReading {
            reading: reading("r9", 60_000.0),
        },
        "60000 is no length here",
    );
    let elsewhere = Reading {
        stage: StageId::parse("pull-9").unwrap(),
        ..reading("r9", 1.0)
    };
    check(
        Intention::RecordReading { reading: elsewhere },
        "stages/pull-9 is not in this book",
    );
    let mut check_reading = |change: &dyn Fn(&mut Reading), says: &str| {
        let mut reading = reading("r9", 90.0);
        change(&mut reading);
        check(Intention::RecordReading { reading }, says);
    };
    check_reading(
        &|r| r.tool = ToolId::parse("tape-9").ok(),
        "tools/tape-9 is not in this book",
    );
    check_reading(&|r| r.sigma_mm = Some(0.0), "r9: 0 is no spread");
    check_reading(&|r| r.at = "9:14".to_owned(), "r9: \"9:14\" is no time");
    check_reading(&|r| r.origin_mm = 100.0, "r9: 90 is less than origin_mm");
    let span = |to: &str| Taken::Span {
        from: PointId::parse("tower-L").unwrap(),
        to: PointId::parse(to).unwrap(),
        value_mm: 717.0,
    };
    check_reading(&|r| r.taken = span("tower-L"), "two different points");
    check_reading(
        &|r| {
            r.taken = span("notch");
            r.replaces = ReadingId::parse("r1").ok();
        },
        "\"r1\" is read as height; a correction is of the same kind",
    );
    let settings = crate::job::Settings {
        conformity: 95.0,
        ..Default::default()
    };
    check(Intention::SetRule { settings }, "settings: 95 is no level");
    let (left, right) = (
        PointId::parse("tower-L").unwrap(),
        PointId::parse("notch").unwrap(),
    );
    check(Intention::PairPoints { left, right }, "opposite sides");
    let why = " ".to_owned();
    let first = ReadingId::parse("r1").unwrap();
    check(
        Intention::SetReadingAside {
            reading: first,
            why,
        },
        "reason",
    );
    assert_eq!(doc.get_heads(), heads);

    let stage = Stage {
        id: StageId::parse("pull-1").unwrap(),
        label: String::new(),
        of: StageKind::Pull,
        load: None,
    };
    let stage = Intention::BeginStage { stage };
    edit::apply(&mut doc, &stamp("p"), &stage).unwrap();
    let later = Reading {
        stage: StageId::parse("pull-1").unwrap(),
        replaces: ReadingId::parse("r1").ok(),
        ..reading("r9", 90.0)
    };
    let error = edit::apply(
        &mut doc,
        &stamp("x"),
        &Intention::RecordReading { reading: later },
    );
    let error = error.unwrap_err().to_string();
    assert!(
        error.contains("belongs to the stage \"as-received\""),
        "{error}"
    );
}

#[test]
fn what_is_written_once_stays_as_it_was_written() {
    let before = import(&job(), actor(1), &stamp("i")).unwrap();
    let check = |says: &str, harm: &dyn Fn(&mut automerge::transaction::Transaction<'_>)| {
        let mut after = before.fork().with_actor(actor(9));
        let mut tx = after.transaction();
        harm(&mut tx);
        tx.commit();
        assert_eq!(arrives(&before, &mut after).unwrap_err().0, says);
    };
    let readings = before.get(ROOT, "readings").unwrap().unwrap().1;
    let first = before.get(&readings, "r1").unwrap().unwrap().1;
    let taken = before.get(&first, "taken").unwrap().unwrap().1;
    check("readings/r1", &|tx| {
        tx.put(&taken, "value_mm", 99.0).unwrap()
    });
    check("readings/r1", &|tx| tx.delete(&first, "by").unwrap());
    check("readings/r1", &|tx| tx.delete(&readings, "r1").unwrap());
    check("readings/r1", &|tx| {
        drop(tx.put_object(&readings, "r1", ObjType::Map).unwrap())
    });
    check("readings", &|tx| {
        drop(tx.put_object(ROOT, "readings", ObjType::Map).unwrap())
    });
    check("readings", &|tx| tx.delete(ROOT, "readings").unwrap());

    let mut after = before.fork().with_actor(actor(2));
    edit::apply(
        &mut after,
        &stamp("a"),
        &Intention::RecordReading {
            reading: reading("r3", 95.0),
        },
    )
    .unwrap();
    arrives(&before, &mut after).unwrap();

    // Two new ones under one name, the later of them written on an older book: it would stand behind.
    let mut late = before.fork().with_actor(actor(9));
    let mut tx = late.transaction();
    tx.put_object(&readings, "r3", ObjType::Map).unwrap();
    tx.commit();
    let mut here = after.fork().with_actor(actor(2));
    for label in ["one", "two"] {
        let id = PointId::parse("tower-L").unwrap();
        let label = label.to_owned();
        let rename = Intention::RenamePoint { id, label };
        edit::apply(&mut here, &stamp("b"), &rename).unwrap();
    }
    assert_eq!(arrives(&here, &mut late).unwrap_err().0, "readings/r3");
}

/// What the rule says when the new changes of a document arrive at an older one.
fn arrives(before: &Automerge, after: &mut Automerge) -> Result<(), Breach> {
    let (mut next, mut log) = (before.clone(), PatchLog::active());
    next.merge_and_log_patches(after, &mut log).unwrap();
    let patches = next.make_patches(&mut log);
    keeps_the_record(before, &next, &patches)
}

#[test]
fn any_document_is_read_without_a_panic() {
    let (job, findings) = read(&Automerge::new());
    assert_eq!(job, Job::default());
    assert_eq!(findings[0].code, FindingCode::NotABook);

    let mut doc = import(&self::job(), actor(1), &stamp("i")).unwrap();
    let mut tx = doc.transaction();
    let points = tx.get(ROOT, "points").unwrap().unwrap().1;
    tx.put(&points, "odd", 7).unwrap();
    let left = tx.get(&points, "tower-L").unwrap().unwrap().1;
    tx.put(&left, "side", "upper").unwrap();
    tx.put(ROOT, "schema", 99).unwrap();
    tx.put_object(ROOT, "settings", ObjType::List).unwrap();
    tx.commit();
    let (job, findings) = read(&doc);
    let codes: Vec<FindingCode> = findings.iter().map(|finding| finding.code).collect();
    assert!(
        codes.contains(&FindingCode::NewerSchema) && codes.contains(&FindingCode::Unreadable),
        "{findings:?}"
    );
    // Without its left half the pair is none, and readings of it have nothing to stand on.
    assert_eq!(job.points.len(), 2);
    assert!(job.points.values().all(|point| point.mirror.is_none()));
    assert!(job.readings.is_empty());
    assert!(codes.contains(&FindingCode::Dangling));
}

mod broken;
mod properties;
mod versions;
mod merging;
mod one_name;
mod describe;
