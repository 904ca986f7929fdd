//! What a phone holds, writes, loses, finds again and is refused.

use automerge::ReadDoc;
use shared::ids::{PointId, ReadingId, StageId};
use shared::job::{Point, Reading, Side, Stage, StageKind, Taken};
use shared::sync::conversation::Host;
use shared::sync::gate::{Role, weigh};

use super::opening::Opened;
use super::*;
use crate::store::{Entry, Found};

fn actor(number: u8) -> ActorId {
    ActorId::from(&[number; 16][..])
}

fn stamp(record: &str) -> Stamp {
    Stamp {
        by: "Ana".into(),
        at: "2026-03-02T09:14:00Z".into(),
        at_ms: 1_772_442_840_000,
        record: record.into(),
    }
}

fn note(id: &str) -> Intention {
    let text = "dented".into();
    Intention::WriteNote {
        id: id.into(),
        text,
    }
}

/// A phone's disk: what was written, in order of names.
#[derive(Default, Clone)]
struct Disk(BTreeMap<String, Vec<u8>>);

impl Disk {
    fn save(&mut self, held: &mut Held, ulid: &str) {
        let draft = held.draft(ulid).unwrap();
        self.0.extend(draft.puts.clone());
        held.written(draft);
        assert!(held.is_saved());
    }

    fn found(&self) -> Found {
        self.found_beside(&BTreeSet::new())
    }

    fn found_beside(&self, known: &BTreeSet<String>) -> Found {
        let entry = |(name, bytes): (&String, &Vec<u8>)| Entry {
            name: name.clone(),
            bytes: bytes.clone(),
            whole: true,
        };
        Found {
            names: self.0.keys().cloned().collect(),
            entries: self
                .0
                .iter()
                .filter(|(name, _)| !known.contains(*name))
                .map(entry)
                .collect(),
        }
    }

    fn open(&self, number: u8) -> Opened {
        Held::open(self.found(), actor(number))
    }
}

/// A book with three entries, each written by itself.
fn three_entries() -> (Held, Disk) {
    let (mut held, mut disk) = (Held::begin(actor(1)), Disk::default());
    for record in ["01", "02", "03"] {
        held.act(&stamp(record), &note(&format!("n{record}")))
            .unwrap();
        disk.save(&mut held, record);
    }
    (held, disk)
}

fn notes(doc: &Automerge) -> Vec<String> {
    let (_, notes) = doc.get(automerge::ROOT, "notes").unwrap().unwrap();
    doc.keys(notes).collect()
}

fn stage() -> Intention {
    Intention::BeginStage {
        stage: Stage {
            id: StageId::parse("s1").unwrap(),
            label: "as received".into(),
            of: StageKind::AsReceived,
            load: None,
        },
    }
}

fn point(id: &str) -> Intention {
    Intention::AddPoint {
        id: PointId::parse(id).unwrap(),
        point: Point {
            label: id.into(),
            side: Side::Centre,
            mirror: None,
            place_mm: [0.0, 0.0, 500.0],
            place_sigma_mm: None,
            trusted: true,
            member: None,
        },
    }
}

fn reading(id: &str, value_mm: f64) -> Intention {
    let [from, to] = ["p1", "p2"].map(|id| PointId::parse(id).unwrap());
    Intention::RecordReading {
        reading: Reading {
            id: ReadingId::parse(id).unwrap(),
            stage: StageId::parse("s1").unwrap(),
            taken: Taken::Span { from, to, value_mm },
            sigma_mm: None,
            tool: None,
            origin_mm: 0.0,
            by: "Ana".into(),
            at: "2026-03-02T09:14:00Z".into(),
            entered: format!("{value_mm} mm"),
            note: String::new(),
            set_aside: None,
            replaces: None,
        },
    }
}

fn spans(doc: &Automerge) -> Vec<(String, f64)> {
    let readings = book::read(doc).0.readings.into_iter();
    let mut spans: Vec<(String, f64)> = readings
        .map(|reading| match reading.taken {
            Taken::Span { value_mm, .. } => (reading.id.to_string(), value_mm),
            _ => panic!("only spans here"),
        })
        .collect();
    spans.sort_by(|a, b| a.0.cmp(&b.0));
    spans
}

