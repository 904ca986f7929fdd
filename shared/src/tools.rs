//! Checks of a laser that anybody can make with a tape: two pegs for the level beam, reversal for the
//! plumb beam.
//!
//! Values in millimetres, distances in metres, slopes in millimetres per metre. ISO 17123-6 is the
//! standard for the field test of rotating lasers; these two are its short forms, common practice in
//! surveying. This module refuses to know what a slope does to a car's readings.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// A laser whose beam climbs more than this is not worth correcting, millimetres per metre (ten
/// times what such lasers are sold with; beyond it something was misread).
pub const MOST_SLOPE_MM_PER_M: f64 = 5.0;

/// How far a beam is off, found by a check.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Slope {
    /// How much the beam climbs (level) or leans to its right (plumb), millimetres per metre.
    pub mm_per_m: f64,
    /// Its standard uncertainty.
    pub sigma_mm_per_m: f64,
}

/// Why a check says nothing.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum CheckError {
    /// A number is missing, infinite or below zero where it cannot be.
    #[error("every value must be a number, and distances and heights above zero")]
    NotANumber,
    /// The two positions do not differ enough in their distances.
    #[error(
        "the two positions tell the same: one must stand midway, the other near one mark, at least 2 m apart from it"
    )]
    TooClose,
    /// The slope is beyond what a laser can be off.
    #[error(
        "{0:.1} mm per metre is more than a laser can be off: read again, and check that it levelled itself"
    )]
    TooMuch(f64),
}

/// What was read at two marks from one position of the laser.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Position {
    /// Height of the beam over the two marks, millimetres.
    pub read_mm: [f64; 2],
    /// Distance from the laser to the two marks, metres.
    pub away_m: [f64; 2],
}

/// Two-peg check of a level beam: two marks read from midway and from near one of them.
///
/// With the beam climbing by s per metre, the difference of the two readings is the true one plus s
/// times the difference of the distances; two positions give both. `sigma_mm` is the standard
/// uncertainty of one reading.
///
/// # Errors
/// [`CheckError`] when the positions cannot tell a slope, or tell an impossible one.
pub fn two_peg(first: Position, second: Position, sigma_mm: f64) -> Result<Slope, CheckError> {
    let all = [first, second];
    let sound = |p: &Position| {
        p.read_mm.iter().all(|v| v.is_finite()) && p.away_m.iter().all(|v| v.is_finite() && *v >= 0.0)
    };
    if !all.iter().all(sound) || !(sigma_mm.is_finite() && sigma_mm > 0.0) {
        return Err(CheckError::NotANumber);
    }
    let read = |p: &Position| p.read_mm[0] - p.read_mm[1];
    let away = |p: &Position| p.away_m[0] - p.away_m[1];
    let apart = away(&second) - away(&first);
    if apart.abs() < 2.0 {
        return Err(CheckError::TooClose);
    }
    slope((read(&second) - read(&first)) / apart, 2.0 * sigma_mm / apart.abs())
}

/// Reversal check of a plumb beam: the beam set on one mark at the floor, read on a scale high up;
/// then the laser turned by half a turn, set on the same mark and read again.
///
/// The two readings differ by twice the lean. `height_m` is the height of the scale over the mark,
/// `sigma_mm` the standard uncertainty of one reading.
///
/// # Errors
/// [`CheckError`] when a number cannot be, or the lean is impossible.
pub fn reversal(
    first_mm: f64,
    turned_mm: f64,
    height_m: f64,
    sigma_mm: f64,
) -> Result<Slope, CheckError> {
    let positive = [height_m, sigma_mm].iter().all(|v| v.is_finite() && *v > 0.0);
    if !positive || !first_mm.is_finite() || !turned_mm.is_finite() {
        return Err(CheckError::NotANumber);
    }
    slope(
        (first_mm - turned_mm) / (2.0 * height_m),
        sigma_mm / (std::f64::consts::SQRT_2 * height_m),
    )
}

