//! The words of the demo car, in every language beside each other; a missing one does not compile.
//!
//! They stand in the book as its people would have typed them, so an app in another language shows
//! them as they are. Points and members have theirs from [`crate::body`]. The trade's words are those
//! of the screens.

use crate::figures::Language;

/// What somebody typed, by what it is for.
#[derive(Debug)]
pub(super) struct Words {
    pub(super) vehicle: &'static str,
    pub(super) setup_front: &'static str,
    pub(super) setup_rear: &'static str,
    pub(super) as_received: &'static str,
    pub(super) pull_under: &'static str,
    pub(super) pull_released: &'static str,
    pub(super) digits_swapped: &'static str,
    pub(super) over_the_hanger: &'static str,
    pub(super) decimal_mark: &'static str,
}

const ENGLISH: Words = Words {
    vehicle: "five-door hatch, demo",
    setup_front: "front of bay",
    setup_rear: "rear of bay",
    as_received: "as received",
    pull_under: "pull 1, under load",
    pull_released: "pull 1, released",
    digits_swapped: "digits swapped, read again",
    over_the_hanger: "tape lay over the exhaust hanger",
    decimal_mark: ".",
};

const SPANISH: Words = Words {
    vehicle: "compacto de cinco puertas, demo",
    setup_front: "al frente del taller",
    setup_rear: "al fondo del taller",
    as_received: "como llegó",
    pull_under: "tirón 1, bajo carga",
    pull_released: "tirón 1, sin carga",
    digits_swapped: "dos cifras cambiadas, leída de nuevo",
    over_the_hanger: "la cinta pasaba por encima del soporte del escape",
    decimal_mark: ",",
};

impl Words {
    /// The words of a language.
    pub(super) fn of(language: Language) -> &'static Self {
        match language {
            Language::English => &ENGLISH,
            Language::Spanish => &SPANISH,
        }
    }

    /// A length as somebody typed it.
    pub(super) fn typed(&self, value_mm: f64) -> String {
        format!("{value_mm} mm").replace('.', self.decimal_mark)
    }
}
