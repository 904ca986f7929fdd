//! Practice cars: every seed is a fair one, and the comparison is honest.

use super::*;
use crate::ids::ReadingId;
use crate::job::{Beam, Reading};
use crate::solve::solve;

const SEEDS: std::ops::Range<u64> = 0..60;

fn car(seed: u64) -> (Practice, Job) {
    let practice = Practice::of(seed);
    let job = practice.job(Card::default(), "as received", Language::default());
    (practice, job)
}

/// Somebody who reads every pair by height, split and span, from both set-ups where it helps, and the
/// diagonals to the next pair.
fn read_all(practice: &Practice, job: &mut Job, hasty: bool) {
    let lefts: Vec<(PointId, PointId)> = job
        .points
        .iter()
        .filter(|(_, point)| point.side == Side::Left)
        .filter_map(|(id, point)| Some((id.clone(), point.mirror.clone()?)))
        .collect();
    let (first, second) = (setup_id("first"), setup_id("second"));
    let height = |setup: &SetupId, point: &PointId| Taken::Height {
        setup: setup.clone(),
        point: point.clone(),
        beam: Beam::Above,
        value_mm: 0.0,
    };
    let span = |from: &PointId, to: &PointId| Taken::Span {
        from: from.clone(),
        to: to.clone(),
        value_mm: 0.0,
    };
    let mut asked = Vec::new();
    for (index, (left, right)) in lefts.iter().enumerate() {
        for setup in [&first, &second] {
            asked.extend([height(setup, left), height(setup, right)]);
        }
        asked.push(Taken::Split {
            setup: first.clone(),
            from: left.clone(),
            to: right.clone(),
            value_mm: 0.0,
        });
        asked.push(span(left, right));
        for (other_left, other_right) in lefts.iter().skip(index + 1).take(2) {
            asked.extend([span(left, other_right), span(right, other_left)]);
            asked.extend([span(left, other_left), span(right, other_right)]);
        }
    }
    for taken in asked {
        let number = job.readings.len();
        let shown = practice.show(&taken, number as u64).unwrap();
        let taken = match (shown.misread_mm, shown.taken) {
            (Some(value), Taken::Span { from, to, .. }) if hasty => Taken::Span {
                from,
                to,
                value_mm: value,
            },
            (_, taken) => taken,
        };
        job.readings.push(Reading {
            id: ReadingId::parse(&format!("r{number}")).unwrap(),
            stage: job.stages[0].id.clone(),
            taken,
            sigma_mm: None,
            tool: None,
            origin_mm: 0.0,
            by: String::new(),
            at: String::new(),
            entered: String::new(),
            note: String::new(),
            set_aside: None,
            replaces: None,
        });
    }
}

#[test]
fn every_seed_is_a_job_that_holds_together_and_the_same_each_time() {
    for seed in SEEDS {
        let (practice, job) = car(seed);
        assert_eq!(practice, Practice::of(seed));
        crate::jobfile::parse(&crate::jobfile::write(&job)).unwrap();
        let trusted = job.points.values().filter(|point| point.trusted).count();
        assert!(trusted >= 6, "{seed}: {trusted} trusted points");
        assert!(job.members.contains_key(&practice.struck));
        if let Some((id, _)) = &practice.bent {
            assert!(job.points[id].trusted);
        }
    }
    assert_ne!(car(1).1.points, car(2).1.points);
}

#[test]
fn trusted_points_stand_where_a_sound_body_has_them_but_for_the_bent_one() {
    for seed in SEEDS {
        let (practice, job) = car(seed);
        for (id, point) in job.points.iter().filter(|(_, p)| p.trusted) {
            let (own, other) = (
                practice.place(id),
                practice.place(point.mirror.as_ref().unwrap()),
            );
            let (own, other) = (own.unwrap(), other.unwrap());
            let bent = practice.bent.as_ref().map(|(id, _)| id);
            if bent == Some(id) || bent == point.mirror.as_ref() {
                assert!((own[2] - other[2]).abs() > 2.0, "{seed} {id}");
                continue;
            }
            for apart in [own[0] - other[0], own[1] + other[1], own[2] - other[2]] {
                assert!(apart.abs() < 4.0, "{seed} {id}: {apart}");
            }
        }
    }
}

#[test]
fn there_is_always_something_out_and_a_diligent_reader_finds_it_with_honest_spreads() {
    let (mut judged, mut within, mut named, mut alarms, mut out) = (0, 0, 0, 0, 0);
    for seed in SEEDS {
        let (practice, mut job) = car(seed);
        read_all(&practice, &mut job, false);
        let found = compare(&practice, &job, &solve(&job));
        assert_eq!((found.slips, found.slips_counting), (0, 0), "{seed}");
        let count = |outcome| found.pairs.iter().filter(|p| p.outcome == outcome).count();
        assert!(
            count(Outcome::Found) >= 1,
            "{seed}: {:?}",
            practice.moved_mm
        );
        out += count(Outcome::Found);
        if practice.bent.is_none() {
            judged += found.judged;
            within += found.within_twice;
            alarms += count(Outcome::FalseAlarm);
        }
        named += usize::from(found.cause.as_ref() == Some(&practice.struck));
    }
    let share = within as f64 / judged as f64;
    let told = format!(
        "{out} found out; {within} of {judged} within twice their spread, {alarms} false alarms, {named} of 60 causes named"
    );
    assert!(
        out > 4 * 60 && share > 0.93 && alarms * 100 < judged && named > 40,
        "{told}"
    );
}

#[test]
fn misreads_come_now_and_then_and_are_counted() {
    let mut slips = 0;
    for seed in 0..12 {
        let (practice, mut job) = car(seed);
        read_all(&practice, &mut job, true);
        let found = compare(&practice, &job, &solve(&job));
        assert_eq!(found.slips, found.slips_counting);
        slips += found.slips;
        // Set aside, it counts no more and is still told.
        let first = job.readings.iter().position(|reading| {
            let ideal = practice.ideal(&reading.taken).unwrap();
            (value_of(&ideal) - value_of(&reading.taken)).abs() > SLIP_MM
        });
        if let Some(first) = first {
            job.readings[first].set_aside = Some(crate::job::SetAside {
                why: "misread".into(),
                by: String::new(),
            });
            let after = compare(&practice, &job, &solve(&job));
            assert_eq!(after.slips, found.slips);
            assert_eq!(after.slips_counting, found.slips_counting - 1);
        }
    }
    assert!(slips > 12, "{slips} misreads in twelve cars");
}

#[test]
fn nothing_read_is_nothing_found_and_what_is_out_stays_open() {
    let (practice, job) = car(7);
    let found = compare(&practice, &job, &solve(&job));
    assert_eq!(found.readings, 0);
    assert!(found.spread_mm.is_none() && found.cause.is_none());
    assert!(found.pairs.iter().any(|pair| pair.outcome == Outcome::Open));
    assert!(
        found
            .pairs
            .iter()
            .all(|pair| pair.outcome != Outcome::Found)
    );
}

#[test]
fn the_tape_reads_only_this_car() {
    let (practice, _) = car(7);
    let stranger = Taken::Span {
        from: PointId::parse("nowhere-L").unwrap(),
        to: PointId::parse("nowhere-R").unwrap(),
        value_mm: 0.0,
    };
    assert_eq!(practice.show(&stranger, 0), None);
}
