//! A laser that was checked: its readings are corrected or count for less.

use super::car::Car;
use crate::ids::{SetupId, ToolId};
use crate::job::{Beam, Job, Taken, Tool, ToolKind};
use crate::solve::{Solver, solve};
use crate::tools::Check;

/// The laser stands two metres before the car, to its right.
const STANDS: [f64; 2] = [-2600.0, 900.0];

/// A car whose level beam in one set-up climbs by this much.
fn climbing(mm_per_m: f64) -> Job {
    let mut job = Car::new(71).read_all().job;
    for reading in &mut job.readings {
        if let Taken::Height {
            setup,
            point,
            beam,
            value_mm,
        } = &mut reading.taken
            && setup.as_str() == "s1"
        {
            let place = job.points[&*point].place_mm;
            let away_m = (place[0] - STANDS[0]).hypot(place[1] - STANDS[1]) / 1000.0;
            let sign = if *beam == Beam::Above { 1.0 } else { -1.0 };
            *value_mm += sign * mm_per_m * away_m;
        }
    }
    job
}

fn checked(mut job: Job, mm_per_m: f64, stands_mm: Option<[f64; 2]>) -> Job {
    let laser = ToolId::parse("laser").unwrap();
    let level_check = Some(Check {
        mm_per_m,
        sigma_mm_per_m: 0.05,
        at: String::new(),
        by: String::new(),
    });
    let tool = Tool {
        kind: ToolKind::Laser,
        label: String::new(),
        sigma_mm: 0.5,
        per_m_mm: 0.0,
        level_check,
        plumb_check: None,
    };
    job.tools.insert(laser.clone(), tool);
    let setup = job.setups.get_mut(&SetupId::parse("s1").unwrap()).unwrap();
    setup.tool = Some(laser);
    setup.stands_mm = stands_mm;
    job
}

/// Height of right over left with its spread, per pair; `None` where it was not measured.
fn heights(job: &Job) -> Vec<Option<(f64, f64)>> {
    let result = solve(job);
    let pairs = result.stages[0].pairs.iter();
    pairs
        .map(|pair| pair.right_higher_mm.value.zip(pair.right_higher_mm.sigma))
        .collect()
}

fn both(a: &[Option<(f64, f64)>], b: &[Option<(f64, f64)>]) -> Vec<[(f64, f64); 2]> {
    let both: Vec<_> = a
        .iter()
        .zip(b)
        .filter_map(|(a, b)| Some([(*a)?, (*b)?]))
        .collect();
    assert!(both.len() >= 7, "most pairs are measured");
    both
}

fn furthest(a: &[Option<(f64, f64)>], b: &[Option<(f64, f64)>]) -> f64 {
    let both = both(a, b);
    both.iter()
        .map(|[a, b]| (a.0 - b.0).abs())
        .fold(0.0, f64::max)
}

#[test]
fn a_checked_beam_whose_place_is_known_is_corrected() {
    let straight = heights(&climbing(0.0));
    let wrong = heights(&climbing(1.2));
    let corrected = heights(&checked(climbing(1.2), 1.2, Some(STANDS)));
    assert!(
        furthest(&straight, &wrong) > 0.3,
        "{}",
        furthest(&straight, &wrong)
    );
    assert!(
        furthest(&straight, &corrected) < 0.15,
        "{}",
        furthest(&straight, &corrected)
    );
}

#[test]
fn a_checked_beam_whose_place_nobody_knows_counts_for_less() {
    let plain = heights(&climbing(0.0));
    let widened = heights(&checked(climbing(0.0), 1.2, None));
    let both = both(&widened, &plain);
    assert!(both.iter().all(|[w, p]| w.1 >= p.1 - 1e-9));
    assert!(both.iter().any(|[w, p]| w.1 > 1.1 * p.1));
}

#[test]
fn a_laser_without_a_check_changes_nothing() {
    let plain = heights(&climbing(0.0));
    let mut job = checked(climbing(0.0), 0.0, Some(STANDS));
    job.tools[0].level_check = None;
    assert!(furthest(&plain, &heights(&job)) < 1e-9);
}

#[test]
fn what_is_expected_of_a_checked_laser_is_what_it_would_read() {
    let mut job = checked(climbing(1.5), 1.5, Some(STANDS));
    let is_of_the_laser =
        |taken: &Taken| matches!(taken, Taken::Height { setup, .. } if setup.as_str() == "s1");
    let of_the_laser = job.readings.iter().rposition(|r| is_of_the_laser(&r.taken));
    let mut reading = job.readings.remove(of_the_laser.unwrap());
    let mut solver = Solver::default();
    solver.solve(&job);
    let expected = solver
        .expect(&job, &reading.stage, &reading.taken, None)
        .unwrap();
    let point = reading.taken.points().next().unwrap().clone();
    let mirror = job.points[&point].mirror.clone().unwrap();
    let (left, right) = match job.points[&point].side {
        crate::job::Side::Right => (mirror, point),
        _ => (point, mirror),
    };
    // Read as expected, it changes nothing: no residual, and the pair as it was.
    if let Taken::Height { value_mm, .. } = &mut reading.taken {
        *value_mm = expected.value_mm;
    }
    let foreseen = solver.foresee(&job, &reading, &left, &right).unwrap();
    job.readings.push(reading.clone());
    let result = solve(&job);
    let residual = result.readings[&reading.id].residual_mm;
    assert!(residual.abs() < 0.02, "{residual} mm");
    let pairs = result.stages[0].pairs.iter();
    let solved = pairs.into_iter().find(|pair| pair.left == left).unwrap();
    let [a, b] = [&foreseen, solved].map(|pair| pair.right_higher_mm.value.unwrap());
    assert!((a - b).abs() < 0.05, "{a} and {b} mm");
}
