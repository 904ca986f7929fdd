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

/// The file with one line replaced.
fn with_line(lines: &[&str], at: usize, line: &str) -> String {
    let mut lines = lines.to_vec();
    lines[at] = line;
    lines.join("\n") + "\n"
}

/// May a fault in this line be told of an alteration in that one? A header is judged by what follows.
fn names(told: Option<usize>, altered: usize) -> bool {
    match altered {
        1 | 2 => told.is_some_and(|line| line <= 3),
        _ => told == Some(altered),
    }
}

/// Every field of every line, and every field of the texts within, altered in every way: the
/// verification fails each time and names the line.
#[test]
fn whatever_is_altered_is_found_where_it_was_altered() {
    let text = log().bundle().to_lines().unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let mut tried = 0;
    for (at, line) in lines.iter().enumerate() {
        let value: Value = serde_json::from_str(line).unwrap();
        let mut ways = altered(&value);
        // An entry or a statement is itself a text with fields.
        if let Some(Ok(inner)) = value["text"].as_str().map(serde_json::from_str::<Value>) {
            ways.extend(altered(&inner).into_iter().map(|inner| {
                let mut outer = value.clone();
                outer["text"] = Value::from(canonical::write(&inner).unwrap());
                outer
            }));
        }
        for way in ways {
            let Ok(written) = canonical::write(&way) else {
                continue;
            };
            if written == *line {
                continue;
            }
            let found = fault(&with_line(&lines, at, &written));
            let found = found.unwrap_or_else(|| panic!("line {}: {written} holds", at + 1));
            assert!(
                names(found.place.line, at + 1),
                "line {}: {written} is said to be: {found}",
                at + 1
            );
            assert!(
                !found.expected.is_empty() && found.expected != found.found,
                "{found}"
            );
            tried += 1;
        }
    }
    assert!(tried > 1_500, "{tried}");
}

/// Bytes flipped, put in and taken out all over the file.
#[test]
fn no_byte_can_be_changed() {
    let text = log().bundle().to_lines().unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let mut tried = 0;
    for (at, line) in lines.iter().enumerate() {
        let step = (line.len() / 40).max(1);
        for place in (0..line.len()).step_by(step) {
            let mut flipped = line.as_bytes().to_vec();
            flipped[place] ^= 1;
            let mut longer = line.as_bytes().to_vec();
            longer.insert(place, b' ');
            let mut shorter = line.as_bytes().to_vec();
            shorter.remove(place);
            for spoilt in [flipped, longer, shorter] {
                let Ok(spoilt) = String::from_utf8(spoilt) else {
                    continue;
                };
                let found = fault(&with_line(&lines, at, &spoilt));
                let found = found.unwrap_or_else(|| panic!("line {}: {spoilt} holds", at + 1));
                assert!(
                    names(found.place.line, at + 1),
                    "line {}: {spoilt}: {found}",
                    at + 1
                );
                tried += 1;
            }
        }
    }
    assert!(tried > 3_000, "{tried}");
}

/// Lines taken out, doubled and swapped, with and without a header that counts them rightly.
#[test]
fn no_line_can_be_taken_out_doubled_or_moved() {
    let text = log().bundle().to_lines().unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let mut tried = 0;
    for at in 0..lines.len() {
        let mut less = lines.clone();
        less.remove(at);
        let mut more = lines.clone();
        more.insert(at, lines[at]);
        let mut moved = lines.clone();
        moved.swap(at, (at + 1) % lines.len());
        for spoilt in [less, more, moved] {
            let plain = spoilt.join("\n") + "\n";
            assert!(fault(&plain).is_some(), "line {}", at + 1);
            let counted = recounted(&spoilt);
            let found = fault(&counted).unwrap_or_else(|| panic!("line {} recounted", at + 1));
            assert!(found.place.line.is_some(), "{found}");
            tried += 1;
        }
    }
    assert_eq!(tried, 3 * lines.len());
    for cut in [1, 2, text.len() / 2] {
        let end = (text.len() - cut..)
            .find(|at| text.is_char_boundary(*at))
            .unwrap();
        assert!(fault(&text[..end]).is_some(), "cut by {cut}");
    }
    assert!(fault(&format!("{text}\n")).is_some());
    assert!(fault(&format!("{text}{{}}\n")).is_some());
    assert!(fault(&text.replace('\n', "\r\n")).is_some());
}

