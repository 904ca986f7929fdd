//! A digest in front of stored bytes, so that damage is found before anything reads them.
//!
//! Form: four bytes `BBs1`, the first sixteen bytes of the SHA-256 (FIPS 180-4) of the content, the
//! content. It guards against worn memory and half-written files, not against people.

use sha2::{Digest, Sha256};

const MAGIC: &[u8; 4] = b"BBs1";
const DIGEST: usize = 16;

/// Content with its digest in front.
#[must_use]
pub(super) fn seal(content: &[u8]) -> Vec<u8> {
    let digest = Sha256::digest(content);
    let mut sealed = Vec::with_capacity(MAGIC.len() + DIGEST + content.len());
    sealed.extend(MAGIC);
    sealed.extend(&digest[..DIGEST]);
    sealed.extend(content);
    sealed
}

/// The content, if it is exactly what was sealed.
#[must_use]
pub(super) fn open(sealed: &[u8]) -> Option<&[u8]> {
    let (digest, content) = sealed.strip_prefix(MAGIC)?.split_at_checked(DIGEST)?;
    (Sha256::digest(content)[..DIGEST] == *digest).then_some(content)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SHA-256 of "abc" begins ba7816bf 8f01cfea 414140de 5dae2223 (FIPS 180-2, appendix B.1).
    #[test]
    fn the_form_is_the_documented_one() {
        let sealed = seal(b"abc");
        let digest = [
            0xba, 0x78, 0x16, 0xbf, 0x8f, 0x01, 0xcf, 0xea, 0x41, 0x41, 0x40, 0xde, 0x5d, 0xae,
            0x22, 0x23,
        ];
        assert_eq!(sealed, [b"BBs1", &digest[..], b"abc"].concat());
        assert_eq!(open(&sealed), Some(&b"abc"[..]));
    }

    #[test]
    fn every_flipped_bit_and_every_cut_is_found() {
        let sealed = seal(b"251.5 mm");
        for at in 0..sealed.len() {
            for bit in 0..8 {
                let mut worn = sealed.clone();
                worn[at] ^= 1 << bit;
                assert_eq!(open(&worn), None, "byte {at}, bit {bit}");
            }
            assert_eq!(open(&sealed[..at]), None, "cut at {at}");
        }
    }
}