/// A book that is shared, with the other phone of the shop on it.
fn shared_book() -> (Held, Disk, Host) {
    let (mut held, mut disk) = (Held::begin(actor(1)), Disk::default());
    for (record, intention) in [("01", stage()), ("02", point("p1")), ("03", point("p2"))] {
        held.act(&stamp(record), &intention).unwrap();
        disk.save(&mut held, record);
    }
    let mut host = Host::new(Automerge::new());
    share(&mut held, &mut host).unwrap();
    disk.save(&mut held, "04");
    (held, disk, host)
}

#[test]
fn an_entry_is_one_draft_with_its_change_and_its_intention() {
    let mut held = Held::begin(actor(1));
    held.act(&stamp("01"), &note("n1")).unwrap();
    assert!(!held.is_saved());
    let draft = held.draft("01").unwrap();
    let names: Vec<&str> = draft.puts.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names, ["change/01", "intent/01"]);
    // A second entry while the first is being written is the next draft.
    held.act(&stamp("02"), &note("n2")).unwrap();
    held.written(draft);
    assert!(!held.is_saved());
    let draft = held.draft("02").unwrap();
    let names: Vec<&str> = draft.puts.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names, ["change/02", "intent/02"]);
    held.written(draft);
    assert!(held.is_saved() && held.draft("03").is_none());
}

#[test]
fn a_write_that_failed_is_part_of_the_next_one() {
    let mut held = Held::begin(actor(1));
    held.act(&stamp("01"), &note("n1")).unwrap();
    drop(held.draft("01"));
    held.act(&stamp("02"), &note("n2")).unwrap();
    let mut disk = Disk::default();
    disk.save(&mut held, "02");
    let again = disk.open(2);
    assert_eq!(notes(&again.held.doc), ["n1", "n2"]);
    assert_eq!(again.held.unconfirmed().len(), 2);
}

#[test]
fn what_was_written_is_loaded_again() {
    let (held, disk) = three_entries();
    let Opened {
        held: again,
        damaged,
    } = disk.open(2);
    assert_eq!(damaged, Vec::<String>::new());
    assert_eq!(again.doc.get_heads(), held.doc.get_heads());
    assert!(again.is_saved());
    assert_eq!(again.unshared(), 4);
    assert_eq!(again.unconfirmed(), held.unconfirmed());
}

#[test]
fn a_lost_change_is_done_again_and_what_built_on_it_too() {
    for name in ["change/01", "change/02", "change/03"] {
        let (_, mut disk) = three_entries();
        disk.0.get_mut(name).unwrap().truncate(40);
        let Opened { mut held, damaged } = disk.open(2);
        assert_eq!(damaged, [name]);
        disk.0.remove(name);
        let redone = held.redo_lost();
        assert!(redone.left.is_empty(), "{redone:?}");
        assert_eq!(notes(&held.doc), ["n01", "n02", "n03"], "{name}");
        disk.save(&mut held, "04");
        let again = disk.open(3).held;
        assert_eq!(notes(&again.doc), ["n01", "n02", "n03"]);
        assert!(
            again
                .unconfirmed()
                .iter()
                .all(|meant| meant.stamp.by == "Ana")
        );
    }
}

#[test]
fn two_tabs_take_in_what_the_other_has_written() {
    let (mut ana, mut disk) = three_entries();
    let mut other = disk.open(2).held;
    ana.act(&stamp("04"), &note("n04")).unwrap();
    other.act(&stamp("05"), &note("n05")).unwrap();
    disk.save(&mut other, "05");
    disk.save(&mut ana, "04");
    // One has an entry that is not on disk yet; taking the other's in does not make it saved.
    ana.act(&stamp("06"), &note("n06")).unwrap();
    let before = ana.at_hand();
    let found = disk.found_beside(&before.known);
    assert!(ana.take_in(found, &before).is_empty());
    assert!(!ana.is_saved());
    disk.save(&mut ana, "06");
    let before = other.at_hand();
    let found = disk.found_beside(&before.known);
    assert!(other.take_in(found, &before).is_empty());
    assert_eq!(other.doc.get_heads(), ana.doc.get_heads());
    assert_eq!(other.unconfirmed(), ana.unconfirmed());
    assert!(other.is_saved());
}

