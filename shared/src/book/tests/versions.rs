//! Every schema version that was ever released still opens: its sample was kept when it was new.
//!
//! `shared/examples/sample_book.rs` says how a sample is made.

use automerge::{Automerge, ROOT, ReadDoc};

use super::super::*;
use super::{FIRST_CHANGE, actor, reading, stamp};
use crate::finding::FindingCode;
use crate::ids::ReadingId;
use crate::job::{Load, Plumb, Side, StageKind, Taken, ToolKind, Zone};

/// The samples, oldest first.
const SAMPLES: [&[u8]; 1] = [include_bytes!("../../../samples/book-schema-1.automerge")];

fn open(schema: usize) -> Automerge {
    Automerge::load(SAMPLES[schema - 1]).unwrap()
}

#[test]
fn every_version_has_its_sample() {
    assert_eq!(SAMPLES.len(), usize::try_from(SCHEMA).unwrap());
    for schema in 1..=SAMPLES.len() {
        let doc = open(schema);
        let version = doc.get(ROOT, "schema").unwrap().unwrap().0.as_i64();
        assert_eq!(version, i64::try_from(schema).ok());
        let first = doc
            .get_changes(&[])
            .first()
            .map(|change| change.hash().to_string());
        assert_eq!(first.as_deref(), Some(FIRST_CHANGE));
    }
}

#[test]
fn what_was_entered_with_schema_1_is_all_there() {
    let doc = open(1);
    let (job, findings) = read(&doc);
    assert_eq!(findings.len(), 1, "{findings:?}");
    assert_eq!(findings[0].code, FindingCode::Conflict);
    assert_eq!(findings[0].subject, "points/notch/label");
    let mut names = findings[0].values.clone();
    names.sort();
    assert_eq!(names, ["cowl notch", "wiper notch"]);

    assert_eq!(
        (job.card.number.as_str(), job.card.vin.as_deref()),
        ("4117", Some("INVENTED"))
    );
    let impact = job.card.impact.as_ref().unwrap();
    assert_eq!(
        (impact.zone, impact.direction_deg),
        (Zone::FrontLeft, 200.0)
    );
    let rule = job.settings;
    assert_eq!(
        (rule.tolerance_mm, rule.conformity, rule.build_spread_mm),
        (2.5, 0.9, 1.5)
    );

    let ids: Vec<&str> = job.points.keys().map(|id| id.as_str()).collect();
    assert_eq!(ids, ["tower-L", "tower-R", "notch"]);
    let left = &job.points["tower-L"];
    assert_eq!(
        (left.side, left.mirror.as_ref().unwrap().as_str()),
        (Side::Left, "tower-R")
    );
    assert_eq!(left.member.as_ref().unwrap().as_str(), "left-tower");
    let notch = &job.points["notch"];
    assert_eq!(
        (notch.place_mm, notch.place_sigma_mm),
        ([400.25, 0.0, 900.0], Some(50.0))
    );
    assert!(notch.trusted && !left.trusted);
    assert_eq!(job.members["cell"].label, "passenger cell");
    assert_eq!(job.members["left-tower"].carried_by[0].as_str(), "cell");
    let sheet = job.sheet.as_ref().unwrap();
    assert_eq!(
        (sheet.name.as_str(), sheet.revision, sheet.spread_mm),
        ("own", 3, 0.5)
    );
    assert_eq!(sheet.points["tower-L"], [-61.0, -545.2, 838.7]);
    let tape = &job.tools["tape-1"];
    assert_eq!(
        (tape.kind, tape.sigma_mm, tape.per_m_mm),
        (ToolKind::Tape, 1.0, 0.2)
    );
    let setup = &job.setups["s1"];
    assert_eq!(
        (setup.plumb, setup.tool.as_ref().unwrap().as_str()),
        (Some(Plumb::Lengthwise), "tape-1")
    );
    let pull = &job.stages[1];
    assert_eq!(
        (pull.id.as_str(), pull.of, pull.load),
        ("pull-1", StageKind::Pull, Some(Load::Released))
    );

    let readings: Vec<(&str, &str)> = job
        .readings
        .iter()
        .map(|r| (r.id.as_str(), r.taken.kind()))
        .collect();
    assert_eq!(
        readings,
        [
            ("r1", "height"),
            ("r2", "offset"),
            ("r3", "split"),
            ("r4", "span"),
            ("r5", "datum_span"),
            ("r6", "fix"),
            ("r7", "height"),
            ("r8", "height")
        ]
    );
    assert_eq!(job.readings[0].sigma_mm, Some(0.7));
    assert_eq!(job.readings[3].origin_mm, 100.0);
    let fix = &job.readings[5].taken;
    assert!(
        matches!(
            fix,
            Taken::Fix {
                xyz_mm: [1502.1, -219.8, 91.0],
                ..
            }
        ),
        "{fix:?}"
    );
    // Set aside and brought back; set aside for good; corrected.
    assert_eq!(job.readings[1].set_aside, None);
    let last = &job.readings[6];
    let aside = last.set_aside.as_ref().unwrap();
    assert_eq!(
        (aside.why.as_str(), aside.by.as_str()),
        ("tape slipped", "Ben")
    );
    assert_eq!(
        (last.entered.as_str(), last.note.as_str()),
        ("91 mm", "rusty")
    );
    assert_eq!(last.at, "2026-03-02T09:14:00Z");
    assert_eq!(job.readings[7].replaces, ReadingId::parse("r1").ok());
    assert_eq!(job.counting_readings().count(), 6);

    let notes = doc.get(ROOT, "notes").unwrap().unwrap().1;
    let note = doc.get(notes, "first").unwrap().unwrap().1;
    let text = doc.get(note, "text").unwrap().unwrap().0;
    assert_eq!(text.into_string().unwrap(), "Left wheel came off the hub.");
}

#[test]
fn an_old_book_is_still_worked_in() {
    for schema in 1..=SAMPLES.len() {
        let mut doc = open(schema).with_actor(actor(9));
        let before = read(&doc).0.readings.len();
        let reading = reading("new", 95.0);
        edit::apply(&mut doc, &stamp("n"), &Intention::RecordReading { reading }).unwrap();
        let doc = Automerge::load(&doc.save()).unwrap();
        assert_eq!(read(&doc).0.readings.len(), before + 1);
        let (text, _) = export(&doc).unwrap();
        let copy = import_file(text.as_bytes(), actor(8), &stamp("c")).unwrap();
        assert_eq!(read(&copy).0, read(&doc).0);
    }
}
