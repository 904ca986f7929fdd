//! Lengths as people write them: millimetres, centimetres, metres, feet, inches with decimals or fractions.
//!
//! One inch is 25.4 mm exactly (NIST SP 811, from memory); 1/64 in is 0.396875 mm exactly. This
//! file holds the only conversions and refuses to know what is measured.

/// Millimetres in an inch, exactly.
pub const MM_PER_INCH: f64 = 25.4;

/// Finest fraction of an inch that is read.
const FINEST: u32 = 64;

/// The unit of a number that names none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Millimetres.
    Millimetre,
    /// Inches.
    Inch,
}

/// Why a text is not a length.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LengthError {
    /// Nothing was written.
    #[error("write a number, as 412.5")]
    Empty,
    /// The text is no number with a unit.
    #[error("'{0}' is not a length; write 412.5, 41.25 cm, 16.25 in or 16 1/4 in")]
    NotALength(String),
    /// The fraction is finer than 1/64 or has no sense.
    #[error("'{0}' is not a fraction of an inch; halves to 64ths are read, as 16 5/64 in")]
    NotAFraction(String),
}

/// Reads a length in millimetres. A decimal comma is a decimal point.
///
/// # Errors
/// [`LengthError`], which says what would be right.
pub fn parse_length(text: &str, unit: Unit) -> Result<f64, LengthError> {
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return Err(LengthError::Empty);
    }
    let wrong = || LengthError::NotALength(trimmed.to_owned());
    let (number, factor) = split_unit(trimmed, unit);
    let number = number.trim().replace(',', ".");
    let (sign, digits) = match number.strip_prefix(['-', '−']) {
        Some(rest) => (-1.0, rest.trim()),
        None => (1.0, number.as_str()),
    };
    if let Some((whole, fraction)) = split_fraction(digits) {
        if trimmed.ends_with('m') || trimmed.ends_with("ft") {
            return Err(wrong());
        }
        let inches = parse_plain(whole).ok_or_else(wrong)? + parse_fraction(fraction)?;
        // A fraction without a unit can only be inches.
        return Ok(sign * inches * MM_PER_INCH);
    }
    let value = parse_plain(digits).ok_or_else(wrong)?;
    Ok(sign * value * factor)
}

/// The number and the factor of its unit.
fn split_unit(text: &str, unit: Unit) -> (&str, f64) {
    const UNITS: [(&str, f64); 7] = [
        ("mm", 1.0),
        ("cm", 10.0),
        ("m", 1000.0),
        ("ft", 304.8),
        ("in", MM_PER_INCH),
        ("\"", MM_PER_INCH),
        ("″", MM_PER_INCH),
    ];
    for (name, factor) in UNITS {
        if let Some(number) = text.strip_suffix(name) {
            return (number, factor);
        }
    }
    let factor = match unit {
        Unit::Millimetre => 1.0,
        Unit::Inch => MM_PER_INCH,
    };
    (text, factor)
}

fn split_fraction(text: &str) -> Option<(&str, &str)> {
    if !text.contains('/') {
        return None;
    }
    Some(text.rsplit_once([' ', '-']).unwrap_or(("0", text)))
}

fn parse_plain(text: &str) -> Option<f64> {
    let text = text.trim();
    let plain = !text.is_empty() && text.chars().all(|c| c.is_ascii_digit() || c == '.');
    text.parse()
        .ok()
        .filter(|value: &f64| plain && value.is_finite())
}

fn parse_fraction(text: &str) -> Result<f64, LengthError> {
    let wrong = || LengthError::NotAFraction(text.to_owned());
    let (above, below) = text.split_once('/').ok_or_else(wrong)?;
    let (above, below): (u32, u32) = (
        above.trim().parse().map_err(|_| wrong())?,
        below.trim().parse().map_err(|_| wrong())?,
    );
    let sensible = below.is_power_of_two() && (2..=FINEST).contains(&below) && above < below;
    sensible
        .then(|| f64::from(above) / f64::from(below))
        .ok_or_else(wrong)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_read_as_people_write_them() {
        let check = |text, unit, mm: f64| assert_eq!(parse_length(text, unit), Ok(mm), "{text}");
        check("412.5", Unit::Millimetre, 412.5);
        check(" 412,5 mm ", Unit::Inch, 412.5);
        check("41.25 cm", Unit::Millimetre, 412.5);
        check("4,5 m", Unit::Inch, 4500.0);
        check("15 ft", Unit::Millimetre, 4572.0);
        check("1 in", Unit::Millimetre, 25.4);
        check("-3", Unit::Millimetre, -3.0);
        check("16 1/4", Unit::Inch, 412.75);
        check("16-1/4\"", Unit::Millimetre, 412.75);
        // Exact: 1/64 in = 0.396875 mm, 1/32 in = 0.79375 mm, 1/16 in = 1.5875 mm.
        check("1/64 in", Unit::Millimetre, 0.396_875);
        check("1/32", Unit::Inch, 0.793_75);
        check("1/16", Unit::Inch, 1.587_5);
    }

    #[test]
    fn what_is_no_length_says_what_would_be() {
        for text in [
            "", "abc", "1e3", "inf", "1 2", "3/7 in", "5/4 in", "1/128 in", "--3", "4 x",
        ] {
            assert!(parse_length(text, Unit::Millimetre).is_err(), "{text}");
        }
        let error = parse_length("3/7 in", Unit::Inch).unwrap_err();
        assert!(error.to_string().contains("halves to 64ths"), "{error}");
    }
}
