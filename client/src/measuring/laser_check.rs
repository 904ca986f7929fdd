//! A laser's checks as they are typed: what they found, or what is still missing.
//!
//! Fields are in the person's unit, slopes in millimetres per metre.

use shared::job::Tool;
use shared::tools::{CheckError, Position, Slope, reversal, two_peg};
use shared::units::{Unit, parse_length};

use super::figures::{Figures, LengthUnit};
use crate::text::laser::Laser;

/// Standard uncertainty of one reading of a scale at a beam, millimetres: half a millimetre is read.
const READ_SIGMA_MM: f64 = 0.5;

/// Which beam is checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beam {
    /// Two marks, from midway and from near one.
    Level,
    /// A half turn over one mark.
    Plumb,
}

impl Beam {
    /// Labels of the fields, in the order in which [`found`] takes them.
    #[must_use]
    pub fn fields(self, words: &'static Laser) -> Vec<&'static str> {
        match self {
            Self::Level => vec![
                words.apart,
                words.midway_a,
                words.midway_b,
                words.near,
                words.near_a,
                words.near_b,
            ],
            Self::Plumb => vec![words.height, words.first, words.turned],
        }
    }
}

/// What the typed fields of a check say; `None` while some are still empty.
///
/// # Errors
/// [`CheckError`] when they cannot be.
pub fn found(beam: Beam, typed: &[String], unit: Unit) -> Option<Result<Slope, CheckError>> {
    if typed.iter().any(|field| field.trim().is_empty()) {
        return None;
    }
    let lengths: Result<Vec<f64>, _> = typed
        .iter()
        .map(|field| parse_length(field, unit))
        .collect();
    let Ok(lengths) = lengths else {
        return Some(Err(CheckError::NotANumber));
    };
    Some(match (beam, lengths.as_slice()) {
        (Beam::Level, &[apart, midway_a, midway_b, near, near_a, near_b]) => {
            let metres = |mm: f64| mm / 1000.0;
            let midway = Position {
                read_mm: [midway_a, midway_b],
                away_m: [metres(apart / 2.0); 2],
            };
            let close = Position {
                read_mm: [near_a, near_b],
                away_m: [metres(near), metres(apart - near)],
            };
            two_peg(midway, close, READ_SIGMA_MM)
        }
        (Beam::Plumb, &[height, first, turned]) => {
            reversal(first, turned, height / 1000.0, READ_SIGMA_MM)
        }
        _ => Err(CheckError::NotANumber),
    })
}

/// A found slope as a sentence; what a check cannot tell from zero (95 %) is not claimed.
#[must_use]
pub fn sentence(beam: Beam, slope: Slope, figures: Figures, words: &Laser) -> String {
    let spread = 2.0 * slope.sigma_mm_per_m;
    let shown = figures.decimal(spread, 2);
    if slope.mm_per_m.abs() <= spread {
        return words.straight.replacen("{}", &shown, 1);
    }
    let pattern = match (beam, slope.mm_per_m > 0.0) {
        (Beam::Level, true) => words.climbs,
        (Beam::Level, false) => words.falls,
        (Beam::Plumb, true) => words.leans_right,
        (Beam::Plumb, false) => words.leans_left,
    };
    let size = figures.decimal(slope.mm_per_m.abs(), 2);
    pattern.replacen("{}", &size, 1).replacen("{}", &shown, 1)
}

/// What a refused check says.
#[must_use]
pub fn refusal(error: CheckError, words: &Laser) -> &str {
    match error {
        CheckError::NotANumber => words.no_number,
        CheckError::TooClose => words.too_close,
        CheckError::TooMuch(_) => words.too_much,
    }
}

/// What is known of one beam of a laser: the sentence, the day, who.
#[must_use]
pub fn known(beam: Beam, tool: &Tool, figures: Figures, words: &Laser) -> String {
    let (name, check) = match beam {
        Beam::Level => (words.level_beam, &tool.level_check),
        Beam::Plumb => (words.plumb_beam, &tool.plumb_check),
    };
    let Some(check) = check else {
        return format!("{name}: {}", words.not_checked);
    };
    let day = check.at.split('T').next().unwrap_or_default();
    let who = if check.by.is_empty() {
        String::new()
    } else {
        format!(" {} {}", words.by, check.by)
    };
    let said = sentence(beam, check.slope(), figures, words);
    format!("{name}, {day}{who}: {said}")
}

/// Where a laser stands, in words: along the car from its foremost point, across from the middle.
#[must_use]
pub fn stand(stands_mm: [f64; 2], front_mm: f64, figures: Figures, words: &Laser) -> String {
    let along = stands_mm[0] - front_mm;
    // Rough places need no tenths.
    let size = |mm: f64| match figures.unit {
        LengthUnit::Millimetre => format!("{} mm", figures.decimal(mm.abs(), 0)),
        LengthUnit::InchDecimal | LengthUnit::InchFraction => figures.size(mm),
    };
    let say = |pattern: &str, mm: f64| pattern.replacen("{}", &size(mm), 1);
    let along_said = say(
        if along < 0.0 {
            words.before_front
        } else {
            words.behind_front
        },
        along,
    );
    let across_said = say(
        if stands_mm[1] < 0.0 {
            words.left_of_middle
        } else {
            words.right_of_middle
        },
        stands_mm[1],
    );
    words
        .stands_at
        .replacen("{}", &along_said, 1)
        .replacen("{}", &across_said, 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Language, Speaks};

    fn typed(fields: &[&str]) -> Vec<String> {
        fields.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn two_marks_tell_the_slope() {
        // 6 m apart; true difference 20 mm; a beam that climbs 1 mm per metre; from 1 m beside A,
        // A reads 1 high, B 5 high.
        let fields = typed(&["6000", "1003", "983", "1 m", "1101", "1085"]);
        let slope = found(Beam::Level, &fields, Unit::Millimetre)
            .unwrap()
            .unwrap();
        assert!((slope.mm_per_m - 1.0).abs() < 1e-9);
        let words = Language::English.laser();
        assert_eq!(
            sentence(Beam::Level, slope, Figures::default(), words),
            "The beam climbs 1.00 mm per metre (± 0.50)."
        );
    }

    #[test]
    fn a_half_turn_tells_the_lean() {
        let fields = typed(&["2 m", "301", "305"]);
        let slope = found(Beam::Plumb, &fields, Unit::Millimetre)
            .unwrap()
            .unwrap();
        assert!((slope.mm_per_m + 1.0).abs() < 1e-9);
        let words = Language::Spanish.laser();
        let figures = Figures {
            language: Language::Spanish,
            ..Figures::default()
        };
        assert_eq!(
            sentence(Beam::Plumb, slope, figures, words),
            "El haz se inclina a la izquierda, 1,00 mm por metro (± 0,35)."
        );
    }

    #[test]
    fn what_is_missing_or_impossible_is_said() {
        let words = Language::English.laser();
        assert!(found(Beam::Plumb, &typed(&["2000", "", "305"]), Unit::Millimetre).is_none());
        let say = |beam, fields: &[&str]| {
            let refused = found(beam, &typed(fields), Unit::Millimetre)
                .unwrap()
                .unwrap_err();
            refusal(refused, words)
        };
        assert_eq!(say(Beam::Plumb, &["two", "301", "305"]), words.no_number);
        assert_eq!(say(Beam::Plumb, &["2000", "301", "351"]), words.too_much);
        assert_eq!(
            say(Beam::Level, &["6000", "1000", "980", "2500", "1000", "980"]),
            words.too_close
        );
    }

    #[test]
    fn a_stand_is_told_from_the_car() {
        let words = Language::English.laser();
        assert_eq!(
            stand([-2500.0, 400.0], -700.0, Figures::default(), words),
            "1800 mm in front of the car's foremost point and 400 mm right of the middle"
        );
    }
}