#[test]
fn what_builds_on_a_lost_book_waits_for_the_server() {
    let (mut held, mut disk, mut host) = shared_book();
    let confirmed = held.confirmed();
    held.removed(&confirmed);
    disk.0.retain(|name, _| !confirmed.contains(name));
    held.act(&stamp("05"), &reading("r5", 500.0)).unwrap();
    disk.save(&mut held, "05");
    // Nothing but the newest entry is left of the book.
    disk.0.retain(|name, _| name.ends_with("/05"));
    let mut held = disk.open(2).held;
    assert!(held.redo_lost().done.is_empty());
    assert_eq!(held.unshared(), 1);
    share(&mut held, &mut host).unwrap();
    // Its change had only waited for the rest.
    assert_eq!(spans(&held.doc), [("r5".to_owned(), 500.0)]);
    disk.save(&mut held, "06");
    share(&mut held, &mut host).unwrap();
    assert_eq!(spans(host.doc()), spans(&held.doc));
    assert_eq!(held.unshared(), 0);
}

#[test]
fn what_is_written_during_a_look_at_the_disk_stays_meant() {
    let (mut held, mut disk) = three_entries();
    let before = held.at_hand();
    let found = disk.found_beside(&before.known);
    held.act(&stamp("04"), &note("n04")).unwrap();
    disk.save(&mut held, "04");
    assert!(held.take_in(found, &before).is_empty());
    assert_eq!(held.unconfirmed().len(), 4);
    // What the tab on the line has removed goes.
    disk.0.remove("intent/01");
    let before = held.at_hand();
    let found = disk.found_beside(&before.known);
    assert!(held.take_in(found, &before).is_empty());
    assert_eq!(held.unconfirmed().len(), 3);
}

/// Shares until neither has anything to say; the reason when the gate refuses.
fn share(held: &mut Held, host: &mut Host) -> Result<(), String> {
    host.join(1, Role::Write);
    held.meet();
    for _ in 0..20 {
        let Some((_, message)) = held.next_message(false) else {
            return Ok(());
        };
        let question = host.question(1, message).unwrap();
        let admitted = weigh(question, |_| true).map_err(|refusal| refusal.to_string())?;
        host.commit(1, admitted);
        while let Some(answer) = host.next_message(1) {
            held.receive(&answer).unwrap();
        }
    }
    panic!("the conversation does not end");
}

#[test]
fn what_the_server_confirms_is_kept_no_longer_and_known_to_the_next_session() {
    let (mut held, mut disk) = three_entries();
    let mut host = Host::new(Automerge::new());
    share(&mut held, &mut host).unwrap();
    assert_eq!(held.unshared(), 0);
    disk.save(&mut held, "04");
    let confirmed = held.confirmed();
    assert_eq!(confirmed, ["intent/01", "intent/02", "intent/03"]);
    held.removed(&confirmed);
    disk.0.retain(|name, _| !confirmed.contains(name));
    let mut again = disk.open(2).held;
    assert_eq!(again.unshared(), 0);
    again.act(&stamp("05"), &note("n05")).unwrap();
    assert_eq!(again.unshared(), 1);
    assert_eq!(again.confirmed(), Vec::<String>::new());
}

#[test]
fn nothing_is_told_that_is_not_on_disk_unless_the_disk_fails() {
    let mut held = Held::begin(actor(1));
    held.act(&stamp("01"), &note("n1")).unwrap();
    held.meet();
    assert!(held.next_message(false).is_none());
    assert!(held.next_message(true).is_some());
}

mod packing;
mod refused;
