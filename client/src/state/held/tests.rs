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

#[test]
fn a_snapshot_removes_only_what_is_on_disk_twice_more() {
    let (mut held, mut disk) = (Held::begin(actor(1)), Disk::default());
    let mut entries = 0;
    let mut snapshots = 0;
    let mut enter = |held: &mut Held, disk: &mut Disk, count: usize| {
        for _ in 0..count {
            entries += 1;
            let record = format!("{entries:05}");
            held.act(&stamp(&record), &note(&format!("n{record}")))
                .unwrap();
            disk.save(held, &record);
        }
    };
    let mut compact = |held: &mut Held, disk: &mut Disk| {
        let bytes = held.worthy_snapshot().unwrap();
        snapshots += 1;
        let name = format!("snapshot/{snapshots}");
        disk.0.insert(name.clone(), bytes.clone());
        held.snapshot_written(name.clone(), &bytes);
        assert!(held.worthy_snapshot().is_none());
        let gone = compact::superfluous(&disk.found().entries, &name, &bytes);
        disk.0.retain(|name, _| !gone.contains(name));
        gone.len()
    };
    enter(&mut held, &mut disk, 198);
    assert!(
        held.worthy_snapshot().is_none(),
        "199 changes with the book's first"
    );
    enter(&mut held, &mut disk, 1);
    assert_eq!(
        compact(&mut held, &mut disk),
        0,
        "there is only one snapshot"
    );
    enter(&mut held, &mut disk, 200);
    assert_eq!(
        compact(&mut held, &mut disk),
        199,
        "what the first snapshot has"
    );
    enter(&mut held, &mut disk, 200);
    assert_eq!(
        compact(&mut held, &mut disk),
        201,
        "and the first snapshot with it"
    );
    enter(&mut held, &mut disk, 3);
    // Whatever single thing is damaged, no entry is lost, not even without what was meant.
    disk.0.retain(|name, _| !Kind::Intent.has(name));
    let names: Vec<String> = disk.0.keys().cloned().collect();
    let newest = |name: &str| name > "change/00599" && name.starts_with("change");
    assert_eq!(
        names
            .iter()
            .filter(|name| name.starts_with("snapshot"))
            .count(),
        2
    );
    for name in names.iter().filter(|name| !newest(name)) {
        let mut worn = disk.clone();
        worn.0.get_mut(name).unwrap().pop();
        let Opened {
            held: again,
            damaged,
        } = worn.open(2);
        assert_eq!(damaged, [name.as_str()]);
        assert_eq!(
            again.doc.get_heads(),
            held.doc.get_heads(),
            "without {name}"
        );
    }
}

