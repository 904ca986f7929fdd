//! Every hostile message that is known, and the honest ones that must pass.
//!
//! Where a message would do harm without the gate, the test shows the harm first, so that a check
//! that has become needless is noticed.

use std::panic::{AssertUnwindSafe, catch_unwind};

use automerge::sync::{MessageVersion, SyncDoc};
use automerge::transaction::Transactable;
use automerge::{ExpandedChange, ObjType, ROOT, ReadDoc};
use proptest::prelude::*;
use sha2::{Digest, Sha256};

use super::*;
use crate::book::{self, Intention, Stamp};

const ANA: u8 = 1;
const BEN: u8 = 2;

fn actor(number: u8) -> ActorId {
    ActorId::from(&[number; 16][..])
}

fn note(doc: &mut Automerge, id: &str) {
    let stamp = Stamp {
        by: "Ana".into(),
        at: "2026-03-02T09:15:00Z".into(),
        at_ms: 1_772_442_900_000,
        record: format!("record-{id}"),
    };
    let intention = Intention::WriteNote {
        id: id.into(),
        text: "left tower looks pushed back".into(),
    };
    book::edit::apply(doc, &stamp, &intention).unwrap();
}

/// A book with one note of Ana's.
fn book() -> Automerge {
    let mut doc = book::start().with_actor(actor(ANA));
    note(&mut doc, "first");
    doc
}

fn last(doc: &Automerge) -> Change {
    let newest = doc.get_changes(&[]).into_iter().max_by_key(Change::max_op);
    newest.unwrap()
}

/// Ana's next change as it might be, honest or not.
fn forged(alter: impl FnOnce(&mut ExpandedChange)) -> Change {
    let mut doc = book();
    note(&mut doc, "next");
    let mut expanded = last(&doc).decode();
    alter(&mut expanded);
    Change::from(expanded)
}

fn message(chunks: Vec<Vec<u8>>) -> Vec<u8> {
    Message {
        heads: Vec::new(),
        need: Vec::new(),
        have: Vec::new(),
        changes: chunks.into(),
        flags: None,
        version: MessageVersion::V1,
    }
    .encode()
}

fn carry(changes: &[Change]) -> Vec<u8> {
    message(changes.iter().map(|c| c.raw_bytes().to_vec()).collect())
}

fn question(doc: &Automerge, data: Vec<u8>) -> Question {
    Question {
        doc: Arc::new(doc.clone()),
        meeting: Meeting::default(),
        role: Role::Write,
        data,
    }
}

/// What the gate says when Ana sends this to the book.
fn ana_sends(data: Vec<u8>) -> Result<Admitted, Refusal> {
    weigh(question(&book(), data), |who| *who == actor(ANA))
}

fn check(data: Vec<u8>, expected: Refusal) {
    assert_eq!(ana_sends(data).unwrap_err(), expected);
}

/// A chunk around contents, with its right checksum.
fn chunk(kind: u8, contents: &[u8]) -> Vec<u8> {
    let mut hashed = vec![kind];
    let mut length = contents.len();
    while length > 0x7f {
        hashed.push(length as u8 & 0x7f | 0x80);
        length >>= 7;
    }
    hashed.push(length as u8);
    hashed.extend(contents);
    let hash = Sha256::digest(&hashed);
    [&[0x85, 0x6f, 0x4a, 0x83], &hash[..4], &hashed[..]].concat()
}

#[test]
fn an_honest_change_passes_once() {
    let mut doc = book();
    note(&mut doc, "next");
    let change = last(&doc);
    let admitted = ana_sends(carry(std::slice::from_ref(&change))).unwrap();
    assert_eq!(admitted.changes, [Accepted::of(&change)]);
    assert_eq!(admitted.doc.get_heads(), doc.get_heads());
    assert!(admitted.job.is_some());
    let again = question(&admitted.doc, carry(&[change]));
    let again = weigh(again, |_| false).unwrap();
    assert!(again.changes.is_empty() && again.job.is_none());
}

#[test]
fn a_message_of_the_engine_itself_passes() {
    let mut phone = book();
    note(&mut phone, "next");
    let mut state = State::new();
    let server = book::start();
    let data = phone.generate_sync_message(&mut state).unwrap().encode();
    let mut admitted = weigh(question(&server, data), |who| *who == actor(ANA)).unwrap();
    for _ in 0..4 {
        let answer = admitted
            .doc
            .generate_sync_message(&mut admitted.meeting.state);
        if let Some(mut answer) = answer {
            answer.flags = None;
            phone.receive_sync_message(&mut state, answer).unwrap();
        }
        let Some(data) = phone.generate_sync_message(&mut state) else {
            break;
        };
        let question = Question {
            doc: admitted.doc.clone(),
            meeting: admitted.meeting.clone(),
            role: Role::Write,
            data: data.encode(),
        };
        admitted = weigh(question, |who| *who == actor(ANA)).unwrap();
    }
    assert_eq!(admitted.doc.get_heads(), phone.get_heads());
}

#[test]
fn an_actor_of_somebody_else() {
    let mut doc = book().with_actor(actor(BEN));
    note(&mut doc, "next");
    check(
        carry(&[last(&doc)]),
        Refusal::Actor(actor(BEN).to_hex_string()),
    );
}

