//! Texts from the top of a page to its end, and on to the next.
//!
//! Points, from the upper left corner of the page. What is laid out is a list of things per page;
//! nothing is drawn here.

use krilla::image::Image;

use super::font::{Run, Type, Weight};
use crate::model::{Line, Report};
use crate::shapes::{BLACK, Colour, FAINT, Piece, mark};

/// Left and right margin (15 mm).
pub(super) const SIDE: f32 = 42.5;
/// From the top of the page to the first line, below the head.
const TOP: f32 = 62.0;
/// From the last line to the end of the page, above the foot.
const BOTTOM: f32 = 54.0;
/// Between baselines, in sizes.
pub(super) const LEADING: f32 = 1.35;

/// How a text looks.
#[derive(Debug, Clone, Copy)]
pub(super) struct Style {
    pub(super) weight: Weight,
    pub(super) size: f32,
    pub(super) colour: Colour,
}

pub(super) const BODY: Style = Style {
    weight: Weight::Regular,
    size: 9.0,
    colour: BLACK,
};
pub(super) const SMALL: Style = Style {
    weight: Weight::Regular,
    size: 7.5,
    colour: FAINT,
};
const TITLE: Style = Style {
    weight: Weight::Bold,
    size: 16.0,
    colour: BLACK,
};
const HEADING: Style = Style {
    weight: Weight::Bold,
    size: 12.0,
    colour: BLACK,
};
const SUBHEADING: Style = Style {
    weight: Weight::Bold,
    size: 9.5,
    colour: BLACK,
};

/// Something on a page.
#[derive(Debug)]
pub(super) enum Thing {
    /// A line of text; `y` is its baseline.
    Text {
        run: Run,
        x: f32,
        y: f32,
        style: Style,
    },
    /// A horizontal rule.
    Rule {
        x: f32,
        y: f32,
        width: f32,
        thick: f32,
        colour: Colour,
    },
    /// Pieces of a drawing, moved and scaled, cut at a box.
    Pieces {
        pieces: Vec<Piece>,
        /// Where the drawing's origin stands.
        origin: [f32; 2],
        scale: f32,
        /// Left, top, width, height; framed.
        frame: Option<[f32; 4]>,
    },
    /// A picture: left, top, width, height, and its number among the photos.
    Picture {
        image: Image,
        at: [f32; 4],
        number: usize,
    },
}

/// Pages that fill from the top.
pub(super) struct Flow<'a> {
    pub(super) typeface: &'a Type,
    pub(super) report: &'a Report,
    pages: Vec<Vec<Thing>>,
    /// Where the next thing begins.
    pub(super) y: f32,
    size: [f32; 2],
}

impl<'a> Flow<'a> {
    pub(super) fn new(typeface: &'a Type, report: &'a Report) -> Self {
        Self {
            typeface,
            report,
            pages: vec![Vec::new()],
            y: TOP,
            size: report.paper.points(),
        }
    }

    pub(super) fn into_pages(self) -> Vec<Vec<Thing>> {
        self.pages
    }

    /// Width between the margins.
    pub(super) fn width(&self) -> f32 {
        self.size[0] - 2.0 * SIDE
    }

    /// Height of an empty page between head and foot.
    pub(super) fn whole_height(&self) -> f32 {
        self.size[1] - TOP - BOTTOM
    }

    /// What is left of this page.
    pub(super) fn left(&self) -> f32 {
        self.size[1] - BOTTOM - self.y
    }

    pub(super) fn put(&mut self, thing: Thing) {
        if let Some(page) = self.pages.last_mut() {
            page.push(thing);
        }
    }

    pub(super) fn next_page(&mut self) {
        self.pages.push(Vec::new());
        self.y = TOP;
    }

    /// Begins a new page when so much does not fit on this one any more.
    pub(super) fn need(&mut self, height: f32) {
        if self.left() < height && self.y > TOP {
            self.next_page();
        }
    }

    pub(super) fn skip(&mut self, height: f32) {
        self.y += height;
    }

    /// A text in lines of at most a width.
    pub(super) fn break_lines(&self, text: &str, style: Style, width: f32) -> Vec<Run> {
        let room = width / style.size;
        let space = self.typeface.word(style.weight, " ");
        let mut lines = Vec::new();
        let mut line = Run::default();
        for word in text.split_whitespace() {
            let run = self.typeface.word(style.weight, word);
            let gap = if line.text.is_empty() {
                0.0
            } else {
                space.width
            };
            if !line.text.is_empty() && line.width + gap + run.width > room {
                lines.push(std::mem::take(&mut line));
            }
            if run.width > room {
                self.break_word(word, style, room, &mut lines, &mut line);
                continue;
            }
            if !line.text.is_empty() {
                line.push(&space);
            }
            line.push(&run);
        }
        if !line.text.is_empty() {
            lines.push(line);
        }
        lines
    }

