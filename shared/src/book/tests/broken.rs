//! Broken documents: what is wrong is said, what can be kept is kept, and the job holds together.

mod sheet;

use automerge::transaction::{Transactable, Transaction};
use automerge::{Automerge, ObjId, ObjType, ROOT, ReadDoc, ScalarValue};

use super::super::*;
use super::{actor, job, reading, stamp};
use crate::finding::{FindingCode, Severity};
use crate::ids::{MemberId, PointId, ReadingId, ToolId};
use crate::job::{Member, Plumb, Sheet, Taken, Tool, ToolKind};

/// A book with one of everything.
fn whole() -> Automerge {
    let mut job = job();
    let member = |carried_by: &[&str]| Member {
        carried_by: carried_by
            .iter()
            .map(|id| MemberId::parse(id).unwrap())
            .collect(),
        ..Member::default()
    };
    job.members
        .insert(MemberId::parse("cell").unwrap(), member(&[]));
    job.members
        .insert(MemberId::parse("rail").unwrap(), member(&["cell"]));
    job.members
        .insert(MemberId::parse("tower").unwrap(), member(&["rail", "cell"]));
    let tape = Tool {
        kind: ToolKind::Tape,
        label: String::new(),
        sigma_mm: 1.0,
        per_m_mm: 0.2,
        level_check: None,
        plumb_check: None,
    };
    job.tools.insert(ToolId::parse("tape-1").unwrap(), tape);
    job.sheet = Some(Sheet {
        name: "own".to_owned(),
        revision: 3,
        digest: String::new(),
        spread_mm: 0.5,
        points: job
            .points
            .keys()
            .map(|id| (id.clone(), [1.0, 2.0, 3.0]))
            .collect(),
        spreads: job
            .points
            .keys()
            .map(|id| (id.clone(), [0.25; 3]))
            .collect(),
        tolerances: job.points.keys().map(|id| (id.clone(), 2.5)).collect(),
    });
    job.readings[0].tool = ToolId::parse("tape-1").ok();
    job.readings[0].sigma_mm = Some(0.7);
    job.readings.push(reading("r3", 95.5));
    import(&job, actor(1), &stamp("i")).unwrap()
}

/// The object at a path.
fn at(tx: &Transaction<'_>, path: &str) -> ObjId {
    path.split('/')
        .fold(ROOT, |id, key| tx.get(id, key).unwrap().unwrap().1)
}

fn put(tx: &mut Transaction<'_>, path: &str, value: impl Into<ScalarValue>) {
    let (map, key) = path.rsplit_once('/').unwrap();
    let map = at(tx, map);
    tx.put(map, key, value).unwrap();
}

