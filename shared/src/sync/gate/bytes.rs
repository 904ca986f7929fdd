//! Reading foreign bytes: every length is checked against what is there before it is believed.

/// Bytes not read yet. Nothing here allocates by what the bytes claim.
#[derive(Debug, Clone, Copy)]
pub(super) struct Input<'a>(pub &'a [u8]);

impl<'a> Input<'a> {
    pub(super) fn take(&mut self, length: u64) -> Option<&'a [u8]> {
        let (taken, rest) = self.0.split_at_checked(usize::try_from(length).ok()?)?;
        self.0 = rest;
        Some(taken)
    }

    /// Bytes after their own length.
    pub(super) fn prefixed(&mut self) -> Option<&'a [u8]> {
        let length = self.unsigned()?;
        self.take(length)
    }

    /// A number of things of at least one byte each.
    pub(super) fn count(&mut self) -> Option<u64> {
        let count = self.unsigned()?;
        (count <= self.0.len() as u64).then_some(count)
    }

    /// LEB128 without sign.
    pub(super) fn unsigned(&mut self) -> Option<u64> {
        let mut value: u64 = 0;
        for shift in (0..64).step_by(7) {
            let byte = self.byte()?;
            let part = u64::from(byte & 0x7f);
            if shift == 63 && part > 1 {
                return None;
            }
            value |= part << shift;
            if byte & 0x80 == 0 {
                return Some(value);
            }
        }
        None
    }

    /// LEB128 with sign.
    pub(super) fn signed(&mut self) -> Option<i64> {
        let mut value: i64 = 0;
        for shift in (0..64).step_by(7) {
            let byte = self.byte()?;
            value |= i64::from(byte & 0x7f) << shift;
            if byte & 0x80 == 0 {
                let negative = byte & 0x40 != 0 && shift + 7 < 64;
                return Some(if negative {
                    value | (-1 << (shift + 7))
                } else {
                    value
                });
            }
        }
        None
    }

    pub(super) fn byte(&mut self) -> Option<u8> {
        let (first, rest) = self.0.split_first()?;
        self.0 = rest;
        Some(*first)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_numbers_with_and_without_sign() {
        // DWARF 4, section 7.6, figures 22 and 23.
        for (bytes, number) in [
            (&[0x7f_u8][..], 127),
            (&[0x80, 1], 128),
            (&[0xb9, 0x64], 12857),
        ] {
            assert_eq!(Input(bytes).unsigned(), Some(number));
        }
        for (bytes, number) in [
            (&[0x02_u8][..], 2),
            (&[0x7e], -2),
            (&[0xff, 0], 127),
            (&[0x81, 0x7f], -127),
            (&[0x80, 0x7f], -128),
            (&[0xff, 0x7e], -129),
        ] {
            assert_eq!(Input(bytes).signed(), Some(number));
        }
        assert_eq!(Input(&[0xff; 11]).unsigned(), None);
        assert_eq!(Input(&[5, 1, 2]).prefixed(), None);
        assert_eq!(Input(&[0xff, 0xff, 3]).count(), None);
    }
}
