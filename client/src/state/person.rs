//! A person's own choices on this phone: language, unit, light.

use leptos::prelude::*;

use crate::measuring::figures::{Figures, LengthUnit};
use crate::measuring::sentences::Voice;
use crate::platform;
use crate::text::laser::Laser;
use crate::text::library::Library;
use crate::text::measuring::Measuring;
use crate::text::office::Office;
use crate::text::photos::Photos;
use crate::text::practice::Practice;
use crate::text::report::Report;
use crate::text::{Language, Speaks, Words};

/// Light of the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Light {
    /// As the phone says.
    Auto,
    /// Paper in the sun.
    Day,
    /// Dark bay.
    Bay,
}

impl Light {
    /// Name kept in the browser and set on the page.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Auto => "auto",
            Self::Day => "day",
            Self::Bay => "bay",
        }
    }
}

/// Name of a unit kept in the browser. `inch` is of before there were two kinds, and means fractions.
fn unit_name(unit: LengthUnit) -> &'static str {
    match unit {
        LengthUnit::Millimetre => "mm",
        LengthUnit::InchDecimal => "inch-decimal",
        LengthUnit::InchFraction => "inch",
    }
}

fn unit_of(kept: Option<&str>) -> LengthUnit {
    match kept {
        Some("inch") => LengthUnit::InchFraction,
        Some("inch-decimal") => LengthUnit::InchDecimal,
        _ => LengthUnit::Millimetre,
    }
}

/// The choices, as signals.
#[derive(Debug, Clone, Copy)]
pub struct Person {
    /// Language of all words.
    pub language: RwSignal<Language>,
    /// How lengths are shown and entered.
    pub unit: RwSignal<LengthUnit>,
    /// Light of the screen.
    pub light: RwSignal<Light>,
}

impl Person {
    /// Reads what was kept, and keeps what changes.
    #[must_use]
    pub fn remember() -> Self {
        let chosen = platform::kept("language").or_else(platform::first_language);
        let language = match chosen.as_deref().and_then(|code| code.get(..2)) {
            Some("es") => Language::Spanish,
            _ => Language::English,
        };
        let light = match platform::kept("light").as_deref() {
            Some("day") => Light::Day,
            Some("bay") => Light::Bay,
            _ => Light::Auto,
        };
        let person = Self {
            language: RwSignal::new(language),
            unit: RwSignal::new(unit_of(platform::kept("unit").as_deref())),
            light: RwSignal::new(light),
        };
        Effect::new(move || {
            let (language, light) = (person.language.get(), person.light.get());
            platform::keep("language", language.code());
            platform::keep("light", light.name());
            platform::keep("unit", unit_name(person.unit.get()));
            platform::dress(light.name(), language.code());
        });
        person
    }

    /// The words of the measuring screens; follows the language.
    #[must_use]
    pub fn measuring(&self) -> &'static Measuring {
        self.language.get().measuring()
    }

    /// The words of sign-off, sharing and the owner's desk; follows the language.
    #[must_use]
    pub fn office(&self) -> &'static Office {
        self.language.get().office()
    }

    /// One word of the measuring screens, which follows the language.
    ///
    /// A signal, not a closure at each label: the code that shows it is in the first load once.
    #[must_use]
    pub fn measuring_word(
        self,
        pick: fn(&'static Measuring) -> &'static str,
    ) -> Signal<&'static str> {
        Signal::derive(move || pick(self.measuring()))
    }

    /// The same of the words about lasers and where they stand.
    #[must_use]
    pub fn laser_word(self, pick: fn(&'static Laser) -> &'static str) -> Signal<&'static str> {
        Signal::derive(move || pick(self.language.get().laser()))
    }

    /// The same of the words of the dimension library.
    #[must_use]
    pub fn library_word(self, pick: fn(&'static Library) -> &'static str) -> Signal<&'static str> {
        Signal::derive(move || pick(self.library()))
    }

    /// The words of the dimension library; follows the language.
    #[must_use]
    pub fn library(&self) -> &'static Library {
        self.language.get().library()
    }

    /// The words of the practice bay; follows the language.
    #[must_use]
    pub fn practice(&self) -> &'static Practice {
        self.language.get().practice()
    }

    /// One of them.
    #[must_use]
    pub fn practice_word(
        self,
        pick: fn(&'static Practice) -> &'static str,
    ) -> Signal<&'static str> {
        Signal::derive(move || pick(self.practice()))
    }

    /// The words around the report; follows the language.
    #[must_use]
    pub fn report(&self) -> &'static Report {
        self.language.get().report()
    }

    /// The words of the photos' page; follows the language.
    #[must_use]
    pub fn photos(&self) -> &'static Photos {
        self.language.get().photos()
    }

    /// One of them.
    #[must_use]
    pub fn photos_word(self, pick: fn(&'static Photos) -> &'static str) -> Signal<&'static str> {
        Signal::derive(move || pick(self.photos()))
    }

    /// One of the words around the report.
    #[must_use]
    pub fn report_word(self, pick: fn(&'static Report) -> &'static str) -> Signal<&'static str> {
        Signal::derive(move || pick(self.report()))
    }

    /// The same of the words of sign-off, sharing and the owner's desk.
    #[must_use]
    pub fn office_word(self, pick: fn(&'static Office) -> &'static str) -> Signal<&'static str> {
        Signal::derive(move || pick(self.office()))
    }

    /// Words and numbers together, for sentences.
    #[must_use]
    pub fn voice(&self) -> Voice {
        Voice::of(self.words(), self.measuring(), self.figures())
    }

    /// The same of all other words.
    #[must_use]
    pub fn word(self, pick: fn(&'static Words) -> &'static str) -> Signal<&'static str> {
        Signal::derive(move || pick(self.words()))
    }

    /// Numbers as this person reads them; follows unit and language.
    #[must_use]
    pub fn figures(&self) -> Figures {
        Figures {
            unit: self.unit.get(),
            language: self.language.get(),
        }
    }

    /// The words of the chosen language; follows it.
    #[must_use]
    pub fn words(&self) -> &'static Words {
        self.language.get().words()
    }
}

/// The person of this app.
#[must_use]
pub fn person() -> Person {
    expect_context()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_that_was_kept_is_read_again() {
        use LengthUnit::{InchDecimal, InchFraction, Millimetre};
        for unit in [Millimetre, InchDecimal, InchFraction] {
            assert_eq!(unit_of(Some(unit_name(unit))), unit);
        }
        // What phones have kept so far.
        assert_eq!(unit_of(Some("inch")), InchFraction);
        assert_eq!(unit_of(Some("mm")), Millimetre);
        assert_eq!(unit_of(None), Millimetre);
    }
}
