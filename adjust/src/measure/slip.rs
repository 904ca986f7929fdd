//! Slips of hand and eye that explain a wrong number.
//!
//! Lengths in millimetres. A slip is named only when the estimated error fits it within three
//! times its own spread (and at least 1.5 mm); this file refuses to know which reading it was.

use serde::{Deserialize, Serialize};

/// One slip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Slip {
    /// The beam was above the point, not below, or the other way round.
    BeamSide,
    /// The point was on the other side of the beam.
    WrongSide,
    /// The tape was held at its 100 mm mark, and that was not taken off (or taken off twice).
    HundredMark,
    /// Two neighbouring digits were swapped.
    SwappedDigits,
    /// Ten millimetres too many or too few.
    Ten,
    /// A hundred millimetres too many or too few.
    Hundred,
    /// A thousand millimetres too many or too few.
    Thousand,
    /// One inch too many or too few.
    Inch,
}

impl Slip {
    /// Stable code, for translation.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::BeamSide => "beam-side",
            Self::WrongSide => "wrong-side",
            Self::HundredMark => "hundred-mark",
            Self::SwappedDigits => "swapped-digits",
            Self::Ten => "ten",
            Self::Hundred => "hundred",
            Self::Thousand => "thousand",
            Self::Inch => "inch",
        }
    }

    /// In words, English.
    #[must_use]
    pub fn says(self) -> &'static str {
        match self {
            Self::BeamSide => "beam above and below mixed up",
            Self::WrongSide => "wrong side of the beam",
            Self::HundredMark => "tape read from its 100 mm mark",
            Self::SwappedDigits => "two digits swapped",
            Self::Ten => "10 mm misread",
            Self::Hundred => "100 mm misread",
            Self::Thousand => "1,000 mm misread",
            Self::Inch => "1 inch misread",
        }
    }
}

/// What kind of reading a slip is looked for in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Read {
    /// A height: the beam may be on the other side.
    Height,
    /// An offset: the point may be on the other side.
    Offset,
    /// A tape: it may have been held at its 100 mm mark.
    Tape,
    /// A device.
    Device,
}

/// The slip that explains `error_mm` ± `sigma_mm` in a reading of `value_mm` best, if one does.
#[must_use]
pub fn likely(read: Read, value_mm: f64, error_mm: f64, sigma_mm: f64) -> Option<Slip> {
    if error_mm.abs() <= 3.0 * sigma_mm || read == Read::Device {
        return None;
    }
    let reach = (3.0 * sigma_mm).max(1.5);
    candidates(read, value_mm)
        .into_iter()
        .map(|(slip, size)| (slip, (error_mm - size).abs()))
        .filter(|(_, miss)| *miss <= reach)
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(slip, _)| slip)
}

/// Every slip with the error that it would make.
fn candidates(read: Read, value_mm: f64) -> Vec<(Slip, f64)> {
    let mut list = Vec::new();
    // A sign taken the wrong way is wrong by twice the value.
    match read {
        Read::Height if value_mm.abs() > 3.0 => list.push((Slip::BeamSide, 2.0 * value_mm)),
        Read::Offset if value_mm.abs() > 3.0 => list.push((Slip::WrongSide, 2.0 * value_mm)),
        _ => {}
    }
    let hundred = if read == Read::Tape {
        Slip::HundredMark
    } else {
        Slip::Hundred
    };
    for (slip, size) in [
        (hundred, 100.0),
        (Slip::Thousand, 1000.0),
        (Slip::Ten, 10.0),
        (Slip::Inch, 25.4),
    ] {
        list.extend([(slip, size), (slip, -size)]);
    }
    list.extend(
        swaps(value_mm)
            .into_iter()
            .map(|size| (Slip::SwappedDigits, size)),
    );
    list
}

/// Errors that swapping two neighbouring whole digits makes: …ab… read as …ba… is too large by
/// 9 (b − a) at that place.
fn swaps(value_mm: f64) -> Vec<f64> {
    let whole = value_mm.abs().trunc();
    if !(10.0..100_000.0).contains(&whole) {
        return Vec::new();
    }
    let digits: Vec<f64> = whole
        .to_string()
        .bytes()
        .map(|b| f64::from(b - b'0'))
        .collect();
    let mut place = 1.0;
    let mut errors = Vec::new();
    for pair in digits.windows(2).rev() {
        errors.push(9.0 * (pair[0] - pair[1]) * place * value_mm.signum());
        place *= 10.0;
    }
    errors.retain(|error| *error != 0.0);
    errors
}
