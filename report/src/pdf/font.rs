//! The two faces of the report, and texts as glyphs with widths.
//!
//! Widths in ems. A character that the faces do not have is written out by number, so that nothing
//! of a name is lost and no glyph is missing (ISO 19005-2, 6.2.11.8).

use std::cell::RefCell;
use std::collections::{BTreeSet, HashMap};
use std::fmt::Write as _;
use std::rc::Rc;

use krilla::text::{Font, GlyphId, KrillaGlyph};
use rustybuzz::UnicodeBuffer;

/// Which face.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Weight {
    Regular,
    Bold,
}

/// A text as glyphs.
#[derive(Debug, Clone, Default)]
pub(super) struct Run {
    pub(super) text: String,
    pub(super) glyphs: Vec<KrillaGlyph>,
    /// Ems.
    pub(super) width: f32,
}

impl Run {
    /// Sets another behind this one.
    pub(super) fn push(&mut self, next: &Self) {
        let begin = self.text.len();
        self.text.push_str(&next.text);
        self.glyphs.extend(next.glyphs.iter().map(|glyph| {
            let mut glyph = glyph.clone();
            glyph.text_range = glyph.text_range.start + begin..glyph.text_range.end + begin;
            glyph
        }));
        self.width += next.width;
    }
}

struct Face {
    font: Font,
    shaper: rustybuzz::Face<'static>,
    em: f32,
}

impl Face {
    fn new(bytes: &'static [u8]) -> Option<Self> {
        let shaper = rustybuzz::Face::from_slice(bytes, 0)?;
        #[expect(
            clippy::cast_precision_loss,
            reason = "units of an em are a few thousand"
        )]
        let em = shaper.units_per_em() as f32;
        Some(Self {
            font: Font::new(bytes.into(), 0)?,
            shaper,
            em,
        })
    }
}

/// Both faces, and the words that were shaped.
pub(super) struct Type {
    regular: Face,
    bold: Face,
    known: RefCell<HashMap<(Weight, String), Rc<Run>>>,
}

impl Type {
    pub(super) fn new() -> Option<Self> {
        Some(Self {
            regular: Face::new(dejavu::sans_condensed::regular())?,
            bold: Face::new(dejavu::sans_condensed::bold())?,
            known: RefCell::default(),
        })
    }

    fn face(&self, weight: Weight) -> &Face {
        match weight {
            Weight::Regular => &self.regular,
            Weight::Bold => &self.bold,
        }
    }

    pub(super) fn font(&self, weight: Weight) -> Font {
        self.face(weight).font.clone()
    }

    /// A word, or any text that stays together.
    pub(super) fn word(&self, weight: Weight, text: &str) -> Rc<Run> {
        let key = (weight, text.to_owned());
        if let Some(run) = self.known.borrow().get(&key) {
            return run.clone();
        }
        let run = Rc::new(self.shape(weight, text));
        self.known.borrow_mut().insert(key, run.clone());
        run
    }

    /// A text on one line.
    pub(super) fn line(&self, weight: Weight, text: &str) -> Run {
        let mut line = Run::default();
        for (index, word) in text.split(' ').enumerate() {
            if index > 0 {
                line.push(&self.word(weight, " "));
            }
            line.push(&self.word(weight, word));
        }
        line
    }

    fn shape(&self, weight: Weight, text: &str) -> Run {
        let face = self.face(weight);
        let text = self.printable(weight, text);
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(&text);
        buffer.guess_segment_properties();
        let shaped = rustybuzz::shape(&face.shaper, &[], buffer);
        let starts: BTreeSet<usize> = shaped
            .glyph_infos()
            .iter()
            .map(|info| info.cluster as usize)
            .collect();
        let end = |start: usize| starts.range(start + 1..).next().copied();
        let mut run = Run::default();
        for (info, place) in shaped.glyph_infos().iter().zip(shaped.glyph_positions()) {
            let start = info.cluster as usize;
            #[expect(
                clippy::cast_precision_loss,
                reason = "units of an em are a few thousand"
            )]
            let ems = |units: i32| units as f32 / face.em;
            run.width += ems(place.x_advance);
            run.glyphs.push(KrillaGlyph::new(
                GlyphId::new(info.glyph_id),
                ems(place.x_advance),
                ems(place.x_offset),
                ems(place.y_offset),
                ems(place.y_advance),
                start..end(start).unwrap_or(text.len()),
                None,
            ));
        }
        run.text = text;
        run
    }

    /// The text in characters that the face has; joiners without width are left out.
    fn printable(&self, weight: Weight, text: &str) -> String {
        let face = self.face(weight);
        let mut out = String::with_capacity(text.len());
        for c in text.chars() {
            match c {
                '\u{200c}' | '\u{200d}' | '\u{fe00}'..='\u{fe0f}' => {}
                '\t' | '\n' | '\r' => out.push(' '),
                c if face.shaper.glyph_index(c).is_some_and(|glyph| glyph.0 != 0) => out.push(c),
                // A text takes everything that is written to it.
                c => drop(write!(out, "{}", c.escape_unicode())),
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_have_one_width_and_unknown_characters_are_written_out() {
        let face = Type::new().unwrap();
        for weight in [Weight::Regular, Weight::Bold] {
            let width = |text: &str| face.word(weight, text).width;
            for digit in '0'..='9' {
                assert!(
                    (width(&digit.to_string()) - width("0")).abs() < 1e-6,
                    "{digit}"
                );
            }
            let run = face.line(weight, "Å ñ ± − → · Ελ Жук 車");
            assert_eq!(run.text, "Å ñ ± − → · Ελ Жук \\u{8eca}");
            assert!(run.glyphs.iter().all(|glyph| glyph.glyph_id.to_u32() != 0));
            let last = run.glyphs.last().unwrap().text_range.end;
            assert_eq!(last, run.text.len());
        }
    }
}
