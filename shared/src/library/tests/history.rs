//! A body over several visits.

use super::cars::{design, id, job};
use crate::job::Job;
use crate::library::{Quantity, Visit, history};
use crate::result::JobResult;
use crate::solve::solve;
use crate::solve::tests::car::Dice;

fn visit(seed: u64, day: u32, rail_mm: f64) -> (Job, JobResult) {
    let mut places = design();
    places[&id("rail-L")][2] += rail_mm;
    let mut job = job(&mut Dice::new(seed), &places, 0.4);
    for (number, reading) in job.readings.iter_mut().enumerate() {
        reading.at = format!("2026-03-{day:02}T09:{:02}:00Z", number % 60);
    }
    let result = solve(&job);
    (job, result)
}

#[test]
fn values_stand_in_the_order_of_time_and_what_moved_is_named() {
    let all = [visit(1, 20, 7.0), visit(2, 2, 0.0), visit(3, 9, 0.0)];
    let visits: Vec<Visit<'_>> = all
        .iter()
        .map(|(job, result)| Visit { job, result })
        .collect();
    let history = history(&visits);
    let height = Quantity::Pair(id("rail-L"), id("rail-R"), "right_higher_mm");
    let series = history
        .series
        .iter()
        .find(|series| series.quantity == height)
        .unwrap();
    let order: Vec<usize> = series.samples.iter().map(|sample| sample.visit).collect();
    assert_eq!(order, [1, 2, 0]);
    // Counted with Python's datetime.
    assert_eq!(series.samples[0].at_ms, Some(1_772_442_000_000));
    assert!((series.samples[2].value_mm + 7.0).abs() < 3.0 * series.samples[2].sigma_mm);
    let first = &history.between[0];
    assert_eq!(
        (&first.quantity, first.from.visit, first.to.visit),
        (&height, 2, 0)
    );
    assert!(
        (first.change_mm + 7.0).abs() < 2.0 && first.p < 1e-6,
        "{first:?}"
    );
    assert!(
        history
            .between
            .iter()
            .all(|between| match &between.quantity {
                Quantity::Pair(left, ..) => *left == id("rail-L"),
                Quantity::Point(..) => false,
            }),
        "{:?}",
        history.between
    );
}

#[test]
fn single_points_are_compared_on_the_same_sheet_only() {
    let mut all = [visit(4, 2, 0.0), visit(5, 9, 6.0)];
    let points = |all: &[(Job, JobResult)]| {
        let visits: Vec<Visit<'_>> = all
            .iter()
            .map(|(job, result)| Visit { job, result })
            .collect();
        let history = history(&visits);
        let point = |quantity: &Quantity| matches!(quantity, Quantity::Point(..));
        let moved = history
            .between
            .into_iter()
            .map(|b| b.quantity)
            .filter(point)
            .collect::<Vec<_>>();
        (
            history
                .series
                .iter()
                .filter(|series| point(&series.quantity))
                .count(),
            moved,
        )
    };
    assert_eq!(points(&all), (0, vec![]));
    for (job, result) in &mut all {
        job.sheet = Some(crate::job::Sheet {
            name: "hatch".into(),
            revision: 1,
            digest: String::new(),
            spread_mm: 0.3,
            points: design(),
            spreads: indexmap::IndexMap::new(),
            tolerances: indexmap::IndexMap::new(),
        });
        *result = solve(job);
    }
    let (series, moved) = points(&all);
    assert_eq!(series, 42);
    assert!(
        moved.contains(&Quantity::Point(id("rail-L"), 2)),
        "{moved:?}"
    );
    all[1].0.sheet.as_mut().unwrap().revision = 2;
    assert_eq!(points(&all).0, 0);
}

#[test]
fn visits_without_a_time_stand_last_and_nothing_is_no_harm() {
    let mut all = [visit(6, 2, 0.0), visit(7, 1, 0.0)];
    for reading in &mut all[1].0.readings {
        reading.at.clear();
    }
    let visits: Vec<Visit<'_>> = all
        .iter()
        .map(|(job, result)| Visit { job, result })
        .collect();
    let samples = history(&visits).series[0].samples.clone();
    assert_eq!(
        samples
            .iter()
            .map(|s| (s.visit, s.at_ms.is_some()))
            .collect::<Vec<_>>(),
        [(0, true), (1, false)]
    );
    assert_eq!(history(&[]), crate::library::History::default());
}
