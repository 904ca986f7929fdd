//! What a report holds, in the order it is read: sections of blocks, every text ready to be shown.
//!
//! Nothing here is judged or computed again by those who write it down.

use shared::drawing::Window;
use shared::figures::Language;
use shared::verdict::Verdict;

use crate::Photo;

/// Size of the paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Paper {
    /// ISO 216 A4, 210 × 297 mm.
    #[default]
    A4,
    /// ANSI/ASME Y14.1 A, 8.5 × 11 in.
    Letter,
}

impl Paper {
    /// Every size.
    pub const ALL: [Self; 2] = [Self::A4, Self::Letter];

    /// Name in addresses and style sheets.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::Letter => "letter",
        }
    }

    /// Width and height in points (1/72 in).
    #[must_use]
    pub fn points(self) -> [f32; 2] {
        match self {
            Self::A4 => [595.28, 841.89],
            Self::Letter => [612.0, 792.0],
        }
    }
}

/// The whole report.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// Language of every text.
    pub language: Language,
    /// Size of the paper.
    pub paper: Paper,
    /// What it is.
    pub title: String,
    /// The job and its car, for the head of every page.
    pub job: String,
    /// When it was made, for the foot of every page.
    pub made: String,
    /// The same as RFC 3339 text.
    pub made_at: String,
    /// The line that stands on every page: what it does not do.
    pub foot: &'static str,
    /// `Page {} of {}`.
    pub page: &'static str,
    /// The words of the verdicts: within, outside, unproven.
    pub verdicts: [&'static str; 3],
    /// What it says.
    pub sections: Vec<Section>,
}

impl Report {
    /// The word of a verdict.
    #[must_use]
    pub fn verdict(&self, verdict: Verdict) -> &'static str {
        let [within, outside, unproven] = self.verdicts;
        match verdict {
            Verdict::Within => within,
            Verdict::Outside => outside,
            Verdict::Unproven => unproven,
        }
    }
}

/// A part with its heading.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// The heading.
    pub title: String,
    /// What stands below it.
    pub blocks: Vec<Block>,
}

/// One piece of a section.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// A heading below the section's.
    Heading(String),
    /// A paragraph.
    Paragraph(String),
    /// A paragraph for those who want to know: smaller.
    Note(String),
    /// Names and values, one below the other.
    Facts(Vec<[String; 2]>),
    /// Sentences, each on a line of its own.
    Lines(Vec<Line>),
    /// A table whose head stands on every page that it reaches.
    Table(Table),
    /// Drawings beside each other.
    Drawings(Vec<Drawing>),
    /// A photo.
    Photo(Photo, PhotoText),
}

/// A sentence, with what belongs to it below.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Line {
    /// The verdict whose mark stands in front.
    pub mark: Option<Verdict>,
    /// The sentence.
    pub text: String,
    /// Smaller, below.
    pub more: Vec<String>,
}

impl Line {
    /// A sentence alone.
    #[must_use]
    pub fn of(text: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            ..Self::default()
        }
    }
}

/// A table.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Columns: heading and share of the width.
    pub columns: Vec<(String, f32)>,
    /// Rows, each with a cell per column.
    pub rows: Vec<Vec<Cell>>,
}

/// One cell.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Cell {
    /// The verdict whose mark stands in front and whose word behind.
    pub mark: Option<Verdict>,
    /// The value.
    pub text: String,
}

impl Cell {
    /// A text without a verdict.
    #[must_use]
    pub fn of(text: impl Into<String>) -> Self {
        Self {
            mark: None,
            text: text.into(),
        }
    }
}

/// One drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// What it shows.
    pub title: String,
    /// The part of the car's paper that is shown, millimetres of the car.
    pub window: Window,
    /// What is drawn, the first at the bottom.
    pub shapes: Vec<Shape>,
}

impl Drawing {
    /// A hundredth of the window's longer side: what line widths and marks are measured in.
    #[must_use]
    pub fn unit(&self) -> f64 {
        self.window.longer() / 100.0
    }
}

/// Size of the numbers of a drawing in its units.
pub const NUMBER_SIZE: f64 = 3.4;

/// How a shape is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// Members.
    Member,
    /// The centre plane.
    Centre,
    /// What is sure, or not judged.
    Plain,
    /// What is outside.
    Outside,
    /// From a point to its number.
    Leader,
}

/// Something on the paper; places in millimetres of the car.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A line through places.
    Line(Ink, Vec<[f64; 2]>),
    /// An arrow with the ring at its end.
    Arrow(Ink, shared::drawing::Arrow),
    /// The mark of a point.
    Mark {
        /// Where.
        at: [f64; 2],
        /// Its verdict.
        verdict: Option<Verdict>,
        /// Is anything of this view measured?
        measured: bool,
        /// May it define the frame?
        trusted: bool,
    },
    /// A number beside a point.
    Number {
        /// Where it begins, or ends when it stands left of its point.
        foot: [f64; 2],
        /// The number.
        text: String,
        /// Does it stand left of the point?
        leftward: bool,
    },
}

/// What stands below a photo.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PhotoText {
    /// Caption, who and when.
    pub caption: String,
    /// The digest.
    pub digest: String,
    /// What to say in place of a photo whose file cannot be read.
    pub unreadable: &'static str,
    /// What to say in place of one that is too large.
    pub large: &'static str,
}
