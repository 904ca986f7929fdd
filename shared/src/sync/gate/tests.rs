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
fn ten_bytes_that_divide_by_nothing() {
    let data = vec![0x42, 0, 0, 1, 0, 3, 1, 0, 7, 0];
    let harm = catch_unwind(AssertUnwindSafe(|| {
        let (mut doc, mut state) = (book(), State::new());
        let message = Message::decode(&data).unwrap();
        doc.receive_sync_message(&mut state, message).unwrap();
        doc.generate_sync_message(&mut state)
    }));
    assert!(harm.is_err());
    check(data, Refusal::Summary);
}

#[test]
fn sixteen_bytes_that_ask_for_four_thousand_million_probes() {
    let data = vec![
        0x42, 0, 0, 1, 0, 9, 1, 8, 0xff, 0xff, 0xff, 0xff, 0x0f, 0xff, 0, 0,
    ];
    assert!(Message::decode(&data).is_ok());
    check(data, Refusal::Summary);
}

#[test]
fn counts_that_are_not_there() {
    let claims = [0x80, 0x80, 0x80, 0x80, 0x80, 0x20];
    check([&[0x42], &claims[..]].concat(), Refusal::TooLarge);
    check([&[0x42, 0, 0], &claims[..]].concat(), Refusal::TooLarge);
    check([&[0x42, 0, 0, 0], &claims[..]].concat(), Refusal::TooLarge);
    check(vec![0x42, 3, 1, 2], Refusal::Unreadable);
    check(Vec::new(), Refusal::Unreadable);
    check(b"nonsense".to_vec(), Refusal::Unreadable);
}

#[test]
fn more_bytes_than_a_book_needs() {
    check(vec![0x42; MAX_MESSAGE_BYTES + 1], Refusal::TooLarge);
}

#[test]
fn a_few_bytes_that_claim_a_million_million_operations() {
    // One column, the action (0x42): a run of 2^40 times value 1.
    let contents = [
        &[0, 1, 7, 1, 1, 0, 0, 0, 1, 0x42, 7][..],
        &[0x80, 0x80, 0x80, 0x80, 0x80, 0x20, 1],
    ]
    .concat();
    check(message(vec![chunk(1, &contents)]), Refusal::TooLarge);
}

#[test]
fn a_long_name_said_a_thousand_times() {
    let mut doc = book();
    let name = "n".repeat(100_000);
    let mut tx = doc.transaction();
    for n in 0..1_000 {
        tx.put(ROOT, name.as_str(), n).unwrap();
    }
    tx.commit();
    let change = last(&doc);
    assert!(change.raw_bytes().len() < 110_000);
    check(carry(&[change]), Refusal::TooLarge);
}

#[test]
fn packed_changes_and_documents() {
    let mut doc = book();
    let mut tx = doc.transaction();
    tx.put(ROOT, "vehicle", "estate, silver, ".repeat(400))
        .unwrap();
    tx.commit();
    let mut change = last(&doc);
    let packed = change.bytes().into_owned();
    assert!(packed.len() * 4 < change.raw_bytes().len() && packed[8] == 2);
    check(message(vec![packed]), Refusal::NotPlain);
    check(message(vec![doc.save()]), Refusal::NotPlain);
    let twice = change.raw_bytes().repeat(2);
    check(message(vec![twice]), Refusal::NotPlain);
    check(message(vec![Vec::new()]), Refusal::NotPlain);
    // A plain chunk whose column says that it is packed (0x4a).
    let contents = [0, 1, 7, 1, 1, 0, 0, 0, 1, 0x4a, 3, 0x4b, 4, 0];
    check(message(vec![chunk(1, &contents)]), Refusal::Unreadable);
    // The second version of the message carries documents.
    let mut second = carry(&[change]);
    second[0] = 0x43;
    assert!(Message::decode(&second).is_ok());
    check(second, Refusal::Unreadable);
}

#[test]
fn other_bytes_than_were_sent_off() {
    let mut bytes = forged(|_| ()).raw_bytes().to_vec();
    bytes[4] ^= 1;
    check(message(vec![bytes.clone()]), Refusal::Checksum);
    bytes[4] ^= 1;
    let end = bytes.len() - 1;
    bytes[end] ^= 1;
    check(message(vec![bytes]), Refusal::Checksum);
}

/// The same two operations, their actions written as two runs of one instead of one of two.
#[test]
fn a_change_written_oddly_never_loads_again() {
    let mut doc = book();
    let mut tx = doc.transaction();
    tx.put(ROOT, "a", 1).unwrap();
    tx.put(ROOT, "b", 1).unwrap();
    tx.commit();
    let plain = last(&doc);
    let (_, contents) = super::chunk::open(plain.raw_bytes()).unwrap();
    let odd = rewrite(contents, 0x42, &[2, 1], &[1, 1, 1, 1]);
    let odd = Change::try_from(&chunk(1, &odd)[..]).unwrap();
    let mut harmed = book();
    harmed.apply_changes([odd.clone()]).unwrap();
    assert!(Automerge::load(&harmed.save()).is_err());
    check(carry(&[odd]), Refusal::NotCanonical);
}

