//! Comparing revisions, pinning one, and what another would change.

use super::any::hatch;
use super::cars::{design, id, job};
use crate::job::Job;
use crate::library::{Sheet, Subject, compare, digest, effect, pinned, starting};
use crate::solve::solve;
use crate::solve::tests::car::Dice;
use crate::verdict::Verdict;

#[test]
fn what_came_went_and_moved_is_told() {
    let older = hatch();
    assert_eq!(
        compare(&older, &older),
        crate::library::Comparison::default()
    );
    let mut newer = hatch();
    let gone = newer.points.shift_remove(&id("notch")).unwrap();
    newer.points.insert(id("nose"), gone);
    let tower = newer.points.get_mut(&id("tower-L")).unwrap();
    tower.target_mm[2] += 1.3;
    tower.spread_mm[0] = 0.7;
    tower.tolerance_mm = Some(2.0);
    newer.points.get_mut(&id("sill-R")).unwrap().label = "sill, rear bolt".into();
    newer
        .members
        .insert("roof".parse().unwrap(), crate::library::Member::default());
    newer.tolerance_mm = None;
    newer.body.model = "Hatch II".into();
    let told = compare(&older, &newer);
    assert_eq!(
        (told.came, told.went),
        (vec![id("nose")], vec![id("notch")])
    );
    assert_eq!(told.tolerance_mm, Some((Some(3.0), None)));
    assert_eq!(told.members, ["roof".parse().unwrap()]);
    assert!(told.body && !told.origin);
    let [tower, sill] = &told.moved[..] else {
        panic!("{:?}", told.moved)
    };
    assert_eq!(
        (tower.move_mm, tower.spread_mm),
        ([0.0, 0.0, 1.3], [0.2, 0.0, 0.0])
    );
    assert_eq!(tower.tolerance_mm, Some((None, Some(2.0))));
    assert!(!tower.words && sill.words && sill.point == id("sill-R"));
}

/// A job on a sheet of its design, with an honest hand.
fn on_sheet() -> (Job, Sheet) {
    let mut sheet = hatch();
    sheet.points = design()
        .into_iter()
        .map(|(id, target)| {
            let side = if target[1] < 0.0 {
                crate::job::Side::Left
            } else {
                crate::job::Side::Right
            };
            let mut point = super::any::point(side, None, target);
            point.spread_mm = [0.3, 0.4, 0.2];
            (id, point)
        })
        .collect();
    let mut job = job(&mut Dice::new(8), &design(), 0.3);
    job.sheet = Some(pinned(&sheet, &job).sheet);
    (job, sheet)
}

#[test]
fn a_pinned_copy_says_which_revision_it_is() {
    let (mut job, mut sheet) = on_sheet();
    job.points.shift_remove(&id("rail-L"));
    sheet.points.shift_remove(&id("rail-R"));
    let copy = pinned(&sheet, &job);
    assert_eq!(
        (&copy.unknown, &copy.loose),
        (&vec![id("rail-R")], &Vec::new())
    );
    // A length that is known to 40 mm could prove nothing.
    let mut rough = sheet.clone();
    rough.points.get_mut(&id("tower-L")).unwrap().spread_mm[0] = 40.0;
    let without = pinned(&rough, &job);
    assert_eq!(without.loose, [id("tower-L")]);
    assert_eq!(
        (without.sheet.points.len(), without.sheet.spread_mm),
        (11, 0.4)
    );
    // With a tolerance of its own that asks no more, it can.
    rough.points.get_mut(&id("tower-L")).unwrap().tolerance_mm = Some(80.0);
    let wide = pinned(&rough, &job);
    assert_eq!((wide.loose.len(), wide.sheet.spread_mm), (0, 0.4));
    assert_eq!(wide.sheet.spread_of(&id("tower-L")), [40.0, 0.4, 0.2]);
    assert_eq!(wide.sheet.spread_of(&id("tower-R")), [0.3, 0.4, 0.2]);
    assert_eq!(copy.sheet.points.len(), 12);
    assert_eq!((copy.sheet.revision, copy.sheet.spread_mm), (3, 0.4));
    assert_eq!(copy.sheet.digest, digest(&sheet).to_string());
    job.sheet = Some(copy.sheet);
    job.points[&id("rail-R")].mirror = None;
    job.readings
        .retain(|reading| !reading.taken.points().any(|point| *point == id("rail-L")));
    let again = crate::jobfile::parse(&crate::jobfile::write(&job));
    assert_eq!(again.as_ref(), Ok(&job));
}

