//! A body whose points are held along the car by diagonals alone: the iteration comes to its end.

use super::car::Car;
use crate::ids::{PointId, SetupId};
use crate::solve::solve;

/// One set-up, and spans between neighbours along the car: along each side and across.
fn chained(seed: u64) -> Car {
    let mut car = Car::new(seed);
    let setup = SetupId::parse("s1").unwrap();
    let points: Vec<PointId> = car.job.points.keys().cloned().collect();
    let mut pairs: Vec<&[PointId]> = points.chunks(2).collect();
    pairs.sort_by(|a, b| {
        let along = |pair: &[PointId]| car.truth.places[&pair[0]][0];
        along(a).total_cmp(&along(b))
    });
    for point in car.job.points.values_mut() {
        point.trusted = true;
    }
    for pair in &pairs {
        for point in *pair {
            let error = car.noise(0.7);
            let taken = car.truth.height(&setup, point, error).unwrap();
            car.take(taken);
        }
        let error = car.noise(0.7);
        let split = car.truth.split(&setup, &pair[0], &pair[1], error);
        car.take(split.unwrap());
        let error = car.noise(1.0);
        let span = car.truth.span(&pair[0], &pair[1], error);
        car.take(span.unwrap());
    }
    for two in pairs.windows(2) {
        for (from, to) in [(0, 0), (0, 1), (1, 0)] {
            let error = car.noise(1.0);
            let span = car.truth.span(&two[0][from], &two[1][to], error);
            car.take(span.unwrap());
        }
    }
    car
}

#[test]
fn a_body_that_diagonals_hold_settles() {
    let fits = (0..12).map(|seed| solve(&chained(seed).job).fit);
    let steps: Vec<(bool, u32)> = fits.map(|fit| (fit.converged, fit.iterations)).collect();
    assert!(steps.iter().all(|(c, n)| *c && *n < 45), "{steps:?}");
}