#[test]
fn a_number_out_of_turn() {
    let out_of_turn = Refusal::Sequence(actor(ANA).to_hex_string());
    for seq in [1, 3, u64::MAX] {
        check(carry(&[forged(|c| c.seq = seq)]), out_of_turn.clone());
    }
    // Her second change, as if she had not made the first.
    let start = book::start().get_heads();
    check(carry(&[forged(|c| c.deps = start)]), out_of_turn);
}

/// An operation number at the end of 32 bits would leave none for anybody else.
#[test]
fn an_operation_number_out_of_place() {
    let poison = forged(|c| c.start_op = u64::from(u32::MAX).try_into().unwrap());
    let mut harmed = book();
    let harm = catch_unwind(AssertUnwindSafe(|| {
        harmed.apply_changes([poison.clone()]).unwrap();
        let mut harmed = Automerge::load(&harmed.save()).unwrap();
        note(&mut harmed, "never");
        let first = harmed.get_changes(&[]).into_iter().map(|c| c.max_op());
        assert!(first.max().unwrap() > u64::from(u32::MAX));
        Automerge::load(&harmed.save()).unwrap()
    }));
    assert!(harm.is_err());
    let out_of_place = Refusal::Sequence(actor(ANA).to_hex_string());
    check(carry(&[poison]), out_of_place.clone());
    let used = forged(|c| c.start_op = 1.try_into().unwrap());
    check(carry(&[used]), out_of_place);
}

#[test]
fn nobodys_change_holds_nothing_of_anybodys() {
    let empty = Automerge::new();
    let begins = carry(&book::start().get_changes(&[]));
    let admitted = weigh(question(&empty, begins.clone()), |_| false).unwrap();
    assert_eq!(admitted.doc.get_heads(), book::start().get_heads());

    let mut sneaky = Automerge::new().with_actor(actor(0));
    let mut tx = sneaky.transaction();
    let readings = tx.put_object(ROOT, "readings", ObjType::Map).unwrap();
    tx.put_object(&readings, "r1", ObjType::Map).unwrap();
    tx.commit_with(automerge::transaction::CommitOptions::default().with_time(0));
    let refused = weigh(question(&empty, carry(&sneaky.get_changes(&[]))), |_| true);
    assert_eq!(refused.unwrap_err(), Refusal::FirstChange);
}

#[test]
fn what_is_written_once_cannot_be_altered_from_an_older_state_either() {
    let server = {
        let mut doc = book();
        note(&mut doc, "later");
        doc
    };
    let mut old = book().with_actor(actor(BEN));
    let notes = old.get(ROOT, "notes").unwrap().unwrap().1;
    let first = old.get(&notes, "first").unwrap().unwrap().1;
    let mut tx = old.transaction();
    tx.put(&first, "text", "nothing to see").unwrap();
    tx.commit();
    let refused = weigh(question(&server, carry(&[last(&old)])), |who| {
        *who == actor(BEN)
    });
    assert_eq!(
        refused.unwrap_err(),
        Refusal::Record("notes/first".to_owned())
    );
}

/// An operation that goes under a value instead of over it: nobody sees it today, and somebody may
/// when the value above it goes.
#[test]
fn what_is_written_once_cannot_be_undermined_either() {
    let server = book();
    let notes = server.get(ROOT, "notes").unwrap().unwrap().1;
    let first = server.get(&notes, "first").unwrap().unwrap().1;
    let mut ben = server.fork().with_actor(actor(BEN));
    let mut tx = ben.transaction();
    tx.put(&first, "text", "nothing to see").unwrap();
    tx.commit();
    let mut expanded = last(&ben).decode();
    let start = book::start();
    expanded.deps = start.get_heads();
    expanded.start_op = (last(&start).max_op() + 1).try_into().unwrap();
    expanded.operations[0].pred = Vec::new().into();
    let refused = weigh(question(&server, carry(&[Change::from(expanded)])), |who| {
        *who == actor(BEN)
    });
    assert_eq!(
        refused.unwrap_err(),
        Refusal::Record("notes/first".to_owned())
    );
}

#[test]
fn what_a_reader_sends_is_dropped() {
    let question = Question {
        role: Role::Read,
        ..question(&book(), carry(&[forged(|_| ())]))
    };
    let admitted = weigh(question, |_| true).unwrap();
    assert!(admitted.changes.is_empty());
    assert_eq!(admitted.doc.get_heads(), book().get_heads());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn whatever_is_done_to_a_message_does_no_harm(
        places in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
        end in any::<prop::sample::Index>(),
        heal in any::<bool>(),
    ) {
        let mut bytes = forged(|_| ()).raw_bytes().to_vec();
        for (place, byte) in places {
            let place = place.index(bytes.len());
            bytes[place] = byte;
        }
        if heal && bytes.len() > 12 {
            bytes = chunk(1, &bytes[10 + usize::from(bytes[9] > 0x7f)..]);
        }
        let mut data = message(vec![bytes]);
        if !heal {
            data.truncate(end.index(data.len()) + 1);
        }
        if let Ok(admitted) = ana_sends(data) {
            prop_assert!(Automerge::load(&admitted.doc.save()).is_ok());
        }
    }
}

mod foreign;
mod floods;
