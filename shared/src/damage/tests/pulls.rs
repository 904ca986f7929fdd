//! Springback of pulls made up by hand.

use approx::assert_relative_eq;

use crate::damage::pulls::{Sprung, overpull, springback};

fn sprung(pulled: f64, back: f64) -> Sprung {
    Sprung {
        point: 0,
        pulled,
        pulled_sigma: 0.5,
        back,
        back_sigma: 0.5,
    }
}

/// Pulled 10, came back 4, so 40 % is lost: to gain 6 one pulls 10, which is 4 more. By hand.
#[test]
fn what_came_back_says_how_far_to_pull() {
    let share = springback(&[sprung(-10.0, 4.0), sprung(-5.0, 2.0)]).unwrap();
    assert_relative_eq!(share, 0.4, max_relative = 1e-12);
    assert_relative_eq!(overpull(-6.0, share), -4.0, max_relative = 1e-12);
}

#[test]
fn a_movement_that_is_not_real_says_nothing() {
    assert_eq!(springback(&[sprung(1.0, -0.8)]), None);
    assert_eq!(springback(&[]), None);
}

#[test]
fn a_springback_within_its_spread_or_nearly_whole_suggests_no_overpull() {
    assert_eq!(springback(&[sprung(10.0, -0.6)]), None);
    assert_eq!(springback(&[sprung(10.0, -8.0)]), None);
    assert_eq!(springback(&[sprung(10.0, 3.0)]), None, "it went on moving");
}
