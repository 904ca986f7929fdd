//! A few graduations of a tape around a reading: ruled, with figures, the beam or the point in red.

use leptos::prelude::*;
use shared::units::MM_PER_INCH;

use crate::measuring::figures::LengthUnit;

/// Half of what is seen, in graduations.
const SEEN: f64 = 17.0;
/// Width of a graduation on paper.
const STEP: f64 = 9.0;
/// Half of a figure's width.
const FIGURE: f64 = 20.0;

/// The drawing; its name says the number to those who do not see it.
#[component]
pub fn Tape(
    /// What it shows.
    value_mm: f64,
    /// Millimetres, tenths or sixteenths of an inch.
    unit: LengthUnit,
    /// Name, for screen readers.
    label: String,
) -> impl IntoView {
    let marks = marks(value_mm, unit);
    let line = |mark: &Mark| format!("M{:.1} 30v-{}", mark.at, mark.height);
    let ticks: String = marks.iter().map(line).collect();
    let figures = marks
        .into_iter()
        .filter_map(|mark| Some((mark.at, mark.figure?)))
        // A figure that the edge would cut could be read as another.
        .filter(|(at, _)| (FIGURE..=306.0 - FIGURE).contains(at));
    let figures = figures
        .map(|(at, figure)| view! { <text x=format!("{at:.1}") y="50">{figure}</text> })
        .collect_view();
    view! {
        <svg class="tape-drawing" viewBox="0 0 306 58" role="img" aria-label=label>
            <path class="edge" d="M0 30H306" />
            <path class="ticks" d=ticks />
            {figures}
            <path class="beam" d="M153 0V40" />
        </svg>
    }
}

/// A graduation.
#[derive(Debug, PartialEq)]
struct Mark {
    at: f64,
    height: u32,
    figure: Option<i64>,
}

fn marks(value_mm: f64, unit: LengthUnit) -> Vec<Mark> {
    let inches = unit != LengthUnit::Millimetre;
    let (graduation_mm, half, whole) = match unit {
        LengthUnit::InchFraction => (MM_PER_INCH / 16.0, 8, 16),
        LengthUnit::InchDecimal => (MM_PER_INCH / 10.0, 5, 10),
        LengthUnit::Millimetre => (1.0, 5, 10),
    };
    let value = value_mm / graduation_mm;
    // A tape's graduations are few enough for any integer.
    #[expect(clippy::cast_possible_truncation, reason = "a tape is short")]
    let (first, last) = ((value - SEEN).ceil() as i64, (value + SEEN).floor() as i64);
    let mark = |number: i64| {
        let (height, figure) = match number {
            _ if number % whole == 0 => (22, Some(if inches { number / whole } else { number })),
            _ if number % half == 0 => (16, None),
            _ => (10, None),
        };
        #[expect(clippy::cast_precision_loss, reason = "a tape is short")]
        let at = 153.0 + (number as f64 - value) * STEP;
        Mark { at, height, figure }
    };
    (first.max(0)..=last).map(mark).collect()
}

#[cfg(test)]
mod tests {
    use super::{LengthUnit, marks};

    #[test]
    fn the_red_line_stands_where_the_number_says() {
        let ten = marks(412.5, LengthUnit::Millimetre)
            .into_iter()
            .find(|m| m.figure == Some(410));
        assert_eq!(ten.unwrap().at, 153.0 - 2.5 * 9.0);
        let inch = marks(25.4 * 16.25, LengthUnit::InchFraction)
            .into_iter()
            .find(|m| m.figure == Some(16));
        assert!((inch.unwrap().at - (153.0 - 4.0 * 9.0)).abs() < 1e-6);
        let tenths = marks(25.4 * 16.25, LengthUnit::InchDecimal)
            .into_iter()
            .find(|m| m.figure == Some(16));
        assert!((tenths.unwrap().at - (153.0 - 2.5 * 9.0)).abs() < 1e-6);
        // A tape begins at its hook.
        assert!(
            marks(3.0, LengthUnit::Millimetre)
                .iter()
                .all(|mark| mark.at >= 126.0)
        );
    }
}
