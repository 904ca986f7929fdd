//! How much a change claims to hold, told from its run lengths before anything is unpacked.
//!
//! A few bytes can claim a million million operations. This walks the columns of the Automerge
//! binary format (its published specification, sections 'change chunk' and 'column encodings')
//! and refuses to know what the operations mean.

/// Bytes before a chunk's length: magic number, checksum, type.
const BEFORE_LENGTH: usize = 9;
const HASH_BYTES: u64 = 32;
/// Low bits of a column's specification tell how it is encoded, the next bit that it is deflated.
const TYPE_BITS: u64 = 0b111;
const DEFLATED: u64 = 0b1000;

/// The largest number of values that any column of this change claims. `None` when the bytes are
/// not of the form.
#[must_use]
pub fn largest(chunk: &[u8]) -> Option<u64> {
    let mut input = Input(chunk.get(BEFORE_LENGTH..)?);
    let length = input.unsigned()?;
    let mut input = Input(input.take(length)?);
    let dependencies = input.unsigned()?;
    input.take(dependencies.checked_mul(HASH_BYTES)?)?;
    input.prefixed()?; // actor
    input.unsigned()?; // sequence
    input.unsigned()?; // first operation
    input.signed()?; // time
    input.prefixed()?; // message
    for _ in 0..input.count()? {
        input.prefixed()?; // other actors
    }
    let mut columns = Vec::new();
    for _ in 0..input.count()? {
        columns.push((input.unsigned()?, input.unsigned()?));
    }
    let mut largest = 0;
    for (specification, length) in columns {
        let data = Input(input.take(length)?);
        if specification & DEFLATED != 0 {
            return None;
        }
        largest = largest.max(data.values(specification & TYPE_BITS)?);
    }
    Some(largest)
}

struct Input<'a>(&'a [u8]);

impl<'a> Input<'a> {
    /// Values that a column of this type claims; a group claims the sum of its numbers.
    fn values(self, kind: u64) -> Option<u64> {
        match kind {
            0 => self.runs(Self::unsigned, true),
            1 | 2 | 6 => self.runs(Self::unsigned, false),
            3 => self.runs(|input| input.signed().map(i64::unsigned_abs), false),
            4 => self.switches(),
            5 => self.runs(|input| input.prefixed().map(|_| 0), false),
            _ => Some(0),
        }
    }

    /// Run-length encoding: n > 0 is a run of n values, n < 0 are -n single ones, 0 a run of nulls.
    fn runs(mut self, value: impl Fn(&mut Self) -> Option<u64>, sums: bool) -> Option<u64> {
        let mut total: u64 = 0;
        while !self.0.is_empty() {
            let run = self.signed()?;
            let count = run.unsigned_abs();
            if run > 0 {
                let each = value(&mut self)?;
                let claimed = if sums {
                    count.checked_mul(each.max(1))?
                } else {
                    count
                };
                total = total.checked_add(claimed)?;
            } else if run < 0 {
                for _ in 0..count {
                    let each = value(&mut self)?;
                    total = total.checked_add(if sums { each.max(1) } else { 1 })?;
                }
            } else {
                total = total.checked_add(self.unsigned()?)?;
            }
        }
        Some(total)
    }

    /// Booleans: lengths of runs of false and true in turn.
    fn switches(mut self) -> Option<u64> {
        let mut total: u64 = 0;
        while !self.0.is_empty() {
            total = total.checked_add(self.unsigned()?)?;
        }
        Some(total)
    }

    fn take(&mut self, length: u64) -> Option<&'a [u8]> {
        let (taken, rest) = self.0.split_at_checked(usize::try_from(length).ok()?)?;
        self.0 = rest;
        Some(taken)
    }

    fn prefixed(&mut self) -> Option<&'a [u8]> {
        let length = self.unsigned()?;
        self.take(length)
    }

    /// A number of things of at least one byte each.
    fn count(&mut self) -> Option<u64> {
        let count = self.unsigned()?;
        (count <= self.0.len() as u64).then_some(count)
    }

    /// LEB128 without sign.
    fn unsigned(&mut self) -> Option<u64> {
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
    fn signed(&mut self) -> Option<i64> {
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

    fn byte(&mut self) -> Option<u8> {
        let (first, rest) = self.0.split_first()?;
        self.0 = rest;
        Some(*first)
    }
}

/// The numbers at the front of an encoded Bloom filter: entries, bits per entry, probes.
#[must_use]
pub fn bloom(bytes: &[u8]) -> Option<(u64, u64, u64)> {
    let mut input = Input(bytes);
    Some((input.unsigned()?, input.unsigned()?, input.unsigned()?))
}

#[cfg(test)]
mod tests {
    use automerge::transaction::Transactable;
    use automerge::{ActorId, AutoCommit, ObjType, ROOT, ScalarValue};

    use super::*;

    fn change(edit: impl FnOnce(&mut AutoCommit)) -> automerge::Change {
        let mut doc = AutoCommit::new().with_actor(ActorId::from([7; 16]));
        edit(&mut doc);
        doc.commit();
        doc.get_changes(&[]).remove(0)
    }

    #[test]
    fn counts_the_operations_of_real_changes() {
        let one = change(|doc| doc.put(ROOT, "height", 612).unwrap());
        assert_eq!(largest(one.raw_bytes()), Some(1));
        let many = change(|doc| {
            let list = doc.put_object(ROOT, "list", ObjType::List).unwrap();
            for n in 0..500 {
                doc.insert(&list, n, ScalarValue::F64(0.5)).unwrap();
            }
            doc.delete(&list, 3).unwrap();
            let text = doc.put_object(ROOT, "text", ObjType::Text).unwrap();
            doc.splice_text(&text, 0, 0, "left tower").unwrap();
            doc.put(ROOT, "flag", true).unwrap();
            doc.put(ROOT, "nothing", ()).unwrap();
        });
        assert_eq!(largest(many.raw_bytes()), Some(many.len() as u64));
    }

    #[test]
    fn sees_what_a_few_bytes_claim() {
        // One column, the action (0x42): a run of 2^40 times value 1.
        let run = [0x80, 0x80, 0x80, 0x80, 0x80, 0x20, 1];
        let contents = [
            &[0, 1, 7, 1, 1, 0, 0, 0, 1, 0x42, run.len() as u8],
            &run[..],
        ]
        .concat();
        let header = [0x85, 0x6f, 0x4a, 0x83, 0, 0, 0, 0, 1, contents.len() as u8];
        let chunk = [&header[..], &contents].concat();
        assert_eq!(chunk.len(), 28);
        assert_eq!(largest(&chunk), Some(1 << 40));
    }

    #[test]
    fn knows_nothing_of_broken_bytes() {
        let whole = change(|doc| doc.put(ROOT, "height", 612).unwrap());
        let bytes = whole.raw_bytes();
        for end in 0..bytes.len() {
            assert_eq!(largest(&bytes[..end]), None, "{end}");
        }
    }

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
    }
}
