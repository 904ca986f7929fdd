//! What the tabs of one phone say to each other.
//!
//! Each tab writes under an actor of its own and never over what another has written; one at a
//! time is on the line to the server. What is said here is only a hint to look at the disk.

use serde::{Deserialize, Serialize};

/// Name of the way between the tabs.
pub const CHANNEL: &str = "baybook";
/// Name of the turn on the line.
pub const LINE: &str = "baybook-line";

/// Something said to all other tabs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "say", rename_all = "snake_case")]
pub enum TabWord {
    /// Something of this book was written to disk.
    Stored {
        /// Document id.
        book: String,
    },
    /// Whoever is on the line, ask the server for this book.
    Wanted {
        /// Document id.
        book: String,
    },
    /// Whoever is on the line, say how it is.
    Hello,
    /// How the line is.
    Line {
        /// Is there one?
        online: bool,
    },
    /// Whoever is on the line, say on this book where the person is.
    At {
        /// Document id.
        book: String,
        /// Where.
        place: String,
    },
}

impl TabWord {
    /// As text.
    #[must_use]
    pub fn to_text(&self) -> String {
        // Plain data always has a JSON form.
        serde_json::to_string(self).unwrap_or_default()
    }

    /// From text; `None` for words of another version of the app.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        serde_json::from_str(text).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_travel_as_text_and_others_are_passed_over() {
        let word = TabWord::Stored { book: "b1".into() };
        assert_eq!(word.to_text(), r#"{"say":"stored","book":"b1"}"#);
        assert_eq!(TabWord::from_text(&word.to_text()), Some(word));
        assert_eq!(TabWord::from_text(r#"{"say":"sing"}"#), None);
    }
}
