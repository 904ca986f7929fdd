//! Why the book did not take something, in a person's language.

use shared::book::EditError;
use shared::job::rules::What;

use super::sentences::Voice;

impl Voice {
    /// What a person can run into is said in their language; the rest is for whoever looks into it.
    #[must_use]
    pub fn refused(self, error: &EditError) -> String {
        let words = self.measuring;
        let why = match error {
            EditError::Impossible(_, What::NoDistance { .. }) => words.no_distance,
            EditError::Impossible(_, What::NotALength(_)) => words.no_length,
            EditError::NoReason => words.needs_reason,
            EditError::Missing(_) => words.not_in_book,
            error => return format!("{} {error}", self.words.edit_refused),
        };
        format!("{} {why}", self.words.edit_refused)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measuring::figures::Figures;
    use crate::text::{Language, Speaks};

    #[test]
    fn what_a_person_can_run_into_is_said_in_their_language() {
        let say = |language: Language, error: &EditError| {
            Voice::of(language.words(), language.measuring(), Figures::default()).refused(error)
        };
        let none = What::NoDistance {
            kind: "span",
            value_mm: 0.0,
        };
        let errors = [
            EditError::Impossible("01".to_owned(), none),
            EditError::Impossible("01".to_owned(), What::NotALength(1e9)),
            EditError::NoReason,
            EditError::Missing("01".to_owned()),
        ];
        for error in errors {
            let (english, spanish) = (
                say(Language::English, &error),
                say(Language::Spanish, &error),
            );
            assert!(english.starts_with("That was not recorded: "), "{english}");
            assert!(spanish.starts_with("No se registró: "), "{spanish}");
            assert!(!spanish.contains(&error.to_string()), "{spanish}");
        }
    }
}