fn recounted(lines: &[&str]) -> String {
    let count = |kind: &str| {
        let mark = format!("\"line\":\"{kind}\"");
        lines.iter().filter(|line| line.contains(&mark)).count()
    };
    let mut text = String::new();
    for line in lines {
        let mut value: Value = serde_json::from_str(line).unwrap();
        if value["line"] == "header" {
            value["leaves"] = count("leaf").into();
            value["changes"] = count("change").into();
            value["statements"] = count("statement").into();
        }
        text += &canonical::write(&value).unwrap();
        text.push('\n');
    }
    text
}

/// What somebody can do who holds the log's own key and writes the past anew: each such log is
/// signed properly. What contradicts itself is found all the same; and whoever kept an older head
/// finds the rest.
#[test]
fn a_past_written_anew_under_the_true_key_contradicts_itself_or_the_older_head() {
    let honest = log();
    let older = honest.checkpoint();
    let mut contradictions = 0;
    for at in 0..honest.leaves.len() {
        let value = serde_json::to_value(&honest.leaves[at]).unwrap();
        for way in altered(&value) {
            let Ok(leaf) = serde_json::from_value(way) else {
                continue;
            };
            if leaf == honest.leaves[at] {
                continue;
            }
            let mut anew = log();
            anew.leaves[at] = leaf;
            if anew.leaves[at].text().is_err() {
                continue;
            }
            let bundle = anew.bundle();
            if let Some(found) = verify(&bundle).fault {
                assert!(
                    found.place.line.is_some() && found.place.leaf.is_some(),
                    "{found}"
                );
                contradictions += 1;
            }
            assert_eq!(extends(&older, &bundle).unwrap_err().kind, FaultKind::Past);
        }
    }
    assert!(contradictions > 100, "{contradictions}");
}

/// One thing altered by somebody with the log's key, and what is said of it.
fn rewritten(change: impl FnOnce(&mut Log)) -> Fault {
    let mut log = log();
    change(&mut log);
    verify(&log.bundle()).fault.expect("a contradiction")
}

/// The place in the log of the first entry of a kind.
fn find(log: &Log, kind: &str) -> usize {
    log.leaves
        .iter()
        .position(|leaf| leaf.event.kind() == kind)
        .unwrap()
}

