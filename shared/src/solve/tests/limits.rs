//! Empty, contradictory, degenerate and large jobs: a report, never a panic or a NaN.

use super::car::{Car, id};
use crate::job::{Job, Taken};
use crate::result::JobResult;
use crate::solve::solve;

/// Every number of a result is finite; JSON would write anything else as `null`.
fn check(result: &JobResult) {
    for stage in &result.stages {
        for point in stage.points.values() {
            assert!(
                point
                    .xyz_mm
                    .iter()
                    .chain(&point.sigma_mm)
                    .all(|v| v.is_finite()),
                "{point:?}"
            );
        }
        for pair in &stage.pairs {
            for judged in [
                &pair.right_higher_mm,
                &pair.centre_right_mm,
                &pair.right_rearward_mm,
                &pair.width_mm,
            ] {
                let numbers = [judged.value, judged.sigma, judged.conformity];
                assert!(
                    numbers.into_iter().flatten().all(f64::is_finite),
                    "{judged:?}"
                );
            }
        }
    }
    assert!(result.fit.chi2.is_finite() && result.fit.degrees_of_freedom.is_finite());
}

#[test]
fn nothing_gives_an_empty_report() {
    let result = solve(&Job::default());
    check(&result);
    assert!(result.stages.is_empty() && result.suspects.is_empty());
}

#[test]
fn no_readings_measure_nothing_and_judge_nothing() {
    let result = solve(&Car::new(1).job);
    check(&result);
    for pair in &result.stages[0].pairs {
        assert_eq!(pair.right_higher_mm.value, None);
        assert_eq!(pair.right_higher_mm.verdict, None);
    }
}

/// Trust is an assumption: a trusted pair that nobody read is not measured.
#[test]
fn an_assumption_is_not_a_measurement() {
    let mut car = Car::new(2);
    let taken = car
        .truth
        .height(
            &crate::ids::SetupId::parse("s1").unwrap(),
            &id("floor-L"),
            0.0,
        )
        .unwrap();
    car.take(taken);
    let result = solve(&car.job);
    check(&result);
    assert!(
        result.stages[0]
            .pairs
            .iter()
            .all(|pair| pair.right_higher_mm.verdict.is_none())
    );
}

#[test]
fn readings_that_all_contradict_each_other_still_give_a_report() {
    let mut car = Car::new(4).read_all();
    for (index, reading) in car.job.readings.iter_mut().enumerate() {
        let error = ((index * 7919) % 2001) as f64 - 1000.0;
        if let Taken::Height { value_mm, .. }
        | Taken::Offset { value_mm, .. }
        | Taken::Span { value_mm, .. } = &mut reading.taken
        {
            *value_mm += error;
        }
    }
    let result = solve(&car.job);
    check(&result);
    assert!(!result.suspects.is_empty());
}

#[test]
fn points_on_one_spot_are_survived() {
    let mut car = Car::new(6);
    for point in car.job.points.values_mut() {
        point.place_mm = [0.0; 3];
    }
    check(&solve(&car.read_all().job));
}

#[test]
fn a_reading_repeated_two_thousand_times_is_one_good_reading() {
    let mut car = Car::new(9).read_all();
    let taken = car.job.readings[0].taken.clone();
    for _ in 0..2000 {
        car.take(taken.clone());
    }
    check(&solve(&car.job));
}
