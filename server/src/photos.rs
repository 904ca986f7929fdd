//! Is a file the photo that it is said to be? Asked of every upload before it counts.
//!
//! A look at the outside alone: nothing is unpacked. This file refuses to know where files are kept.

use shared::book::photo::{MAX_PIXELS, MAX_SIDE_PX, Media};
use shared::proof::Digest;

/// Looks at a whole file.
///
/// # Errors
/// `digest` when its bytes are others than those that were announced, `type` when it is no such
/// picture, or one of more pixels than a book takes.
pub fn look(bytes: &[u8], digest: &Digest, media: Media) -> Result<(), &'static str> {
    if Digest::of(bytes) != *digest {
        return Err("digest");
    }
    let sides = match media {
        Media::Jpeg => jpeg_sides(bytes),
        Media::Png => png_sides(bytes),
    };
    let [wide, high] = sides.ok_or("type")?;
    let sound = |side| (1..=MAX_SIDE_PX).contains(&side);
    let fits = u64::from(wide) * u64::from(high) <= MAX_PIXELS;
    match sound(wide) && sound(high) && fits {
        true => Ok(()),
        false => Err("type"),
    }
}

/// Width and height by the start of frame; `None` without one before the first scan (ITU-T T.81,
/// annex B).
fn jpeg_sides(bytes: &[u8]) -> Option<[u32; 2]> {
    let mut rest = bytes.strip_prefix(&[0xff, 0xd8])?;
    let mut sides = None;
    loop {
        let [0xff, marker, after @ ..] = rest else {
            return None;
        };
        if *marker == 0xff {
            // Fill.
            rest = rest.get(1..)?;
            continue;
        }
        let length = usize::from(u16::from_be_bytes([*after.first()?, *after.get(1)?]));
        match marker {
            0xc0..=0xcf if ![0xc4, 0xc8, 0xcc].contains(marker) => {
                let [high, wide] = [after.get(3..5)?, after.get(5..7)?]
                    .map(|side| u32::from(side[0]) << 8 | u32::from(side[1]));
                sides = Some([wide, high]);
            }
            // The picture itself begins.
            0xda => return sides,
            0xc4 | 0xcc | 0xdb..=0xef | 0xfe => {}
            _ => return None,
        }
        rest = after.get(length.max(2)..)?;
    }
}

/// Width and height by the header, which comes first (ISO/IEC 15948, clauses 5 and 11.2.2).
fn png_sides(bytes: &[u8]) -> Option<[u32; 2]> {
    let rest = bytes.strip_prefix(b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR")?;
    let side = |at: usize| {
        let side: [u8; 4] = rest.get(at..at + 4)?.try_into().ok()?;
        Some(u32::from_be_bytes(side))
    };
    Some([side(0)?, side(4)?])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A start of frame and a scan, invented.
    fn jpeg(wide: u16, high: u16) -> Vec<u8> {
        let mut bytes = vec![
            0xff, 0xd8, 0xff, 0xe0, 0, 4, b'J', b'F', 0xff, 0xff, 0xc0, 0, 11, 8,
        ];
        bytes.extend(high.to_be_bytes());
        bytes.extend(wide.to_be_bytes());
        bytes.extend([1, 1, 0x11, 0, 0xff, 0xda, 0, 3, 0, 0xff, 0xd9]);
        bytes
    }

    fn png(wide: u32, high: u32) -> Vec<u8> {
        let head = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR";
        [&head[..], &wide.to_be_bytes(), &high.to_be_bytes()].concat()
    }

    fn check(bytes: &[u8], media: Media) -> Result<(), &'static str> {
        look(bytes, &Digest::of(bytes), media)
    }

    #[test]
    fn knows_a_picture_by_its_outside() {
        assert_eq!(jpeg_sides(&jpeg(1600, 1200)), Some([1600, 1200]));
        assert_eq!(png_sides(&png(1600, 1200)), Some([1600, 1200]));
        assert_eq!(check(&jpeg(1600, 1200), Media::Jpeg), Ok(()));
        assert_eq!(check(&png(1600, 1200), Media::Png), Ok(()));
    }

    #[test]
    fn refuses_what_is_something_else() {
        let html = b"<!doctype html><script>alert(1)</script>";
        for bytes in [
            &html[..],
            &[&[0xff, 0xd8, 0xff], &html[..]].concat(),
            &[&[0xff, 0xd8, 0xff, 0xe0, 0, 4, 0, 0], &html[..]].concat(),
            &png(1600, 1200),
            &jpeg(0, 1200),
            &jpeg(16_000, 16_000),
            b"",
        ] {
            assert_eq!(check(bytes, Media::Jpeg), Err("type"));
        }
        assert_eq!(check(&png(70_000, 1), Media::Png), Err("type"));
        assert_eq!(check(&jpeg(16, 16), Media::Png), Err("type"));
        let other = Digest::of(b"another");
        assert_eq!(look(&jpeg(16, 16), &other, Media::Jpeg), Err("digest"));
        let whole = jpeg(1600, 1200);
        for end in 0..whole.len() - 4 {
            assert_eq!(check(&whole[..end], Media::Jpeg), Err("type"), "{end}");
        }
    }
}
