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

    /// A standard uncertainty: `± 0.4 mm`. Fractions would be too coarse, so inches are decimal.
    #[must_use]
    pub fn spread(self, mm: f64) -> String {
        format!("± {} {}", self.bare_spread(mm), self.unit_name())
    }

    /// The same without sign and unit, for columns.
    #[must_use]
    pub fn bare_spread(self, mm: f64) -> String {
        match self.unit {
            LengthUnit::Millimetre => self.decimal(mm, 1),
            LengthUnit::InchDecimal | LengthUnit::InchFraction => self.decimal(mm / MM_PER_INCH, 2),
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

    /// A probability as a whole percentage.
    #[must_use]
    pub fn percent(self, probability: f64) -> String {
        format!("{} %", self.decimal(probability * 100.0, 0))
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
    const PARTS: f64 = 32.0;
    let parts = (inches.abs() * PARTS).round();
    let whole = (parts / PARTS).floor();
    let mut over = parts - whole * PARTS;
    let mut under = PARTS;
    while over > 0.0 && over % 2.0 == 0.0 {
        over /= 2.0;
        under /= 2.0;
    }
    let sign = if inches < 0.0 && parts > 0.0 {
        "−"
    } else {
        ""
    };
    match (whole > 0.0, over > 0.0) {
        (_, false) => format!("{sign}{whole}"),
        (true, true) => format!("{sign}{whole} {over}/{under}"),
        (false, true) => format!("{sign}{over}/{under}"),
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
}