#[test]
fn contradictions_are_named_by_kind_and_field() {
    let check = |fault: Fault, kind: FaultKind, field: &str| {
        assert_eq!(
            (fault.kind, fault.place.field.as_str()),
            (kind, field),
            "{fault}"
        );
    };
    let leaf = |kind: &'static str, change: fn(&mut crate::proof::leaf::Leaf)| {
        rewritten(move |log| {
            let at = find(log, kind);
            change(&mut log.leaves[at]);
        })
    };
    check(
        leaf("signed-in", |leaf| leaf.index = 17),
        FaultKind::Leaf,
        "index",
    );
    check(
        leaf("signed-in", |leaf| leaf.at_ms = 0),
        FaultKind::Order,
        "at_ms",
    );
    check(
        leaf("signed-in", |leaf| leaf.shop = "other".parse().unwrap()),
        FaultKind::Order,
        "shop",
    );
    check(
        leaf("signed-in", |leaf| leaf.who = who("ben")),
        FaultKind::Roster,
        "who.user",
    );
    check(
        leaf("role-changed", |leaf| leaf.who = who("ana")),
        FaultKind::Roster,
        "who.user",
    );
    check(
        leaf("countersigned", |leaf| leaf.who = who("ana")),
        FaultKind::Roster,
        "who.user",
    );
    check(
        leaf("job-created", |leaf| leaf.event = Event::SignedIn),
        FaultKind::Order,
        "event.job",
    );
    check(
        leaf("signed-in", |leaf| {
            leaf.event = Event::ShopSetUp {
                name: String::new(),
            }
        }),
        FaultKind::Order,
        "event.kind",
    );
    check(
        leaf("changes-accepted", |leaf| {
            if let Event::ChangesAccepted { heads, .. } = &mut leaf.event {
                heads.clear();
            }
        }),
        FaultKind::Heads,
        "event.heads",
    );
    check(
        leaf("changes-accepted", |leaf| {
            if let Event::ChangesAccepted { hashes, .. } = &mut leaf.event {
                hashes.swap(0, 1);
            }
        }),
        FaultKind::Change,
        "hash",
    );
    check(
        leaf("signed-off", |leaf| leaf.who = who("marta")),
        FaultKind::Statement,
        "statement.who.user",
    );
    // A key that its owner never registered.
    check(
        rewritten(|log| {
            let at = log
                .leaves
                .iter()
                .rposition(|leaf| leaf.event.kind() == "device-registered");
            if let Event::DeviceRegistered { key, .. } = &mut log.leaves[at.unwrap()].event {
                *key = None;
            }
        }),
        FaultKind::Signature,
        "key",
    );
    // Changes that belong to nothing, and one that stands on nothing.
    check(
        rewritten(|log| log.changes.push(log.changes[0].clone())),
        FaultKind::Change,
        "hash",
    );
    let stands = rewritten(|log| {
        let first = log.changes.remove(0);
        let at = find(log, "changes-accepted");
        if let Event::ChangesAccepted { hashes, .. } = &mut log.leaves[at].event {
            hashes.retain(|hash| *hash != first.hash);
        }
    });
    check(stands, FaultKind::Change, "bytes");
}

/// Links to a new password and the rule of two people are an owner's; so is another's device.
#[test]
fn owners_alone_give_links_rules_and_take_devices() {
    let with = |name: &str, event: Event| {
        let (mut log, _) = story();
        let at = find(&log, "role-changed");
        log.leaves.truncate(at);
        log.add(who(name), event);
        verify(&log.bundle()).fault
    };
    let revoked = |name: &str| Event::DeviceRevoked {
        user: user(name),
        device: device(name),
    };
    for event in [
        Event::ResetLinkMade { user: user("ana") },
        Event::CountersignRule { two_people: true },
        revoked("marta"),
    ] {
        assert_eq!(with("marta", event.clone()), None);
        let fault = with("ana", event).unwrap();
        assert_eq!(
            (fault.kind, fault.place.field.as_str()),
            (FaultKind::Roster, "who.user")
        );
    }
    assert_eq!(with("ana", revoked("ana")), None);
    let chosen = Event::PasswordChosen { user: user("ana") };
    assert_eq!(with("ana", chosen), None);
}

/// While two people are asked for, nobody countersigns their own sign-off.
#[test]
fn the_rule_of_two_people_holds_while_it_is_set() {
    let with = |rules: &[bool], countersigner: &str| {
        let (mut log, doc) = story();
        let at = find(&log, "countersigned");
        log.leaves.truncate(at - 1);
        log.statements.clear();
        for two_people in rules {
            let two_people = *two_people;
            log.add(who("marta"), Event::CountersignRule { two_people });
        }
        let of = log.signs("marta", statement("marta", Deed::SignOff, &doc));
        let ana = Event::RoleChanged {
            user: user("ana"),
            role: Role::Owner,
        };
        log.add(who("marta"), ana);
        let joined = statement(countersigner, Deed::Countersign { of }, &doc);
        log.signs(countersigner, joined);
        // The change of after the signature is not named any more.
        log.changes.pop();
        verify(&log.bundle()).fault
    };
    assert_eq!(with(&[], "marta"), None);
    assert_eq!(with(&[true, false], "marta"), None);
    assert_eq!(with(&[true], "ana"), None);
    let fault = with(&[true], "marta").unwrap();
    assert_eq!(
        (fault.kind, fault.place.field.as_str()),
        (FaultKind::Statement, "statement.who.user")
    );
}

