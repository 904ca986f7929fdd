//! Causes, pulls, movements and next readings of the demo car.

use crate::demo;
use crate::ids::ReadingId;
use crate::job::{Beam, Taken};
use crate::result::{JobResult, ModeKind, Section};
use crate::solve::{Solver, solve};

fn demo_result() -> JobResult {
    solve(&demo::job())
}

#[test]
fn the_left_rail_of_the_demo_is_found_and_carries_its_tower() {
    let result = demo_result();
    let cause = &result.stages[0].causes[0];
    assert_eq!(cause.member.as_str(), "front-rail-L");
    assert!(cause.side_from_impact);
    assert_eq!(cause.instead[0].as_str(), "front-rail-R");
    // The demo's truth at the rail's front is back 16, right 5 and up 12; less further back.
    assert!(cause.move_mm[0].unwrap() > 5.0 && cause.move_mm[2].unwrap() > 3.0);
    assert!(cause.carries.iter().any(|id| id.as_str() == "tower-rear-L"));
    assert!(
        cause.says.contains("front rail, left moved back"),
        "{}",
        cause.says
    );
    assert_eq!(
        result.stages[0].causes.len(),
        1,
        "{:#?}",
        result.stages[0].causes
    );
}

#[test]
fn the_demo_is_pulled_the_other_way_and_watched() {
    let result = demo_result();
    let (cause, pull) = (&result.stages[0].causes[0], &result.stages[0].pulls[0]);
    assert_eq!((pull.order, &pull.member), (1, &cause.member));
    for axis in 0..3 {
        assert_eq!(
            pull.move_mm[axis],
            cause.move_mm[axis]
                .filter(|_| cause.matters[axis])
                .map(|v| -v)
        );
    }
    assert!((1..=4).contains(&pull.watch.len()));
    assert_eq!(pull.overpull_mm, [None; 3], "nothing was pulled before");
}

#[test]
fn modes_say_diamond_and_twist_at_the_front() {
    let result = demo_result();
    let front: Vec<ModeKind> = result.stages[0]
        .modes
        .iter()
        .filter(|mode| mode.significant && mode.section == Section::Front)
        .map(|mode| mode.mode)
        .collect();
    assert!(front.contains(&ModeKind::Diamond) && front.contains(&ModeKind::Twist));
    assert!(
        result.stages[0]
            .modes
            .iter()
            .all(|mode| !matches!(mode.mode, ModeKind::Mash | ModeKind::Sag | ModeKind::Spread)),
        "symmetry alone cannot see these"
    );
}

#[test]
fn the_pull_is_a_real_movement_and_the_other_side_stays() {
    let result = demo_result();
    let moved = |point: &str| {
        result
            .changes
            .iter()
            .find(|change| change.to.as_str() == "pull-1-load" && change.point.as_str() == point)
            .unwrap()
    };
    let pulled = moved("rail-front-L");
    assert_eq!(pulled.real[2], Some(true));
    assert!(pulled.move_mm[2].unwrap() < -5.0);
    assert_eq!(moved("rail-front-R").real[2], Some(false));
    assert_eq!(pulled.move_mm[0], None, "no length was read under load");
    assert!(
        result
            .changes
            .iter()
            .all(|change| !change.point.as_str().starts_with("sill")),
        "a trusted point has one place for the whole job"
    );
}

#[test]
fn what_to_read_next_is_of_the_last_stage_and_says_why() {
    let job = demo::job();
    let result = solve(&job);
    assert!(!result.next.is_empty());
    for next in &result.next {
        assert_eq!(next.stage, job.stages.last().unwrap().id);
        assert!(!next.why.is_empty(), "{next:?}");
    }
    assert!(!result.next[0].settles.is_empty());
}

/// Taking the readings that were proposed settles more than taking any others would have: each
/// proposal really leaves the spread that it promised.
#[test]
fn a_reading_that_was_proposed_leaves_the_spread_it_promised() {
    let mut job = demo::job();
    let result = solve(&job);
    let next = result
        .next
        .iter()
        .find(|next| next.kind == "height" && !next.why.contains("both sides"))
        .expect("a height is proposed");
    let promised = next.sigma_after_mm.unwrap();
    let (name, quantity) = next.settles[0].rsplit_once(": ").unwrap();
    assert_eq!(quantity, "height");
    let pair_sigma = |result: &JobResult, job: &crate::job::Job| {
        let pair = result
            .stages
            .last()
            .unwrap()
            .pairs
            .iter()
            .find(|pair| job.points[&pair.left].label == name)
            .unwrap();
        pair.right_higher_mm.sigma.unwrap()
    };
    let before = pair_sigma(&result, &job);
    // The same height once more, as the solution expects it.
    let mut solver = Solver::default();
    let _ = solver.solve(&job);
    let taken = |value_mm| Taken::Height {
        setup: next.setup.clone().unwrap(),
        point: next.point.clone(),
        beam: Beam::Above,
        value_mm,
    };
    let expected = solver.expect(&job, &next.stage, &taken(0.0), None).unwrap();
    let mut reading = job.readings[0].clone();
    reading.id = ReadingId::parse("again").unwrap();
    reading.stage = next.stage.clone();
    reading.taken = taken(expected.value_mm);
    job.readings.push(reading);
    let after = pair_sigma(&solve(&job), &job);
    assert!(after < before);
    approx::assert_relative_eq!(after, promised, max_relative = 0.02);
}

#[test]
fn a_stage_without_readings_begins_with_its_references() {
    let mut job = demo::job();
    let mut stage = job.stages[0].clone();
    stage.id = crate::ids::StageId::parse("pull-2").unwrap();
    job.stages.push(stage);
    let result = solve(&job);
    assert!(
        result
            .next
            .iter()
            .all(|next| job.points[&next.point].trusted)
    );
    assert!(!result.next.is_empty());
}

#[test]
fn a_job_with_nothing_in_it_is_explained_too() {
    let result = solve(&crate::job::Job::default());
    assert!(result.next.is_empty() && result.changes.is_empty());
}
