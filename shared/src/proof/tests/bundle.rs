//! A whole shop's log leaves as a file, is verified, and is altered in every way.

use std::cell::RefCell;
use std::collections::HashMap;
use std::sync::OnceLock;

use proptest::prelude::*;
use serde_json::Value;

use super::log::{Log, book_of, car, device, heads, job, set_aside, statement, user, who};
use crate::book::Automerge;
use crate::proof::bundle::{self, Bundle, ChangeLine, Fault, FaultKind, Replay, Report, extends};
use crate::proof::checkpoint::Checkpoint;
use crate::proof::leaf::Event;
use crate::proof::statement::{Claims, Deed};
use crate::proof::{Digest, canonical};
use crate::sync::replay::{facts, recompute};
use crate::wire::Role;

/// The story of one job in a small shop, and its book at the end.
fn story() -> (Log, Automerge) {
    let mut log = Log::new();
    log.add(
        None,
        Event::ShopSetUp {
            name: "Lind & Söhne".into(),
        },
    )
    .joins("marta", Role::Owner)
    .registers("marta")
    .add(who("marta"), Event::SignedIn)
    .add(
        who("marta"),
        Event::PersonInvited {
            role: Role::Technician,
        },
    )
    .joins("ana", Role::Technician)
    .registers("ana")
    .add(None, Event::SignInFailed { user: user("ana") })
    .add(who("ana"), Event::JobCreated { job: job() });
    let mut doc = book_of(&car());
    log.accepts("ana", &doc);
    let refused = Event::ChangesRefused {
        job: job(),
        reason: "checksum".into(),
        sent: Digest::of(b"spoilt"),
    };
    log.add(who("ana"), refused);
    let readings = car().readings;
    set_aside(&mut doc, &readings[5].id, 1);
    set_aside(&mut doc, &readings[9].id, 2);
    log.accepts("ana", &doc);
    let first = log.signs("ana", statement("ana", Deed::SignOff, &doc));
    log.signs(
        "marta",
        statement("marta", Deed::Countersign { of: first }, &doc),
    );
    // Work goes on after the signature; the sign-off is about what was there.
    let signed = doc.clone();
    set_aside(&mut doc, &readings[12].id, 3);
    log.accepts("ana", &doc);
    let made = Event::LinkMade {
        job: job(),
        link: "01LINK".into(),
        expires_at_ms: 1_775_000_000_000,
    };
    log.add(who("ana"), made);
    let revoked = Event::LinkRevoked {
        job: job(),
        link: "01LINK".into(),
    };
    log.add(who("marta"), revoked);
    let sheet = Event::SheetRevised {
        sheet: "hatch".into(),
        revision: 1,
        content: Digest::of(b"sheet"),
    };
    log.add(who("marta"), sheet)
        .add(
            who("marta"),
            Event::RoleChanged {
                user: user("ana"),
                role: Role::Owner,
            },
        )
        .add(
            who("ana"),
            Event::DeviceRevoked {
                user: user("ana"),
                device: device("ana"),
            },
        )
        .add(who("marta"), Event::PersonRemoved { user: user("ana") });
    (log, signed)
}

/// The story's log, made once: each sign-off takes a solution.
fn log() -> Log {
    static STORY: OnceLock<Bundle> = OnceLock::new();
    let bundle = STORY.get_or_init(|| story().0.bundle());
    let mut log = Log::new();
    log.changes.clone_from(&bundle.changes);
    log.statements = bundle
        .statements
        .iter()
        .map(|line| line.text.clone())
        .collect();
    let leaves = bundle.leaves.iter().map(|line| line.text.as_bytes());
    log.leaves = leaves
        .map(|text| crate::proof::leaf::Leaf::parse(text).unwrap())
        .collect();
    log
}

thread_local! {
    /// Solutions of books that were seen before.
    static SOLVED: RefCell<HashMap<Digest, Result<Claims, String>>> = RefCell::default();
}

fn verify(bundle: &Bundle) -> Report {
    bundle::verify(bundle, facts, |replay: Replay<'_>| {
        let grid = replay.claims.grid.shift_pm.to_be_bytes();
        let mut pieces = replay.changes.clone();
        pieces.extend([&grid[..], replay.claims.stage.as_str().as_bytes()]);
        let book = Digest::of_all(&pieces);
        let known = SOLVED.with_borrow(|solved| solved.get(&book).cloned());
        known.unwrap_or_else(|| {
            let computed = recompute(replay);
            SOLVED.with_borrow_mut(|solved| solved.insert(book, computed.clone()));
            computed
        })
    })
}

/// What is wrong with a file, if anything.
fn fault(text: &str) -> Option<Fault> {
    match Bundle::parse(text) {
        Ok(bundle) => verify(&bundle).fault,
        Err(fault) => Some(*fault),
    }
}

