//! Numbers as a person reads them: language, unit, decimal mark, sign.
//!
//! Input is always millimetres or degrees. This file refuses to know what a number means.

use crate::units::MM_PER_INCH;

/// Languages of screens and reports.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum Language {
    #[default]
    English,
    Spanish,
}

impl Language {
    /// Every language.
    pub const ALL: [Self; 2] = [Self::English, Self::Spanish];

    /// BCP 47 code.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::Spanish => "es",
        }
    }

    /// The language of such a code.
    #[must_use]
    pub fn of_code(code: &str) -> Option<Self> {
        Self::ALL
            .into_iter()
            .find(|language| language.code() == code)
    }

    /// The language's own name.
    #[must_use]
    pub fn own_name(self) -> &'static str {
        match self {
            Self::English => "English",
            Self::Spanish => "Español",
        }
    }
}

/// How a person wants lengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LengthUnit {
    /// Millimetres, to the half.
    #[default]
    Millimetre,
    /// Inches with decimals.
    InchDecimal,
    /// Inches with fractions to 1/64.
    InchFraction,
}

impl LengthUnit {
    const ALL: [Self; 3] = [Self::Millimetre, Self::InchDecimal, Self::InchFraction];

    /// The word of an address.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::InchDecimal => "in-decimal",
            Self::InchFraction => "in",
        }
    }

    /// The unit of such a word.
    #[must_use]
    pub fn of_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|unit| unit.code() == code)
    }
}

/// A person's unit and language.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Figures {
    /// Unit of lengths.
    pub unit: LengthUnit,
    /// Language of decimal marks.
    pub language: Language,
}

impl Figures {
    /// A length with its unit: `12.5 mm`, `0.49 in`, `1/2 in`.
    #[must_use]
    pub fn length(self, mm: f64) -> String {
        format!("{} {}", self.bare(mm), self.unit_name())
    }

    /// A length without its sign, with its unit.
    #[must_use]
    pub fn size(self, mm: f64) -> String {
        self.length(mm.abs())
    }

    /// A length without its unit, for columns.
    #[must_use]
    pub fn bare(self, mm: f64) -> String {
        match self.unit {
            LengthUnit::Millimetre => self.decimal(mm, 1),
            LengthUnit::InchDecimal => self.decimal(mm / MM_PER_INCH, 2),
            LengthUnit::InchFraction => fraction(mm / MM_PER_INCH),
        }
    }

    /// A length with a sign even when positive, without its unit.
    #[must_use]
    pub fn signed(self, mm: f64) -> String {
        let text = self.bare(mm);
        let zero = !text.chars().any(|c| ('1'..='9').contains(&c));
        if zero || text.starts_with('−') {
            text
        } else {
            format!("+{text}")
        }
    }

    /// A standard uncertainty: `± 0.4 mm`, `± 1/32 in`.
    #[must_use]
    pub fn spread(self, mm: f64) -> String {
        format!("± {} {}", self.bare_spread(mm), self.unit_name())
    }

    /// The same without sign and unit, for columns.
    ///
    /// Of one kind with the length beside it: fractions go up to the next 1/64, so that none says
    /// less doubt than there is, and none says there is none.
    #[must_use]
    pub fn bare_spread(self, mm: f64) -> String {
        match self.unit {
            LengthUnit::Millimetre => self.decimal(mm, 1),
            LengthUnit::InchDecimal => self.decimal(mm / MM_PER_INCH, 2),
            // Exactly 1/64 is not pushed to 1/32 by the last bit.
            LengthUnit::InchFraction => of_parts((mm / MM_PER_INCH * 64.0 - 1e-9).ceil(), 64.0),
        }
    }

    /// A limit that decides, never another value than the one that does: `3.0 mm`. In inches
    /// decimals, with the millimetres that it is kept in: `0.118 in (3.0 mm)`.
    #[must_use]
    pub fn limit(self, mm: f64) -> String {
        let exact = format!("{} mm", self.exact(mm, 1));
        match self.unit {
            LengthUnit::Millimetre => exact,
            LengthUnit::InchDecimal | LengthUnit::InchFraction => {
                format!("{} in ({exact})", self.decimal(mm / MM_PER_INCH, 3))
            }
        }
    }

    /// A plain number with a fixed number of decimals and the language's decimal mark.
    #[must_use]
    pub fn decimal(self, value: f64, places: usize) -> String {
        let text = format!("{:.places$}", value.abs());
        let text = match self.language {
            Language::English => text,
            Language::Spanish => text.replace('.', ","),
        };
        let zero = !text.chars().any(|c| ('1'..='9').contains(&c));
        if value < 0.0 && !zero {
            format!("−{text}")
        } else {
            text
        }
    }

    /// A probability as a whole percentage; what is nearly sure is not said to be: `> 99 %`.
    #[must_use]
    pub fn percent(self, probability: f64) -> String {
        match probability {
            p if p < 0.01 => "< 1 %".to_owned(),
            p if p > 0.99 => "> 99 %".to_owned(),
            p => format!("{} %", self.decimal(p * 100.0, 0)),
        }
    }

    /// A level that somebody set, as it is: `95 %`, `99.5 %`.
    #[must_use]
    pub fn level(self, share: f64) -> String {
        format!("{} %", self.exact(share * 100.0, 0))
    }

