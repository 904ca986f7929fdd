//! Bytes that are no honest message.

use super::*;

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
    let mut input = super::super::bytes::Input(contents);
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
