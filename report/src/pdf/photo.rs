//! Photos beside each other, each with its caption; what cannot be printed is said in its place.

use std::collections::HashSet;
use std::num::NonZeroU64;

use krilla::image::Image;

use super::flow::{BODY, Flow, LEADING, SIDE, SMALL, Style, Thing};
use super::font::Run;
use crate::Photo;
use crate::model::PhotoText;

/// Largest photo that is printed: 8 MiB.
pub const MAX_PHOTO_BYTES: usize = 8 << 20;
/// Largest sum of all photos of a report: 96 MiB.
pub const MAX_ALL_PHOTO_BYTES: usize = 96 << 20;
/// Most pixels of a photo: unpacked they are four bytes each.
pub const MAX_PIXELS: u64 = 24_000_000;

const GAP: f32 = 14.0;
const MAX_HEIGHT: f32 = 215.0;

/// What becomes of a photo.
enum Shown {
    Picture(Image),
    Unreadable,
    Large,
}

/// The photos of a report, counted as they come.
pub(super) struct Photos<'a> {
    /// Numbers of photos that could not be unpacked when they were tried.
    spoilt: &'a HashSet<NonZeroU64>,
    number: usize,
    bytes: usize,
}

/// A photo's number as the writer of the file takes it.
pub(super) fn place(number: usize) -> NonZeroU64 {
    NonZeroU64::MIN.saturating_add(number as u64)
}

impl<'a> Photos<'a> {
    pub(super) fn new(spoilt: &'a HashSet<NonZeroU64>) -> Self {
        Self {
            spoilt,
            number: 0,
            bytes: 0,
        }
    }

    /// Photos beside each other.
    pub(super) fn row(&mut self, flow: &mut Flow<'_>, row: &[(&Photo, &PhotoText)]) {
        let width = (flow.width() - GAP) / 2.0;
        let cells: Vec<(Cell, usize)> = row
            .iter()
            .map(|(photo, text)| {
                let shown = self.look(photo);
                self.number += 1;
                (Cell::new(flow, shown, text, width), self.number - 1)
            })
            .collect();
        let height = cells
            .iter()
            .map(|(cell, _)| cell.height())
            .fold(0.0, f32::max);
        flow.need(height);
        let top = flow.y;
        let mut x = SIDE;
        for (cell, number) in cells {
            cell.put(flow, x, top, number);
            x += width + GAP;
        }
        flow.skip(height + 8.0);
    }

    fn look(&mut self, photo: &Photo) -> Shown {
        if self.spoilt.contains(&place(self.number)) {
            return Shown::Unreadable;
        }
        if photo.bytes.len() > MAX_PHOTO_BYTES
            || self.bytes + photo.bytes.len() > MAX_ALL_PHOTO_BYTES
        {
            return Shown::Large;
        }
        let data = photo.bytes.clone();
        let image = match photo.bytes.as_slice() {
            // Inks of a press have no profile here.
            [0xff, 0xd8, 0xff, ..] if jpeg_parts(&photo.bytes) != Some(4) => {
                Image::from_jpeg(data.into(), false)
            }
            [0x89, b'P', b'N', b'G', ..] => Image::from_png(data.into(), false),
            _ => return Shown::Unreadable,
        };
        match image {
            Err(_) => Shown::Unreadable,
            Ok(image) => {
                let (wide, high) = image.size();
                if u64::from(wide) * u64::from(high) > MAX_PIXELS {
                    return Shown::Large;
                }
                if wide == 0 || high == 0 {
                    return Shown::Unreadable;
                }
                self.bytes += photo.bytes.len();
                Shown::Picture(image)
            }
        }
    }
}

/// How many colours a JPEG has, from its start of frame (ITU-T T.81, B.2.2).
fn jpeg_parts(bytes: &[u8]) -> Option<u8> {
    let mut rest = bytes.get(2..)?;
    loop {
        let [0xff, marker, after @ ..] = rest else {
            return None;
        };
        match marker {
            // Fill, and markers that stand alone.
            0xff => rest = rest.get(1..)?,
            0x01 | 0xd0..=0xd8 => rest = after,
            0xc0..=0xcf if ![0xc4, 0xc8, 0xcc].contains(marker) => return after.get(7).copied(),
            _ => {
                let length = usize::from(u16::from_be_bytes([*after.first()?, *after.get(1)?]));
                rest = after.get(length..)?;
            }
        }
    }
}

/// A photo with its place below.
struct Cell {
    image: Option<(Image, [f32; 2])>,
    lines: Vec<(Run, Style)>,
}

impl Cell {
    fn new(flow: &Flow<'_>, shown: Shown, text: &PhotoText, room: f32) -> Self {
        let mut lines = Vec::new();
        let mut say = |text: &str, style: Style| {
            let runs = flow.break_lines(text, style, room);
            lines.extend(runs.into_iter().map(|run| (run, style)));
        };
        match &shown {
            Shown::Picture(_) => {}
            Shown::Unreadable => say(text.unreadable, BODY),
            Shown::Large => say(text.large, BODY),
        }
        say(&text.caption, BODY);
        say(&text.digest, SMALL);
        let image = match shown {
            Shown::Picture(image) => {
                let (wide, high) = image.size();
                #[expect(clippy::cast_precision_loss, reason = "sides of a photo")]
                let [wide, high] = [wide as f32, high as f32];
                let scale = (room / wide).min(MAX_HEIGHT / high);
                Some((image, [wide * scale, high * scale]))
            }
            Shown::Unreadable | Shown::Large => None,
        };
        Self { image, lines }
    }

    fn height(&self) -> f32 {
        let picture = self.image.as_ref().map_or(0.0, |(_, [_, high])| high + 3.0);
        let lines = self.lines.iter().map(|(_, style)| style.size * LEADING);
        picture + lines.sum::<f32>()
    }

    fn put(self, flow: &mut Flow<'_>, x: f32, top: f32, number: usize) {
        let mut y = top;
        if let Some((image, [wide, high])) = self.image {
            flow.put(Thing::Picture {
                image,
                at: [x, y, wide, high],
                number,
            });
            y += high + 3.0;
        }
        for (run, style) in self.lines {
            flow.set(run, x, y, style);
            y += style.size * LEADING;
        }
    }
}