/// A scalar of a value of JSON, altered: all ways of altering each, one at a time.
fn altered(value: &Value) -> Vec<Value> {
    match value {
        Value::Null => vec![Value::from(0), Value::from("x")],
        Value::Bool(flag) => vec![Value::from(!flag)],
        Value::Number(number) => {
            let number = number.as_i64().unwrap();
            vec![
                Value::from(number + 1),
                Value::from(number - 1),
                Value::Null,
            ]
        }
        Value::String(text) => {
            let mut ways = vec![
                Value::from(format!("{text}x")),
                Value::from(""),
                Value::Null,
            ];
            // Digits and letters that the form allows as well: only the meaning is another.
            for at in [0, text.len() / 2, text.len().saturating_sub(1)] {
                let swap = |old: u8| match old {
                    b'0'..=b'8' | b'a'..=b'e' | b'g'..=b'y' | b'A'..=b'Y' => Some(old + 1),
                    b'9' => Some(b'0'),
                    b'f' => Some(b'e'),
                    _ => None,
                };
                let mut bytes = text.clone().into_bytes();
                if let Some(new) = bytes.get(at).copied().and_then(swap) {
                    bytes[at] = new;
                    ways.push(Value::from(String::from_utf8(bytes).unwrap()));
                }
            }
            ways
        }
        Value::Array(items) => {
            let mut ways: Vec<Value> = each(items.len(), |at, ways| {
                let put = |item| {
                    let mut list = items.clone();
                    list[at] = item;
                    Value::Array(list)
                };
                ways.extend(altered(&items[at]).into_iter().map(put));
                let mut list = items.clone();
                list.remove(at);
                ways.push(Value::Array(list.clone()));
                list.push(items[at].clone());
                list.push(items[at].clone());
                ways.push(Value::Array(list));
            });
            ways.push(Value::Null);
            ways
        }
        Value::Object(fields) => {
            let names: Vec<&String> = fields.keys().collect();
            let mut ways: Vec<Value> = each(names.len(), |at, ways| {
                let name = names[at];
                ways.extend(altered(&fields[name]).into_iter().map(|item| {
                    let mut map = fields.clone();
                    map.insert(name.clone(), item);
                    Value::Object(map)
                }));
                let mut map = fields.clone();
                map.remove(name);
                ways.push(Value::Object(map));
            });
            let mut map = fields.clone();
            map.insert("more".into(), Value::from(1));
            ways.push(Value::Object(map));
            ways
        }
    }
}

fn each(count: usize, mut make: impl FnMut(usize, &mut Vec<Value>)) -> Vec<Value> {
    let mut ways = Vec::new();
    for at in 0..count {
        make(at, &mut ways);
    }
    ways
}

#[test]
fn an_honest_log_holds() {
    let (log, _) = story();
    let bundle = log.bundle();
    let text = bundle.to_lines().unwrap();
    let read = Bundle::parse(&text).unwrap();
    assert_eq!(read, bundle);
    let report = crate::sync::replay::verify(&read);
    assert_eq!(report.fault, None);
    assert!(report.holds());
    assert_eq!(report.root, log.checkpoint().root);
    assert_eq!((report.leaves, report.changes, report.jobs), (21, 5, 1));
    assert_eq!((report.sign_offs, report.countersignatures), (1, 1));
    assert_eq!(
        bundle.counts().to_string(),
        "21 entries, 5 changes, 2 statements"
    );
    assert!(
        text.lines()
            .all(|line| line.is_ascii() || line.contains("Söhne") || line.contains('—'))
    );
}

#[test]
fn an_empty_file_and_an_empty_log_are_told_apart() {
    let nothing = fault("").unwrap();
    assert_eq!(
        (nothing.kind, nothing.place.line),
        (FaultKind::Line, Some(1))
    );
    assert_eq!(fault(&Log::new().bundle().to_lines().unwrap()), None);
}

#[test]
fn a_longer_log_extends_its_older_heads_and_no_other() {
    let honest = log();
    let bundle = honest.bundle();
    for size in 0..=honest.leaves.len() {
        let mut younger = log();
        younger.leaves.truncate(size);
        assert_eq!(extends(&younger.checkpoint(), &bundle), Ok(()), "{size}");
        let other = Checkpoint {
            root: Digest::of(b"other"),
            ..younger.checkpoint()
        };
        assert_eq!(extends(&other, &bundle).unwrap_err().place.field, "root");
    }
    let longer = Checkpoint {
        size: 22,
        ..honest.checkpoint()
    };
    assert_eq!(extends(&longer, &bundle).unwrap_err().place.field, "size");
    let another = Checkpoint {
        origin: "baybook/other".into(),
        ..honest.checkpoint()
    };
    assert_eq!(
        extends(&another, &bundle).unwrap_err().place.field,
        "origin"
    );
}

/// Bytes that are no change, or more than one: no panic, a fault.
#[test]
fn hostile_changes_are_a_fault() {
    let honest = log();
    let bytes = honest.changes[0].bytes.clone();
    let twice = [bytes.as_slice(), bytes.as_slice()].concat();
    for hostile in [vec![], vec![0; 10], bytes[..20].to_vec(), twice] {
        let mut spoilt = log();
        spoilt.changes[0] = ChangeLine {
            bytes: hostile,
            ..honest.changes[0].clone()
        };
        let found = verify(&spoilt.bundle()).fault.unwrap();
        assert_eq!(
            (found.kind, found.place.field.as_str()),
            (FaultKind::Change, "bytes")
        );
    }
}

#[test]
fn heads_are_sorted_as_the_log_wants_them() {
    let (_, doc) = story();
    assert!(heads(&doc).is_sorted());
}

proptest! {
    #[test]
    fn any_text_is_a_file_or_a_fault(text in any::<String>()) {
        prop_assert!(Bundle::parse(&text).is_err());
    }

    #[test]
    fn what_is_gathered_is_read_again(leaves in prop::collection::vec(any::<String>(), 0..5), bytes in prop::collection::vec(any::<Vec<u8>>(), 0..5), statements in prop::collection::vec(any::<String>(), 0..3)) {
        let log = Log::new();
        let changes = bytes.into_iter().map(|bytes| ChangeLine { job: job(), hash: Digest::of(&bytes), bytes }).collect();
        let shop = super::log::SHOP.parse().unwrap();
        let bundle = Bundle::gather(shop, &log.note_key(), "no note".into(), leaves, changes, statements);
        let text = bundle.to_lines().unwrap();
        prop_assert_eq!(Bundle::parse(&text).unwrap(), bundle);
    }
}

mod tampered;
mod rewritten;