#[test]
fn a_snapshot_that_does_not_stand_on_disk_removes_nothing() {
    let (mut held, mut disk) = (Held::begin(actor(1)), Disk::default());
    for number in 0..250 {
        let record = format!("{number:05}");
        held.act(&stamp(&record), &note(&record)).unwrap();
        disk.save(&mut held, &record);
    }
    let bytes = held.worthy_snapshot().unwrap();
    disk.0.insert("snapshot/1".into(), bytes.clone());
    disk.0.insert("snapshot/2".into(), bytes.clone());
    let superfluous =
        |disk: &Disk| compact::superfluous(&disk.found().entries, "snapshot/2", &bytes).len();
    assert_eq!(superfluous(&disk), 250);
    let mut worn = disk.clone();
    worn.0.get_mut("snapshot/2").unwrap()[100] ^= 1;
    assert_eq!(superfluous(&worn), 0);
    worn = disk.clone();
    worn.0.get_mut("snapshot/1").unwrap().pop();
    assert_eq!(superfluous(&worn), 0);
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

/// Another phone writes these on the server, without the gate's word.
fn meanwhile(host: &mut Host, intentions: &[(&str, Intention)]) {
    let mut doc = Automerge::clone(host.doc()).with_actor(actor(9));
    for (record, intention) in intentions {
        book::edit::apply(&mut doc, &stamp(record), intention).unwrap();
    }
    host.replace(doc);
}

/// Fetches the server's document after a refusal, as the line does.
fn fetch(held: &mut Held, host: &mut Host) {
    host.leave(1);
    share(held, host).unwrap();
    assert!(held.is_fetched());
}

#[test]
fn a_refused_phone_keeps_its_entries_under_a_new_actor_and_names_what_it_could_not() {
    let (mut held, mut disk, mut host) = shared_book();
    for (record, intention) in [
        ("05", reading("r5", 500.0)),
        ("06", reading("r6", 600.0)),
        ("07", note("n7")),
    ] {
        held.act(&stamp(record), &intention).unwrap();
        disk.save(&mut held, record);
    }
    // Somebody else's reading has the same name: the book writes a reading once.
    meanwhile(&mut host, &[("99", reading("r5", 501.0))]);
    let reason = share(&mut held, &mut host).unwrap_err();
    assert_eq!(reason, "record readings/r5");

    held.refuse(reason, actor(2));
    // The screen keeps showing everything meanwhile.
    assert_eq!(spans(&held.doc).len(), 2);
    held.act(&stamp("08"), &reading("r8", 800.0)).unwrap();
    fetch(&mut held, &mut host);
    let replacement = held
        .replacement("new".into(), "2026-03-02T10:00:00Z".into())
        .unwrap();
    let story = replacement.story.clone();
    let left: Vec<&str> = story
        .left
        .iter()
        .map(|left| left.stamp.record.as_str())
        .collect();
    assert_eq!((story.redone, left), (6, vec!["05"]));
    let refused = Automerge::load(&replacement.refused).unwrap();
    assert!(spans(&refused).contains(&("r5".into(), 500.0)));
    // An entry that is made while the replacement is on its way to disk.
    held.act(&stamp("09"), &reading("r9", 900.0)).unwrap();
    held.give_way(replacement);
    let all = [("r5", 501.0), ("r6", 600.0), ("r8", 800.0), ("r9", 900.0)];
    assert_eq!(spans(&held.doc), all.map(|(id, mm)| (id.to_owned(), mm)));
    assert!(!held.is_saved());
    disk.save(&mut held, "10");
    share(&mut held, &mut host).unwrap();
    assert_eq!(spans(host.doc()), spans(&held.doc));
    assert_eq!(notes(host.doc()), ["n7"]);
    assert_eq!(held.unshared(), 0);
}

#[test]
fn an_entry_that_the_server_has_by_another_way_is_not_left() {
    let (mut held, _, mut host) = shared_book();
    held.act(&stamp("05"), &reading("r5", 500.0)).unwrap();
    meanwhile(&mut host, &[("98", reading("r5", 500.0))]);
    held.refuse("record readings/r5".into(), actor(2));
    fetch(&mut held, &mut host);
    let replacement = held
        .replacement("new".into(), "2026-03-02T10:00:00Z".into())
        .unwrap();
    assert_eq!(replacement.story.left, []);
}

#[test]
fn what_came_from_others_is_not_mistaken_for_what_was_meant_here() {
    let (mut held, mut disk, mut host) = shared_book();
    meanwhile(&mut host, &[("98", reading("r5", 500.0))]);
    share(&mut held, &mut host).unwrap();
    disk.save(&mut held, "05");
    // What the server had confirmed is forgotten by damage.
    disk.0.remove(SHARED);
    let mut held = disk.open(2).held;
    held.act(&stamp("06"), &reading("r6", 600.0)).unwrap();
    let [ours, now, theirs] = [1, 2, 9].map(|number| actor(number).to_hex_string());
    assert!(
        held.actors().contains(&theirs),
        "it may be ours, for all that is known"
    );
    assert!(held.has_meant_as(&ours) && held.has_meant_as(&now));
    assert!(!held.has_meant_as(&theirs));
    disk.save(&mut held, "06");
    share(&mut held, &mut host).unwrap();
    assert_eq!(held.unshared(), 0);
}

#[test]
fn a_look_that_began_before_a_lost_entry_was_done_again_changes_nothing() {
    let (_, mut disk) = three_entries();
    disk.0.get_mut("change/02").unwrap().truncate(40);
    let mut held = disk.open(2).held;
    disk.0.remove("change/02");
    let before = held.at_hand();
    let found = disk.found_beside(&before.known);
    assert_eq!(held.redo_lost().done.len(), 2);
    for _ in 0..2 {
        assert!(held.take_in(found.clone(), &before).is_empty());
        let redone = held.redo_lost();
        assert_eq!(redone, Redone::default());
    }
    disk.save(&mut held, "04");
    assert!(held.take_in(found, &before).is_empty());
    assert_eq!(held.redo_lost(), Redone::default());
    assert_eq!(held.unconfirmed().len(), 3);
    assert_eq!(disk.open(3).held.unshared(), 4);
}

#[test]
fn what_is_there_by_another_change_is_meant_by_that_change() {
    let (_, mut disk) = three_entries();
    let mut worn = disk.clone();
    // Another tab has done the second entry again; its own memory of it was lost then.
    worn.0.get_mut("change/02").unwrap().truncate(40);
    let mut other = worn.open(2).held;
    other.redo_lost();
    let Draft { puts, .. } = other.draft("04").unwrap();
    disk.0 = worn.0;
    disk.0.remove("change/02");
    disk.0.insert("change/04".into(), puts[0].1.clone());
    let mut held = disk.open(3).held;
    assert_eq!(held.lost().len(), 2);
    let redone = held.redo_lost();
    assert_eq!((redone.done.len(), redone.there.len()), (2, 0));
    assert!(held.lost().is_empty());
    assert_eq!(notes(&held.doc), ["n01", "n02", "n03"]);
    assert_eq!(held.unconfirmed().len(), 3);
}

#[test]
fn what_the_server_has_lost_and_refuses_is_counted_and_kept() {
    let (mut held, mut disk, mut host) = shared_book();
    let backup = Automerge::clone(host.doc());
    meanwhile(&mut host, &[("98", reading("r5", 500.0))]);
    share(&mut held, &mut host).unwrap();
    disk.save(&mut held, "05");
    let confirmed = held.confirmed();
    held.removed(&confirmed);
    host.replace(backup);
    held.refuse("actor 09".into(), actor(2));
    fetch(&mut held, &mut host);
    let replacement = held
        .replacement("new".into(), "2026-03-02T10:00:00Z".into())
        .unwrap();
    assert_eq!(
        (replacement.story.only_kept, replacement.story.missing()),
        (1, 1)
    );
    let kept = Automerge::load(&replacement.refused).unwrap();
    assert_eq!(spans(&kept).len(), 1);
}

#[test]
fn a_field_that_somebody_else_set_meanwhile_stays_a_question() {
    let (mut held, _, mut host) = shared_book();
    let rename = |label: &str| Intention::RenamePoint {
        id: PointId::parse("p1").unwrap(),
        label: label.into(),
    };
    held.act(&stamp("05"), &rename("ours")).unwrap();
    meanwhile(&mut host, &[("98", rename("theirs"))]);
    held.refuse("engine".into(), actor(2));
    fetch(&mut held, &mut host);
    let replacement = held
        .replacement("new".into(), "2026-03-02T10:00:00Z".into())
        .unwrap();
    let (_, findings) = book::read(&replacement.held.doc);
    let values: Vec<&str> = findings
        .iter()
        .flat_map(|f| f.values.iter().map(String::as_str))
        .collect();
    assert!(
        values.contains(&"ours") && values.contains(&"theirs"),
        "{findings:?}"
    );
}

#[test]
fn a_server_that_refuses_again_and_again_gets_its_way_and_everything_is_kept() {
    let (mut held, _, mut host) = shared_book();
    held.act(&stamp("05"), &reading("r5", 500.0)).unwrap();
    for _ in 0..3 {
        held.refuse("engine".into(), actor(2));
    }
    fetch(&mut held, &mut host);
    let replacement = held
        .replacement("new".into(), "2026-03-02T10:00:00Z".into())
        .unwrap();
    assert_eq!(replacement.story.left.len(), 1);
    held.give_way(replacement);
    assert_eq!(spans(&held.doc), []);
    assert_eq!(held.unshared(), 0);
}

#[test]
fn a_book_that_the_server_has_never_heard_of_begins_anew() {
    let mut held = Held::begin(actor(1));
    held.act(&stamp("01"), &stage()).unwrap();
    held.refuse("actor 01".into(), actor(2));
    held.begin_anew();
    let replacement = held
        .replacement("new".into(), "2026-03-02T10:00:00Z".into())
        .unwrap();
    assert_eq!(
        (replacement.story.redone, replacement.story.left.len()),
        (1, 0)
    );
    held.give_way(replacement);
    assert_eq!(held.actors(), BTreeSet::from([actor(2).to_hex_string()]));
    let mut host = Host::new(Automerge::new());
    let mut disk = Disk::default();
    if !held.is_saved() {
        disk.save(&mut held, "02");
    }
    share(&mut held, &mut host).unwrap();
    assert_eq!(book::read(host.doc()).0.stages.len(), 1);
}

#[test]
fn another_tab_follows_a_replacement_with_what_it_had_not_written() {
    let (mut held, mut disk, mut host) = shared_book();
    let mut other = disk.open(3).held;
    held.act(&stamp("05"), &reading("r5", 500.0)).unwrap();
    disk.save(&mut held, "05");
    other.act(&stamp("06"), &reading("r6", 600.0)).unwrap();
    held.refuse("engine".into(), actor(2));
    fetch(&mut held, &mut host);
    let replacement = held
        .replacement("new".into(), "2026-03-02T10:00:00Z".into())
        .unwrap();
    disk.0.clear();
    disk.0.extend(replacement.draft.puts.clone());
    held.give_way(replacement);
    let stored = disk.open(3).held;
    assert_ne!(stored.replica().1, other.replica().1);
    other.follow(stored);
    assert_eq!(spans(&other.doc).len(), 2);
    assert!(!other.is_saved());
    disk.save(&mut other, "07");
    let before = held.at_hand();
    let found = disk.found_beside(&before.known);
    assert!(held.take_in(found, &before).is_empty());
    assert_eq!(spans(&held.doc).len(), 2);
}