    /// A number that was set, with as many decimals as it has, at least `places`, at most four.
    fn exact(self, value: f64, places: usize) -> String {
        let says = |places: &usize| {
            let read = format!("{value:.places$}").parse::<f64>();
            read.is_ok_and(|read| (read - value).abs() < 1e-6)
        };
        self.decimal(value, (places..4).find(says).unwrap_or(4))
    }

    /// The unit's symbol.
    #[must_use]
    pub fn unit_name(self) -> &'static str {
        match self.unit {
            LengthUnit::Millimetre => "mm",
            LengthUnit::InchDecimal | LengthUnit::InchFraction => "in",
        }
    }
}

/// Inches to the nearest 1/32: finer than any tape is read, coarse enough to read at a glance.
fn fraction(inches: f64) -> String {
    let parts = of_parts((inches.abs() * 32.0).round(), 32.0);
    match inches < 0.0 && parts != "0" {
        true => format!("−{parts}"),
        false => parts,
    }
}

/// A whole number of parts of an inch, reduced: 12 of 32 are `3/8`.
fn of_parts(parts: f64, of: f64) -> String {
    let parts = parts.max(0.0);
    let whole = (parts / of).floor();
    let (mut over, mut under) = (parts - whole * of, of);
    while over > 0.0 && over % 2.0 == 0.0 {
        over /= 2.0;
        under /= 2.0;
    }
    match (whole > 0.0, over > 0.0) {
        (_, false) => format!("{whole}"),
        (true, true) => format!("{whole} {over}/{under}"),
        (false, true) => format!("{over}/{under}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figures(unit: LengthUnit, language: Language) -> Figures {
        Figures { unit, language }
    }

    #[test]
    fn millimetres_by_language() {
        let english = figures(LengthUnit::Millimetre, Language::English);
        let spanish = figures(LengthUnit::Millimetre, Language::Spanish);
        assert_eq!(english.length(-6.04), "−6.0 mm");
        assert_eq!(spanish.length(6.25), "6,2 mm");
        assert_eq!(english.signed(3.0), "+3.0");
        assert_eq!(english.signed(-0.04), "0.0");
        assert_eq!(spanish.spread(0.44), "± 0,4 mm");
    }

    #[test]
    fn inches_as_decimals_and_fractions() {
        let decimal = figures(LengthUnit::InchDecimal, Language::English);
        let fraction = figures(LengthUnit::InchFraction, Language::English);
        assert_eq!(decimal.length(25.4), "1.00 in");
        assert_eq!(fraction.length(25.4), "1 in");
        assert_eq!(fraction.length(25.4 * 16.375), "16 3/8 in");
        assert_eq!(fraction.length(-3.175), "−1/8 in");
        assert_eq!(fraction.signed(3.175), "+1/8");
        assert_eq!(fraction.signed(0.0), "0");
    }

    #[test]
    fn a_spread_is_of_one_kind_with_its_length_and_never_too_small() {
        let fraction = figures(LengthUnit::InchFraction, Language::English);
        // 1.1 mm are 2.77 sixty-fourths of an inch; 0.7 mm are 1.76.
        assert_eq!(fraction.spread(1.1), "± 3/64 in");
        assert_eq!(fraction.spread(0.7), "± 1/32 in");
        assert_eq!(fraction.spread(0.05), "± 1/64 in");
        assert_eq!(fraction.spread(0.396_875), "± 1/64 in");
        assert_eq!(fraction.bare_spread(27.0), "1 5/64");
        let decimal = figures(LengthUnit::InchDecimal, Language::Spanish);
        assert_eq!(decimal.spread(1.1), "± 0,04 in");
    }

    #[test]
    fn a_limit_is_not_rounded_to_another() {
        let english = |unit| figures(unit, Language::English);
        assert_eq!(english(LengthUnit::Millimetre).limit(3.0), "3.0 mm");
        assert_eq!(english(LengthUnit::Millimetre).limit(2.25), "2.25 mm");
        // 3 mm are 0.11811 in, and 1/8 in is 3.175 mm.
        for unit in [LengthUnit::InchFraction, LengthUnit::InchDecimal] {
            assert_eq!(english(unit).limit(3.0), "0.118 in (3.0 mm)");
            assert_eq!(english(unit).limit(3.175), "0.125 in (3.175 mm)");
        }
        let spanish = figures(LengthUnit::InchFraction, Language::Spanish);
        assert_eq!(spanish.limit(2.0), "0,079 in (2,0 mm)");
    }

    #[test]
    fn nothing_is_said_to_be_certain() {
        let english = Figures::default();
        for (probability, says) in [
            (0.0, "< 1 %"),
            (0.004, "< 1 %"),
            (0.01, "1 %"),
            (0.973, "97 %"),
            (0.99, "99 %"),
            (0.9951, "> 99 %"),
            (1.0, "> 99 %"),
        ] {
            assert_eq!(english.percent(probability), says);
        }
        assert_eq!(english.level(0.95), "95 %");
        let spanish = figures(LengthUnit::Millimetre, Language::Spanish);
        assert_eq!(spanish.level(0.995), "99,5 %");
    }
}
