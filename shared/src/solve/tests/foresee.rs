//! What is foreseen of a reading is what the solution says afterwards.

use crate::ids::PointId;
use crate::job::{Job, Reading, Side};
use crate::result::{Judged, PairResult};
use crate::simulate::large::{large_car, repeatable_noise};
use crate::solve::Solver;

/// The pair of the first point of a reading, left first.
fn pair_of(job: &Job, reading: &Reading) -> Option<(PointId, PointId)> {
    let first = reading.taken.points().next()?.clone();
    let mirror = job.points[&first].mirror.clone()?;
    Some(match job.points[&first].side {
        Side::Right => (mirror, first),
        Side::Left | Side::Centre => (first, mirror),
    })
}

fn quantities(pair: &PairResult) -> [&Judged; 4] {
    [
        &pair.right_higher_mm,
        &pair.centre_right_mm,
        &pair.right_rearward_mm,
        &pair.width_mm,
    ]
}

/// Enters the last readings of a job one by one; returns how many quantities were foreseen and agreed,
/// and how many verdicts came with them.
fn enter_the_last(whole: &Job, count: usize) -> (usize, usize) {
    let mut job = whole.clone();
    let last = job.readings.split_off(job.readings.len() - count);
    let mut solver = Solver::default();
    solver.solve(&job);
    let (mut compared, mut judged) = (0, 0);
    for reading in last {
        let told = pair_of(&job, &reading).and_then(|(left, right)| {
            let pair = solver.foresee(&job, &reading, &left, &right)?;
            Some((left, pair))
        });
        job.readings.push(reading);
        let now = solver.answer(&job);
        let Some((left, foreseen)) = told else {
            continue;
        };
        let stage = &job.readings[job.readings.len() - 1].stage;
        let stage = now.stages.iter().find(|known| known.id == *stage).unwrap();
        let solved = stage.pairs.iter().find(|pair| pair.left == left).unwrap();
        for (a, b) in quantities(&foreseen).into_iter().zip(quantities(solved)) {
            let Some((a_mm, b_mm)) = a.value.zip(b.value) else {
                // Never more than the solution says.
                assert!(a.value.is_none(), "{left}: {a:?}, but {b:?}");
                continue;
            };
            // Half of the last shown digit, or little beside what the number does not know.
            let near = 0.05_f64.max(0.05 * b.sigma.unwrap());
            assert!((a_mm - b_mm).abs() < near, "{left}: {a_mm} and {b_mm} mm");
            let spread = a.sigma.unwrap() / b.sigma.unwrap();
            assert!((spread - 1.0).abs() < 0.05, "{left}: spread {spread}");
            assert_eq!(a.verdict, b.verdict, "{left}");
            compared += 1;
            judged += usize::from(a.verdict.is_some());
        }
    }
    (compared, judged)
}

#[test]
fn what_is_foreseen_is_what_is_solved() {
    let whole = large_car(12, 2, &mut repeatable_noise(0x0BAD_5EED_0123_4567));
    let (compared, judged) = enter_the_last(&whole, 60);
    assert!(compared > 100, "{compared} quantities");
    assert!(judged > 60, "{judged} verdicts");
}

#[test]
fn the_second_half_of_a_pair_is_answered_at_once() {
    let whole = crate::demo::job();
    let (compared, _) = enter_the_last(&whole, 30);
    assert!(compared > 20, "{compared} quantities");
}

#[test]
fn nothing_is_foreseen_of_a_correction_or_of_what_contradicts_the_rest() {
    let mut job = large_car(12, 1, &mut repeatable_noise(7));
    let reading = job.readings.pop().unwrap();
    let (left, right) = pair_of(&job, &reading).unwrap();
    let mut solver = Solver::default();
    assert_eq!(solver.foresee(&job, &reading, &left, &right), None);
    solver.solve(&job);
    assert!(solver.foresee(&job, &reading, &left, &right).is_some());
    let correction = Reading {
        replaces: Some(job.readings[0].id.clone()),
        ..reading.clone()
    };
    assert_eq!(solver.foresee(&job, &correction, &left, &right), None);
    let mut misread = reading;
    misread.origin_mm = -100.0;
    assert_eq!(solver.foresee(&job, &misread, &left, &right), None);
    misread.origin_mm = 0.0;
    misread.stage = crate::ids::StageId::parse("elsewhere").unwrap();
    assert_eq!(solver.foresee(&job, &misread, &left, &right), None);
}