fn slope(mm_per_m: f64, sigma_mm_per_m: f64) -> Result<Slope, CheckError> {
    if mm_per_m.abs() > MOST_SLOPE_MM_PER_M {
        return Err(CheckError::TooMuch(mm_per_m));
    }
    Ok(Slope {
        mm_per_m,
        sigma_mm_per_m,
    })
}

impl Slope {
    /// How far a beam is off `away_m` further on, as a spread: the slope itself and how well it is
    /// known. For readings that cannot be corrected, because nobody knows how the laser stood.
    #[must_use]
    pub fn spread_mm(&self, away_m: f64) -> f64 {
        away_m.abs() * self.mm_per_m.hypot(self.sigma_mm_per_m)
    }

    /// How much too high a level beam stands `away_m` from the laser.
    #[must_use]
    pub fn climbs_mm(&self, away_m: f64) -> f64 {
        self.mm_per_m * away_m
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// A printed exercise: pegs 40 m apart, read 1.476 and 1.432 m from midway, 1.556 and 1.472 m from
    /// 10 m beyond the second; answer 0.001 m per metre (transtutors.com, question 7098647).
    #[test]
    fn a_printed_two_peg_exercise() {
        let midway = Position {
            read_mm: [1476.0, 1432.0],
            away_m: [20.0, 20.0],
        };
        let beyond = Position {
            read_mm: [1556.0, 1472.0],
            away_m: [50.0, 10.0],
        };
        let slope = two_peg(midway, beyond, 0.5).unwrap();
        assert_relative_eq!(slope.mm_per_m, 1.0, max_relative = 1e-12);
        // Four readings of 0.5 mm over a difference of 40 m.
        assert_relative_eq!(slope.sigma_mm_per_m, 0.025, max_relative = 1e-12);
        // The far reading without the slope: 1556 − 50 = 1506.
        assert_relative_eq!(1556.0 - slope.climbs_mm(50.0), 1506.0, max_relative = 1e-12);
    }

    /// A printed exercise with unequal distances and a known difference: sights of 25 and 50 m, 2.847
    /// and 3.462 m read, 0.630 m true; answer 0.060 m per 100 m, downwards (curioustab.com, 66998). The
    /// known difference stands in for a first position without any error.
    #[test]
    fn a_printed_exercise_with_unequal_sights() {
        let known = Position {
            read_mm: [0.0, 630.0],
            away_m: [10.0, 10.0],
        };
        let read = Position {
            read_mm: [2847.0, 3462.0],
            away_m: [25.0, 50.0],
        };
        let slope = two_peg(known, read, 1.0).unwrap();
        assert_relative_eq!(slope.mm_per_m * 100.0, -60.0, max_relative = 1e-12);
    }

    /// By hand: 2.4 mm between the two readings at 2 m is twice a lean of 0.6 mm per metre.
    #[test]
    fn turning_the_laser_shows_twice_its_lean() {
        let lean = reversal(101.2, 98.8, 2.0, 0.5).unwrap();
        assert_relative_eq!(lean.mm_per_m, 0.6, max_relative = 1e-12);
        assert_relative_eq!(lean.sigma_mm_per_m, 0.5 / (2.0 * 2.0_f64.sqrt()), max_relative = 1e-12);
    }

    #[test]
    fn checks_that_tell_nothing_say_why() {
        let at = |near: f64, far: f64| Position {
            read_mm: [500.0, 500.0],
            away_m: [near, far],
        };
        assert_eq!(two_peg(at(3.0, 3.0), at(3.0, 4.0), 0.5), Err(CheckError::TooClose));
        assert_eq!(two_peg(at(3.0, -3.0), at(1.0, 5.0), 0.5), Err(CheckError::NotANumber));
        assert_eq!(two_peg(at(f64::NAN, 3.0), at(1.0, 5.0), 0.5), Err(CheckError::NotANumber));
        assert_eq!(reversal(0.0, 1.0, 0.0, 0.5), Err(CheckError::NotANumber));
        assert!(matches!(reversal(100.0, 0.0, 2.0, 0.5), Err(CheckError::TooMuch(_))));
    }
}
