//! Many changes at once, in any order.

use super::*;

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