/// A sign-off that its signer signed properly, with words that do not follow from the book.
#[test]
fn a_signed_untruth_is_found_out() {
    let check = |change: fn(&mut crate::proof::statement::Statement), kind, field: &str| {
        let (mut log, doc) = story();
        let at = find(&log, "signed-off");
        log.leaves.truncate(at);
        log.statements.clear();
        let mut statement = statement("ana", Deed::SignOff, &doc);
        change(&mut statement);
        log.signs("ana", statement);
        let found = verify(&log.bundle()).fault.unwrap();
        assert_eq!(
            (found.kind, found.place.field.as_str()),
            (kind, field),
            "{found}"
        );
        assert_eq!(found.place.job, Some(job()));
        // The change of after the signature is still in the file; the statement stands behind it.
        assert_eq!(
            found.place.line,
            Some(3 + log.leaves.len() + log.changes.len() + 1)
        );
    };
    let (claims, kind) = ("statement.claims", FaultKind::Claims);
    check(
        |s| s.claims.counts.outside -= 1,
        kind,
        &format!("{claims}.counts.outside"),
    );
    check(
        |s| s.claims.rule.tolerance_um = 5_000,
        kind,
        &format!("{claims}.rule.tolerance_um"),
    );
    check(
        |s| {
            s.claims.aside.pop();
        },
        kind,
        &format!("{claims}.aside[1]"),
    );
    check(
        |s| s.claims.aside[0].why.clear(),
        kind,
        &format!("{claims}.aside[0].why"),
    );
    check(
        |s| s.claims.result = Digest::of(b"wish"),
        kind,
        &format!("{claims}.result"),
    );
    check(
        |s| s.claims.readings += 1,
        kind,
        &format!("{claims}.readings"),
    );
    check(|s| s.claims.stage = "final".parse().unwrap(), kind, claims);
    let kind = FaultKind::Statement;
    check(
        |s| s.heads = vec![Digest::of(b"x")],
        kind,
        "statement.heads",
    );
    check(|s| s.job = "other".parse().unwrap(), kind, "statement.job");
    check(
        |s| s.shop = "other".parse().unwrap(),
        kind,
        "statement.shop",
    );
    check(
        |s| s.who = who("marta").unwrap(),
        kind,
        "statement.who.user",
    );
    check(|s| s.who.device = None, kind, "statement.who.device");
}

/// A countersignature joins one sign-off and says nothing of its own.
#[test]
fn a_countersignature_says_what_its_sign_off_says() {
    let (mut log, doc) = story();
    let at = find(&log, "countersigned");
    let first = match &log.leaves[at - 1].event {
        Event::SignedOff { statement, .. } => *statement,
        other => panic!("{other:?}"),
    };
    let mut check =
        |of: Digest, change: fn(&mut crate::proof::statement::Statement), field: &str| {
            log.leaves.truncate(at);
            log.statements.truncate(1);
            let mut statement = statement("marta", Deed::Countersign { of }, &doc);
            change(&mut statement);
            log.signs("marta", statement);
            let found = verify(&log.bundle()).fault.unwrap();
            assert_eq!(
                (found.kind, found.place.field.as_str()),
                (FaultKind::Statement, field),
                "{found}"
            );
        };
    check(Digest::of(b"x"), |_| {}, "statement.deed.of");
    check(
        first,
        |s| s.claims.counts.within += 1,
        "statement.claims.counts.within",
    );
    check(
        first,
        |s| s.heads.push(Digest([0xff; 32])),
        "statement.heads[1]",
    );
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
