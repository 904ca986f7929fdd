//! A page of lines: what is in a line cannot break it or steer the terminal.

use std::fmt::Display;

use crate::plain::plain;

/// Lines that have been written.
#[derive(Debug, Default)]
pub(super) struct Page(String);

impl Page {
    /// Writes one line. Line ends and controls inside it, from somebody's names, are written out.
    pub(super) fn line(&mut self, text: impl Display) {
        self.0.push_str(&plain(&text.to_string()));
        self.0.push('\n');
    }

    /// An empty line.
    pub(super) fn gap(&mut self) {
        self.0.push('\n');
    }

    pub(super) fn into_text(self) -> String {
        self.0
    }
}
