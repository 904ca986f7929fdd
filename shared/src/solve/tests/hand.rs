//! The stage in hand: solved alone, it must say what the whole job says.

use crate::job::{Job, Taken};
use crate::result::{JobResult, StageResult};
use crate::simulate::large::{large_car, repeatable_noise};
use crate::solve::{Solver, solve};

/// A car of four stages; the last readings of one stage apart, to be entered one by one.
fn car(stage: usize, held_back: usize) -> (Job, Job) {
    let whole = large_car(12, 4, &mut repeatable_noise(0x0BAD_5EED_0123_4567));
    let id = whole.stages[stage].id.clone();
    let mut before = whole.clone();
    let mut last: Vec<usize> = (0..before.readings.len())
        .filter(|&index| before.readings[index].stage == id)
        .collect();
    last.drain(..last.len() - held_back);
    for index in last.into_iter().rev() {
        before.readings.remove(index);
    }
    (before, whole)
}

fn close(alone: &StageResult, whole: &StageResult) {
    assert_eq!(alone.points.len(), whole.points.len());
    for ((id, a), (other, b)) in alone.points.iter().zip(&whole.points) {
        assert_eq!(id, other);
        assert_eq!(a.measured, b.measured, "{id}");
        assert_eq!(a.verdict, b.verdict, "{id}");
        for axis in 0..3 {
            let off = (a.xyz_mm[axis] - b.xyz_mm[axis]).abs();
            // Second order: half of the last shown digit.
            assert!(off < 0.05, "{id} axis {axis}: {off} mm");
            let spread = a.sigma_mm[axis] / b.sigma_mm[axis];
            assert!(
                (spread - 1.0).abs() < 0.005,
                "{id} axis {axis}: spread {spread}"
            );
        }
    }
    for (a, b) in alone.pairs.iter().zip(&whole.pairs) {
        for (a, b) in [
            (&a.right_higher_mm, &b.right_higher_mm),
            (&a.centre_right_mm, &b.centre_right_mm),
            (&a.width_mm, &b.width_mm),
        ] {
            assert_eq!(a.verdict, b.verdict);
            assert_eq!(a.value.is_some(), b.value.is_some());
        }
    }
}

fn same_story(alone: &JobResult, whole: &JobResult) {
    let names = |result: &JobResult| -> Vec<String> {
        let mut all: Vec<String> = result
            .suspects
            .iter()
            .map(|s| s.reading.to_string())
            .collect();
        all.sort();
        all
    };
    assert_eq!(names(alone), names(whole));
    assert!(alone.readings.keys().eq(whole.readings.keys()));
    let fits = |result: &JobResult| result.trust.iter().map(|row| row.fits).collect::<Vec<_>>();
    assert_eq!(fits(alone), fits(whole));
}

#[test]
fn readings_entered_in_one_stage_say_what_the_whole_says() {
    for stage in [1, 3] {
        let (mut job, all) = car(stage, 6);
        let mut solver = Solver::default();
        solver.solve(&job);
        for reading in &all.readings {
            if job.readings.iter().any(|known| known.id == reading.id) {
                continue;
            }
            job.readings.push(reading.clone());
            let alone = solver.answer(&job);
            assert_eq!(solver.hand.as_ref().map(|hand| hand.stage), Some(stage));
            let whole = Solver::default().solve(&job);
            close(&alone.stages[stage], &whole.stages[stage]);
            same_story(&alone, &whole);
        }
    }
}

#[test]
fn a_misread_in_the_stage_in_hand_is_found() {
    let (before, mut all) = car(3, 1);
    let mut solver = Solver::default();
    solver.solve(&before);
    let known = |id| before.readings.iter().any(|reading| reading.id == id);
    let mut fresh = all
        .readings
        .iter_mut()
        .filter(|reading| !known(reading.id.clone()));
    let misread = fresh.next().unwrap();
    let name = misread.id.clone();
    match &mut misread.taken {
        Taken::Height { value_mm, .. }
        | Taken::Offset { value_mm, .. }
        | Taken::Split { value_mm, .. }
        | Taken::Span { value_mm, .. }
        | Taken::DatumSpan { value_mm, .. } => *value_mm += 100.0,
        Taken::Fix { .. } => unreachable!("tape and laser only"),
    }
    drop(fresh);
    let alone = solver.answer(&all);
    assert!(alone.suspects.iter().any(|suspect| suspect.reading == name));
    same_story(&alone, &Solver::default().solve(&all));
}

#[test]
fn whatever_else_changes_is_solved_whole() {
    let (before, all) = car(2, 2);
    let mut solver = Solver::default();
    solver.solve(&before);
    let mut other = all;
    let id = other.points.keys().last().unwrap().clone();
    other.points[&id].trusted = !other.points[&id].trusted;
    let result = solver.answer(&other);
    assert!(solver.hand.is_none());
    close(
        &result.stages[0],
        &Solver::default().solve(&other).stages[0],
    );
}

#[test]
fn reasons_come_from_the_whole() {
    let (before, all) = car(2, 3);
    let mut solver = Solver::default();
    solver.solve(&before);
    let mut answered = solver.answer(&all);
    solver.explain(&all, &mut answered);
    assert!(solver.hand.is_none());
    let whole = solve(&all);
    close(&answered.stages[0], &whole.stages[0]);
    assert_eq!(answered.fit.rows, whole.fit.rows);
    assert_eq!(answered.next.len(), whole.next.len());
}