/// Contents of a change with another column in the place of one that is as expected.
fn rewrite(contents: &[u8], specification: u64, was: &[u8], becomes: &[u8]) -> Vec<u8> {
    let mut input = super::bytes::Input(contents);
    let dependencies = input.unsigned().unwrap();
    input.take(dependencies * 32).unwrap();
    input.prefixed().unwrap();
    for _ in 0..2 {
        input.unsigned().unwrap();
    }
    input.signed().unwrap();
    input.prefixed().unwrap();
    for _ in 0..input.unsigned().unwrap() {
        input.prefixed().unwrap();
    }
    let mut made = contents[..contents.len() - input.0.len()].to_vec();
    let count = input.unsigned().unwrap();
    let columns: Vec<(u64, u64)> = (0..count)
        .map(|_| (input.unsigned().unwrap(), input.unsigned().unwrap()))
        .collect();
    made.push(count as u8);
    let mut data = Vec::new();
    for (spec, length) in columns {
        let mut bytes = input.take(length).unwrap().to_vec();
        if spec == specification {
            assert_eq!(bytes, was);
            bytes = becomes.to_vec();
        }
        made.extend([spec as u8 & 0x7f | if spec > 0x7f { 0x80 } else { 0 }]);
        if spec > 0x7f {
            made.push((spec >> 7) as u8);
        }
        made.push(bytes.len() as u8);
        data.extend(bytes);
    }
    made.extend(data);
    made
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
fn a_flood_of_changes_that_build_on_nothing() {
    let orphan = |n: u64| {
        forged(|c| {
            c.deps = vec![ChangeHash([9; 32])];
            c.seq = n;
        })
    };
    let admitted = ana_sends(carry(&[orphan(2)])).unwrap();
    assert_eq!(admitted.meeting.waiting.len(), 1);
    assert!(admitted.changes.is_empty());
    let flood: Vec<Change> = (2..1003).map(orphan).collect();
    check(carry(&flood), Refusal::TooManyWaiting);
}

/// One operation each, every change on top of the one before.
fn chain(length: u64, writer: impl Fn(u64) -> u8) -> Vec<Change> {
    let doc = book();
    let mut deps = doc.get_heads();
    let mut pattern = forged(|_| ()).decode();
    pattern.operations.truncate(1);
    let first = pattern.start_op.get();
    let mut last = std::collections::HashMap::from([(ANA, 1)]);
    let mut changes = Vec::new();
    for n in 0..length {
        let number = writer(n);
        let seq = last.entry(number).or_insert(0);
        *seq += 1;
        let change = Change::from(ExpandedChange {
            actor_id: actor(number),
            seq: *seq,
            start_op: (first + n).try_into().unwrap(),
            deps: deps.clone(),
            hash: None,
            ..pattern.clone()
        });
        deps = vec![change.hash()];
        changes.push(change);
    }
    changes
}

/// Looking through all that still wait, again and again, is work that grows with the square.
#[test]
fn many_changes_in_the_worst_order() {
    let mut changes = chain(20_000, |_| ANA);
    changes.reverse();
    let admitted = ana_sends(carry(&changes)).unwrap();
    changes.reverse();
    assert_eq!(admitted.changes.len(), 20_000);
    assert_eq!(admitted.doc.get_heads(), [changes[19_999].hash()]);
}

/// Two hundred and fifty authors in turn: each one's last change is far back, every time.
#[test]
fn many_authors_in_turn() {
    let in_turn = |length| {
        let changes = chain(length, |n| (n % 250 + 1) as u8);
        weigh(question(&book(), carry(&changes)), |_| true)
    };
    assert_eq!(in_turn(5_000).unwrap().changes.len(), 5_000);
    assert_eq!(in_turn(20_000).unwrap_err(), Refusal::TooLarge);
}

#[test]
fn a_change_that_waited_comes_in_with_what_it_builds_on() {
    let mut doc = book();
    note(&mut doc, "one");
    let one = last(&doc);
    note(&mut doc, "two");
    let two = last(&doc);
    let early = ana_sends(carry(std::slice::from_ref(&two))).unwrap();
    assert!(early.changes.is_empty());
    let question = Question {
        meeting: early.meeting,
        ..question(&early.doc, carry(std::slice::from_ref(&one)))
    };
    let admitted = weigh(question, |who| *who == actor(ANA)).unwrap();
    assert_eq!(admitted.changes, [Accepted::of(&one), Accepted::of(&two)]);
    assert!(admitted.meeting.waiting.is_empty());
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

/// A long job file is one change, and the longest that there may be is ten times as long.
#[test]
fn a_long_job_passes() {
    let mut job = crate::demo::job();
    let some = job.readings.clone();
    job.readings = (0..crate::jobfile::MAX_READINGS / 10)
        .map(|n| crate::job::Reading {
            id: crate::ids::ReadingId::parse(&format!("r{n}")).unwrap(),
            replaces: None,
            set_aside: None,
            ..some[n % some.len()].clone()
        })
        .collect();
    let stamp = Stamp {
        by: "Ana".into(),
        at: String::new(),
        at_ms: 0,
        record: "r".into(),
    };
    let doc = book::import(&job, actor(ANA), &stamp).unwrap();
    let data = carry(&doc.get_changes(&[]));
    assert!(data.len() * 10 < MAX_MESSAGE_BYTES);
    let admitted = weigh(question(&Automerge::new(), data), |who| *who == actor(ANA)).unwrap();
    assert_eq!(admitted.job.unwrap().readings.len(), job.readings.len());
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