/// Does harm to a book, reads it, compares what is said; the job that comes out is a job file.
#[track_caller]
fn check(
    harm: impl FnOnce(&mut Transaction<'_>),
    says: &[(FindingCode, Severity, &str, &str)],
) -> Job {
    let mut doc = whole();
    let (_, none) = read(&doc);
    assert_eq!(none, Vec::new());
    let mut tx = doc.transaction();
    harm(&mut tx);
    tx.commit();
    let (job, findings) = read(&doc);
    let said: Vec<_> = findings
        .iter()
        .map(|f| (f.code, f.severity, f.subject.as_str(), f.values.join(" ")))
        .collect();
    let said: Vec<_> = said
        .iter()
        .map(|(c, v, s, values)| (*c, *v, *s, values.as_str()))
        .collect();
    assert_eq!(said, says);
    assert_eq!(
        crate::jobfile::parse(&crate::jobfile::write(&job)),
        Ok(job.clone())
    );
    job
}

use FindingCode::{
    Circular, CorrectedTwice, Dangling, KeyDiffers, Mismatch, NotABook, OutOfBounds, Unreadable,
};
use Severity::{Ask, Left, Note};

#[test]
fn a_tool_that_is_not_there() {
    let job = check(
        |tx| put(tx, "readings/r1/tool", "tape-9"),
        &[(Dangling, Ask, "readings/r1/tool", "tape-9")],
    );
    assert_eq!((job.readings.len(), &job.readings[0].tool), (3, &None));
    let job = check(
        |tx| put(tx, "setups/s1/tool", "laser-9"),
        &[(Dangling, Ask, "setups/s1/tool", "laser-9")],
    );
    assert_eq!(job.setups[0].tool, None);
}

#[test]
fn a_spread_that_is_none() {
    for (value, shown) in [(0.0, "0"), (-0.7, "-0.7"), (1e6, "1000000")] {
        let job = check(
            |tx| put(tx, "readings/r1/sigma_mm", value),
            &[(OutOfBounds, Ask, "readings/r1/sigma_mm", shown)],
        );
        assert_eq!((job.readings.len(), job.readings[0].sigma_mm), (3, None));
        let job = check(
            |tx| put(tx, "points/notch/place_sigma_mm", value),
            &[(OutOfBounds, Ask, "points/notch/place_sigma_mm", shown)],
        );
        assert_eq!(
            (job.points.len(), job.points["notch"].place_sigma_mm),
            (3, None)
        );
        let job = check(
            |tx| put(tx, "settings/build_spread_mm", value),
            &[(OutOfBounds, Ask, "settings/build_spread_mm", shown)],
        );
        assert_eq!(job.settings, crate::job::Settings::default());
        let job = check(
            |tx| put(tx, "sheet/spread_mm", value),
            &[(OutOfBounds, Left, "sheet/spread_mm", shown)],
        );
        assert_eq!(job.sheet, None);
    }
    for (value, shown) in [
        (f64::NAN, "NaN"),
        (f64::INFINITY, "inf"),
        (f64::NEG_INFINITY, "-inf"),
    ] {
        let job = check(
            |tx| put(tx, "readings/r1/sigma_mm", value),
            &[(OutOfBounds, Ask, "readings/r1/sigma_mm", shown)],
        );
        assert_eq!((job.readings.len(), job.readings[0].sigma_mm), (3, None));
    }
    let job = check(
        |tx| put(tx, "tools/tape-1/sigma_mm", -1.0),
        &[
            (OutOfBounds, Left, "tools/tape-1/sigma_mm", "-1"),
            (Dangling, Ask, "readings/r1/tool", "tape-1"),
        ],
    );
    assert_eq!((job.tools.len(), job.readings.len()), (0, 3));
}

#[test]
fn a_correction_that_corrects_nothing() {
    for (id, code) in [("r99", Dangling), ("r3", Mismatch), ("r1", Mismatch)] {
        let job = check(
            |tx| put(tx, "readings/r1/replaces", id),
            &[(code, Ask, "readings/r1/replaces", id)],
        );
        assert_eq!((job.readings.len(), &job.readings[0].replaces), (3, &None));
    }
    // The one in force first: r3 corrects a reading that cannot be used.
    check(
        |tx| {
            put(tx, "readings/r1/stage", "pull-9");
            put(tx, "readings/r3/replaces", "r1");
        },
        &[
            (Dangling, Left, "readings/r1/stage", "pull-9"),
            (Dangling, Ask, "readings/r3/replaces", "r1"),
        ],
    );
    let job = check(
        |tx| {
            put(tx, "readings/r2/replaces", "r1");
            put(tx, "readings/r3/replaces", "r1");
            let asides = at(tx, "asides");
            tx.delete(asides, "i-r2").unwrap();
        },
        &[(CorrectedTwice, Ask, "readings/r1", "r2 r3")],
    );
    assert_eq!(job.counting_readings().count(), 2);
}

#[test]
fn a_key_that_differs_from_the_identifier_inside() {
    let job = check(
        |tx| put(tx, "readings/r1/id", "r3"),
        &[(KeyDiffers, Ask, "readings/r1/id", "r3")],
    );
    assert_eq!(job.readings[0].id, ReadingId::parse("r1").unwrap());
    let job = check(
        |tx| put(tx, "stages/as-received/id", "final"),
        &[(KeyDiffers, Ask, "stages/as-received/id", "final")],
    );
    assert_eq!(
        (job.stages[0].id.as_str(), job.readings.len()),
        ("as-received", 3)
    );
    let job = check(
        |tx| {
            let points = at(tx, "points");
            let copy = tx.put_object(&points, "a b", ObjType::Map).unwrap();
            tx.put(&copy, "label", "").unwrap();
            tx.put(&copy, "side", "centre").unwrap();
            tx.put(&copy, "trusted", false).unwrap();
            let place = tx.put_object(&copy, "place_mm", ObjType::List).unwrap();
            for axis in 0..3 {
                tx.insert(&place, axis, 1).unwrap();
            }
        },
        &[(Unreadable, Left, "points/a b", "a b")],
    );
    assert_eq!(job.points.len(), 3);
}

#[test]
fn numbers_and_times_that_are_none() {
    let job = check(
        |tx| put(tx, "readings/r1/taken/value_mm", -96.0),
        &[(OutOfBounds, Left, "readings/r1/value_mm", "-96")],
    );
    assert_eq!(job.readings.len(), 2);
    let job = check(
        |tx| put(tx, "readings/r1/taken/value_mm", f64::NAN),
        &[
            (OutOfBounds, Ask, "readings/r1/taken/value_mm", "NaN"),
            (Unreadable, Left, "readings/r1", "missing field `value_mm`"),
        ],
    );
    assert_eq!(job.readings.len(), 2);
    let job = check(
        |tx| put(tx, "readings/r1/at", "this morning"),
        &[(Unreadable, Ask, "readings/r1/at", "this morning")],
    );
    assert_eq!((job.readings.len(), job.readings[0].at.as_str()), (3, ""));
    let job = check(
        |tx| put(tx, "asides/i-r2/why", "  "),
        &[(Unreadable, Ask, "readings/r2/set_aside/why", "")],
    );
    assert_eq!(job.counting_readings().count(), 3);
    check(
        |tx| put(tx, "settings/conformity", 95.0),
        &[(OutOfBounds, Ask, "settings/conformity", "95")],
    );
}

#[test]
fn a_check_at_no_time_is_still_a_check() {
    let job = check(
        |tx| {
            let tool = at(tx, "tools/tape-1");
            let made = tx.put_object(&tool, "level_check", ObjType::Map).unwrap();
            tx.put(&made, "mm_per_m", 0.1).unwrap();
            tx.put(&made, "sigma_mm_per_m", 0.05).unwrap();
            tx.put(&made, "at", "last week").unwrap();
        },
        &[(Unreadable, Ask, "tools/tape-1/level_check/at", "last week")],
    );
    let made = job.tools[0].level_check.as_ref().unwrap();
    assert_eq!((made.mm_per_m, made.at.as_str()), (0.1, ""));
}

#[test]
fn members_in_a_circle_and_beams_without_a_name() {
    let job = check(
        |tx| {
            let carriers = at(tx, "members/cell");
            let list = tx
                .put_object(carriers, "carried_by", ObjType::List)
                .unwrap();
            tx.insert(&list, 0, "tower").unwrap();
            tx.insert(&list, 1, "nobody").unwrap();
        },
        &[
            (Dangling, Ask, "members/cell/carried_by/1", "nobody"),
            (
                Circular,
                Ask,
                "members/rail/carried_by/0",
                "\"cell\" → \"tower\" → \"rail\" → \"cell\"",
            ),
            (
                Circular,
                Ask,
                "members/tower/carried_by/1",
                "\"cell\" → \"tower\" → \"cell\"",
            ),
        ],
    );
    assert_eq!(job.members["rail"].carried_by, []);
    assert_eq!(job.members["cell"].carried_by.len(), 1);
    let job = check(
        |tx| {
            let taken = at(tx, "readings/r1/taken");
            tx.put(&taken, "kind", "offset").unwrap();
            tx.put(&taken, "side", "rear").unwrap();
        },
        &[(Mismatch, Ask, "setups/s1/plumb", "s1")],
    );
    assert_eq!(job.setups[0].plumb, Some(Plumb::Crosswise));
    assert!(matches!(job.readings[0].taken, Taken::Offset { .. }));
    check(
        |tx| {
            let taken = at(tx, "readings/r1/taken");
            tx.put(&taken, "kind", "offset").unwrap();
            tx.put(&taken, "side", "rear").unwrap();
            put(tx, "setups/s1/plumb", "lengthwise");
        },
        &[(Mismatch, Left, "readings/r1/side", "s1")],
    );
}

#[test]
fn a_root_that_is_something_else() {
    let job = check(
        |tx| tx.put(ROOT, "tools", "all of them").unwrap(),
        &[
            (Unreadable, Left, "tools", "all of them"),
            (Dangling, Ask, "readings/r1/tool", "tape-1"),
        ],
    );
    assert_eq!(job.readings.len(), 3);
    check(
        |tx| drop(tx.put_object(ROOT, "notes", ObjType::List).unwrap()),
        &[],
    );
    check(
        |tx| tx.delete(ROOT, "schema").unwrap(),
        &[(NotABook, Left, "schema", "")],
    );
}

#[test]
fn what_a_newer_program_writes_is_passed_over_and_kept() {
    let mut doc = whole();
    let sound = read(&doc).0;
    let mut tx = doc.transaction();
    tx.put(ROOT, "schema", SCHEMA + 1).unwrap();
    tx.put_object(ROOT, "sketches", ObjType::Map).unwrap();
    for record in [
        "job",
        "settings",
        "points/notch",
        "tools/tape-1",
        "setups/s1",
        "stages/as-received",
        "readings/r1",
        "readings/r1/taken",
        "sheet",
        "members/cell",
        "asides/i-r2",
    ] {
        let map = at(&tx, record);
        tx.put(&map, "weather", "rain").unwrap();
        let nested = tx.put_object(&map, "further", ObjType::Map).unwrap();
        tx.put(&nested, "x", 1).unwrap();
    }
    tx.commit();
    let (job, findings) = read(&doc);
    assert_eq!(job, sound);
    assert_eq!(findings.len(), 1);
    assert_eq!(findings[0].code, FindingCode::NewerSchema);

    // Edits here leave alone what they do not know.
    let id = PointId::parse("notch").unwrap();
    let label = "cowl notch".to_owned();
    edit::apply(
        &mut doc,
        &stamp("a"),
        &Intention::RenamePoint {
            id: id.clone(),
            label,
        },
    )
    .unwrap();
    let mut tool = sound.tools[0].clone();
    tool.sigma_mm = 0.5;
    let tape = sound.tools.get_index(0).unwrap().0.clone();
    edit::apply(
        &mut doc,
        &stamp("b"),
        &Intention::AddTool { id: tape, tool },
    )
    .unwrap();
    let doc = Automerge::load(&doc.save()).unwrap();
    for (map, record) in [("points", "notch"), ("tools", "tape-1")] {
        let map = doc.get(ROOT, map).unwrap().unwrap().1;
        let record = doc.get(map, record).unwrap().unwrap().1;
        let kept = doc.get(&record, "weather").unwrap().unwrap().0;
        assert_eq!(kept.into_string().unwrap(), "rain");
        assert!(doc.get(&record, "further").unwrap().is_some());
    }
    assert!(doc.get(ROOT, "sketches").unwrap().is_some());
}
