//! What the tabs of one phone say to each other.
//!
//! Each tab writes under an actor of its own and never over what another has written; one at a
//! time is on the line to the server. What is said here is only a hint to look at the disk.

/// Name of the way between the tabs.
pub const CHANNEL: &str = "baybook";
/// Name of the turn on the line.
pub const LINE: &str = "baybook-line";

/// Something said to all other tabs.
#[derive(Debug, Clone, PartialEq, Eq)]
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
    /// As text: a word, and what it is about.
    #[must_use]
    pub fn to_text(&self) -> String {
        match self {
            Self::Stored { book } => format!("stored {book}"),
            Self::Wanted { book } => format!("wanted {book}"),
            Self::Hello => "hello".to_owned(),
            Self::Line { online: true } => "line open".to_owned(),
            Self::Line { online: false } => "line cut".to_owned(),
            Self::At { book, place } => format!("at {book} {place}"),
        }
    }

    /// From text; `None` for words of another version of the app.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let (word, about) = text.split_once(' ').unwrap_or((text, ""));
        let book = || about.to_owned();
        Some(match (word, about) {
            ("stored", _) => Self::Stored { book: book() },
            ("wanted", _) => Self::Wanted { book: book() },
            ("hello", "") => Self::Hello,
            ("line", "open") => Self::Line { online: true },
            ("line", "cut") => Self::Line { online: false },
            ("at", _) => {
                let (book, place) = about.split_once(' ')?;
                Self::At {
                    book: book.to_owned(),
                    place: place.to_owned(),
                }
            }
            _ => return None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_travel_as_text_and_others_are_passed_over() {
        let book = || "2NVjKuBwoGPHuvwRyywHHGEKTrc5".to_owned();
        for word in [
            TabWord::Stored { book: book() },
            TabWord::Wanted { book: book() },
            TabWord::Hello,
            TabWord::Line { online: true },
            TabWord::Line { online: false },
            TabWord::At {
                book: book(),
                place: "strut tower · left".into(),
            },
        ] {
            assert_eq!(TabWord::from_text(&word.to_text()), Some(word));
        }
        for text in ["", "sing", "line", "line bent", "at nowhere", "hello you"] {
            assert_eq!(TabWord::from_text(text), None, "{text}");
        }
    }
}
