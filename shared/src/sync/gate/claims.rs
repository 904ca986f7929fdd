//! How much a change claims to hold, told from its run lengths before anything is unpacked.
//!
//! A few bytes can claim a million million operations, or one long name a hundred thousand times.
//! This walks the columns of the Automerge binary format (its published specification, sections
//! 'change chunk' and 'column encodings') and refuses to know what the operations mean.

use super::bytes::Input;

const HASH_BYTES: u64 = 32;
/// Low bits of a column's specification tell how it is encoded, the next bit that it is deflated.
const TYPE_BITS: u64 = 0b111;
const DEFLATED: u64 = 0b1000;

/// What unpacking would make.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Claims {
    /// Operations, or entries of any column: whatever is more.
    pub operations: u64,
    /// Bytes of text in columns of text.
    pub text_bytes: u64,
}

impl Claims {
    pub(super) fn and(self, other: Self) -> Self {
        Self {
            operations: self.operations.saturating_add(other.operations),
            text_bytes: self.text_bytes.saturating_add(other.text_bytes),
        }
    }
}

/// What the contents of a change chunk claim. `None` when they are not of the form, or carry
/// something besides a change: packed columns, or bytes behind the last column.
pub(super) fn of(contents: &[u8]) -> Option<Claims> {
    let mut input = Input(contents);
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
    let mut claims = Claims::default();
    for (specification, length) in columns {
        let data = Input(input.take(length)?);
        if specification & DEFLATED != 0 {
            return None;
        }
        let column = data.column(specification & TYPE_BITS)?;
        claims.operations = claims.operations.max(column.operations);
        claims.text_bytes = claims.text_bytes.checked_add(column.text_bytes)?;
    }
    input.0.is_empty().then_some(claims)
}

/// How a column's single values count.
#[derive(Clone, Copy)]
enum Weigh {
    /// Each is one.
    Single,
    /// A group has as many members as its number says.
    Group,
    /// A text has its length.
    Text,
}

impl Input<'_> {
    fn column(self, kind: u64) -> Option<Claims> {
        match kind {
            0 => self.runs(Self::unsigned, Weigh::Group),
            1 | 2 | 6 => self.runs(Self::unsigned, Weigh::Single),
            3 => self.runs(|input| input.signed().map(i64::unsigned_abs), Weigh::Single),
            4 => self.switches(),
            5 => self.runs(
                |input| input.prefixed().map(|text| text.len() as u64),
                Weigh::Text,
            ),
            // The bytes of values: they are all there.
            _ => Some(Claims::default()),
        }
    }

    /// Run-length encoding: n > 0 is a run of n values, n < 0 are -n single ones, 0 a run of nulls.
    fn runs(mut self, value: impl Fn(&mut Self) -> Option<u64>, weigh: Weigh) -> Option<Claims> {
        let mut total = Claims::default();
        while !self.0.is_empty() {
            let run = self.signed()?;
            if run > 0 {
                total = total.plus(run.unsigned_abs(), value(&mut self)?, weigh)?;
            } else if run < 0 {
                for _ in 0..run.unsigned_abs() {
                    total = total.plus(1, value(&mut self)?, weigh)?;
                }
            } else {
                total = total.plus(self.unsigned()?, 0, Weigh::Single)?;
            }
        }
        Some(total)
    }

    /// Booleans: lengths of runs of false and true in turn.
    fn switches(mut self) -> Option<Claims> {
        let mut total = Claims::default();
        while !self.0.is_empty() {
            total = total.plus(self.unsigned()?, 0, Weigh::Single)?;
        }
        Some(total)
    }
}

impl Claims {
    fn plus(self, count: u64, each: u64, weigh: Weigh) -> Option<Self> {
        let (operations, text_bytes) = match weigh {
            Weigh::Single => (count, 0),
            Weigh::Group => (count.checked_mul(each.max(1))?, 0),
            Weigh::Text => (count, count.checked_mul(each)?),
        };
        Some(Self {
            operations: self.operations.checked_add(operations)?,
            text_bytes: self.text_bytes.checked_add(text_bytes)?,
        })
    }
}

#[cfg(test)]
mod tests {
    use automerge::transaction::Transactable;
    use automerge::{ActorId, AutoCommit, Change, ObjType, ROOT, ScalarValue};

    use super::super::chunk::open;
    use super::*;

    fn change(edit: impl FnOnce(&mut AutoCommit)) -> Change {
        let mut doc = AutoCommit::new().with_actor(ActorId::from([7; 16]));
        edit(&mut doc);
        doc.commit();
        doc.get_changes(&[]).remove(0)
    }

    fn claims(change: &Change) -> Claims {
        of(open(change.raw_bytes()).unwrap().1).unwrap()
    }

    #[test]
    fn counts_the_operations_of_real_changes() {
        let one = change(|doc| doc.put(ROOT, "height", 612).unwrap());
        assert_eq!(
            claims(&one),
            Claims {
                operations: 1,
                text_bytes: 6
            }
        );
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
        assert_eq!(claims(&many).operations, many.len() as u64);
    }

    #[test]
    fn counts_a_long_name_as_often_as_it_is_said() {
        let name = "n".repeat(1000);
        let change = change(|doc| {
            for n in 0..200 {
                doc.put(ROOT, name.as_str(), n).unwrap();
            }
        });
        assert!(change.raw_bytes().len() < 3000);
        assert_eq!(claims(&change).text_bytes, 200_000);
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
        assert_eq!(of(&contents).unwrap().operations, 1 << 40);
    }

    #[test]
    fn knows_nothing_of_broken_bytes() {
        let whole = change(|doc| doc.put(ROOT, "height", 612).unwrap());
        let contents = open(whole.raw_bytes()).unwrap().1;
        for end in 0..contents.len() {
            assert_eq!(of(&contents[..end]), None, "{end}");
        }
        assert_eq!(of(&[contents, b"more"].concat()), None);
    }
}
