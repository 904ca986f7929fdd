//! A task that a person chose, and how it travels from one screen to another.

use shared::ids::{PointId, ReadingId};

use crate::measuring::task::{Kind, Task};

/// A task that a person chose.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// What to read.
    pub task: Task,
    /// The reading that is to be corrected; what others read since is theirs.
    pub corrects: Option<ReadingId>,
}

impl Choice {
    /// As one line of text, for going to Read from another screen.
    #[must_use]
    pub fn to_line(&self) -> String {
        let Task { kind, point, to } = &self.task;
        let to = to.as_ref().map_or(NONE, PointId::as_str);
        let corrects = self.corrects.as_ref().map_or(NONE, ReadingId::as_str);
        format!("{} {point} {to} {corrects}", kind.name())
    }

    /// Reads such a line.
    #[must_use]
    pub fn from_line(text: &str) -> Option<Self> {
        let mut words = text.split(' ');
        let task = Task {
            kind: Kind::named(words.next()?)?,
            point: PointId::parse(words.next()?).ok()?,
            to: words.next().and_then(|id| PointId::parse(id).ok()),
        };
        let corrects = words.next().and_then(|id| ReadingId::parse(id).ok());
        Some(Self { task, corrects })
    }
}

/// What stands in a line where there is nothing; no id is empty.
const NONE: &str = "";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_choice_travels_as_a_line_of_text() {
        let id = |text| PointId::parse(text).unwrap();
        let task = |kind, to| Task {
            kind,
            point: id("tower-L"),
            to,
        };
        let corrects = ReadingId::parse("01J").ok();
        for choice in [
            Choice {
                task: task(Kind::Height, None),
                corrects: corrects.clone(),
            },
            Choice {
                task: task(Kind::Span, Some(id("tower-R"))),
                corrects,
            },
            Choice {
                task: task(Kind::Height, None),
                corrects: None,
            },
        ] {
            assert_eq!(Choice::from_line(&choice.to_line()), Some(choice));
        }
        assert_eq!(Choice::from_line("nonsense"), None);
    }
}