/// A point's own tolerance before the sheet's, the sheet's before the shop's; what is the same for all
/// is said once.
#[test]
fn a_pinned_copy_has_each_point_s_spread_and_tolerance() {
    let (mut job, mut sheet) = on_sheet();
    sheet.tolerance_mm = None;
    sheet.points.get_mut(&id("tower-L")).unwrap().tolerance_mm = Some(2.0);
    let copy = pinned(&sheet, &job).sheet;
    assert_eq!(copy.tolerances.len(), 1);
    assert_eq!(copy.spreads.len(), copy.points.len());
    job.sheet = Some(copy);
    assert_eq!(job.tolerance_of(&[&id("tower-L"), &id("tower-R")]), 2.0);
    assert_eq!(
        job.tolerance_of(&[&id("tower-R")]),
        job.settings.tolerance_mm
    );
    sheet.tolerance_mm = Some(4.5);
    job.sheet = Some(pinned(&sheet, &job).sheet);
    assert_eq!(job.tolerance_of(&[&id("tower-L"), &id("tower-R")]), 2.0);
    assert_eq!(job.tolerance_of(&[&id("tower-R")]), 4.5);
    for point in sheet.points.values_mut() {
        point.spread_mm = [0.25; 3];
    }
    let copy = pinned(&sheet, &job).sheet;
    assert_eq!((copy.spread_mm, copy.spreads.len()), (0.25, 0));
}

#[test]
fn a_newer_revision_shows_what_it_would_change() {
    let (job, sheet) = on_sheet();
    assert_eq!(effect(&job, &sheet), []);
    let mut newer = sheet.clone();
    newer.revision += 1;
    newer.points.get_mut(&id("tower-L")).unwrap().target_mm[2] += 9.0;
    let effects = effect(&job, &newer);
    let first = &effects[0];
    assert_eq!(first.now.verdict, Some(Verdict::Within));
    assert_eq!(first.then.verdict, Some(Verdict::Outside));
    let height = effects
        .iter()
        .find(|e| e.subject == Subject::Point(id("tower-L"), 2))
        .unwrap();
    let by = height.then.deviation_mm.unwrap() - height.now.deviation_mm.unwrap();
    assert!(height.turns() && (by + 9.0).abs() < 0.1, "{height:?}");
    let pair = Subject::Pair(id("tower-L"), id("tower-R"), "right_higher_mm");
    assert!(
        effects
            .iter()
            .any(|effect| effect.subject == pair && effect.turns())
    );
    // The trusted points did not move, so nothing else changes.
    assert!(
        effects.iter().all(|effect| match &effect.subject {
            Subject::Point(point, _) => *point == id("tower-L"),
            Subject::Pair(left, ..) => *left == id("tower-L"),
        }),
        "{effects:?}"
    );
    // From symmetry alone to a sheet: what was not judged is.
    let bare = Job {
        sheet: None,
        ..job.clone()
    };
    let judged = effect(&bare, &sheet);
    assert!(
        judged
            .iter()
            .any(|e| e.now.verdict.is_none() && e.then.verdict == Some(Verdict::Within))
    );
    assert_eq!(solve(&job).suspects, []);
}

/// Everything that a new job of this body begins with can be written, and says what the sheet says.
#[test]
fn a_job_begins_with_a_sheet() {
    let sheet = hatch();
    let mut doc = crate::book::start().with_actor(crate::book::ActorId::from([7_u8; 16]));
    for (number, intention) in starting(&sheet).iter().enumerate() {
        let stamp = crate::book::Stamp {
            by: "Ana Lind".into(),
            at: "2026-03-01T09:00:00Z".into(),
            at_ms: 0,
            record: format!("record-{number}"),
        };
        crate::book::edit::apply(&mut doc, &stamp, intention).unwrap();
    }
    let (job, findings) = crate::book::read(&doc);
    assert_eq!(findings, []);
    assert_eq!(job.sheet, Some(pinned(&sheet, &job).sheet));
    let ids: Vec<_> = job.points.keys().collect();
    let all: Vec<_> = sheet.points.keys().collect();
    assert_eq!(ids.len(), all.len());
    for (id, point) in &sheet.points {
        let own = &job.points[id];
        assert_eq!(own.place_mm, point.target_mm, "{id}");
        assert_eq!((own.side, &own.mirror), (point.side, &point.mirror), "{id}");
        assert_eq!(own.member, point.member, "{id}");
        assert!(!own.trusted, "{id}");
    }
    assert_eq!(job.members.len(), sheet.members.len());
}