    /// A word that is longer than a line, broken anywhere.
    fn break_word(
        &self,
        word: &str,
        style: Style,
        room: f32,
        lines: &mut Vec<Run>,
        line: &mut Run,
    ) {
        let mut part = String::new();
        for c in word.chars() {
            part.push(c);
            let is_full = self.typeface.line(style.weight, &part).width > room;
            if is_full && part.chars().count() > 1 {
                part.pop();
                lines.push(self.typeface.line(style.weight, &part));
                part = c.to_string();
            }
        }
        *line = self.typeface.line(style.weight, &part);
    }

    /// One line of text at a place, from its upper edge.
    pub(super) fn set(&mut self, run: Run, x: f32, top: f32, style: Style) {
        // The ascent of the face, and half of what is between two lines.
        let y = top + style.size * (0.93 + (LEADING - 1.16) / 2.0);
        self.put(Thing::Text { run, x, y, style });
    }

    /// A text from here on, over pages where it must be.
    pub(super) fn text(&mut self, text: &str, style: Style, x: f32, width: f32) {
        let step = style.size * LEADING;
        for run in self.break_lines(text, style, width) {
            self.need(step);
            let top = self.y;
            self.set(run, x, top, style);
            self.skip(step);
        }
    }

    pub(super) fn title(&mut self, text: &str) {
        let width = self.width();
        self.text(text, TITLE, SIDE, width);
        self.rule(1.5, crate::shapes::BEAM);
        self.skip(8.0);
    }

    /// A section's heading, on a page that has room for so much.
    pub(super) fn heading(&mut self, text: &str, least: f32) {
        self.skip(14.0);
        self.need(least);
        let width = self.width();
        self.text(text, HEADING, SIDE, width);
        self.rule(0.5, crate::shapes::RULE);
        self.skip(6.0);
    }

    pub(super) fn subheading(&mut self, text: &str) {
        self.skip(5.0);
        self.need(44.0);
        let width = self.width();
        self.text(text, SUBHEADING, SIDE, width);
        self.skip(2.0);
    }

    pub(super) fn paragraph(&mut self, text: &str) {
        let width = self.width();
        self.text(text, BODY, SIDE, width);
        self.skip(4.0);
    }

    pub(super) fn note(&mut self, text: &str) {
        let width = self.width();
        self.text(text, SMALL, SIDE, width);
        self.skip(5.0);
    }

    fn rule(&mut self, thick: f32, colour: Colour) {
        let (y, width) = (self.y + 2.0, self.width());
        self.put(Thing::Rule {
            x: SIDE,
            y,
            width,
            thick,
            colour,
        });
        self.skip(2.0 + thick);
    }

    /// Names on the left, values beside them.
    pub(super) fn facts(&mut self, facts: &[[String; 2]]) {
        const NAMES: f32 = 118.0;
        let name_style = Style {
            colour: FAINT,
            ..BODY
        };
        let step = BODY.size * LEADING;
        for [name, value] in facts {
            let names = self.break_lines(name, name_style, NAMES - 8.0);
            let values = self.break_lines(value, BODY, self.width() - NAMES);
            for index in 0..names.len().max(values.len()) {
                self.need(step);
                let top = self.y;
                if let Some(run) = names.get(index) {
                    self.set(run.clone(), SIDE, top, name_style);
                }
                if let Some(run) = values.get(index) {
                    self.set(run.clone(), SIDE + NAMES, top, BODY);
                }
                self.skip(step);
            }
        }
        self.skip(4.0);
    }

    /// Sentences with their marks and what belongs to them.
    pub(super) fn lines(&mut self, lines: &[Line]) {
        const INDENT: f32 = 13.0;
        let width = self.width() - INDENT;
        for line in lines {
            let text = match line.mark {
                Some(verdict) => format!("{} · {}", self.report.verdict(verdict), line.text),
                None => line.text.clone(),
            };
            let height = self.break_lines(&text, BODY, width).len();
            #[expect(clippy::cast_precision_loss, reason = "a sentence has few lines")]
            self.need((height as f32 * BODY.size * LEADING).min(self.whole_height()));
            let middle = self.y + BODY.size * LEADING / 2.0;
            match line.mark {
                Some(verdict) => self.mark(verdict, SIDE + 5.0, middle, 3.4),
                None => self.dash(SIDE + 2.0, middle),
            }
            self.text(&text, BODY, SIDE + INDENT, width);
            for more in &line.more {
                self.text(more, SMALL, SIDE + INDENT, width);
            }
            self.skip(2.5);
        }
        self.skip(3.0);
    }

    pub(super) fn mark(&mut self, verdict: shared::verdict::Verdict, x: f32, y: f32, r: f32) {
        self.put(Thing::Pieces {
            pieces: vec![mark(verdict, [0.0, 0.0], f64::from(r))],
            origin: [x, y],
            scale: 1.0,
            frame: None,
        });
    }

    fn dash(&mut self, x: f32, y: f32) {
        self.put(Thing::Rule {
            x,
            y,
            width: 5.0,
            thick: 0.7,
            colour: FAINT,
        });
    }
}
