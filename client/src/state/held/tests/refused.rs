//! What the server refuses is kept, and done again where it can be.

use super::*;

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

/// Shares until the gate refuses. What came from others is on the disk before more is said, so who
/// speaks first makes no difference.
fn refusal(held: &mut Held, disk: &mut Disk, host: &mut Host) -> String {
    for number in 90..95 {
        if let Err(reason) = share(held, host) {
            return reason;
        }
        disk.save(held, &number.to_string());
    }
    panic!("the gate takes it");
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
    let mine = held.doc.get_heads();
    // Somebody else's reading has the same name: the book writes a reading once.
    meanwhile(&mut host, &[("99", reading("r5", 501.0))]);
    let reason = refusal(&mut held, &mut disk, &mut host);
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
    // The other reading may have come in before the refusal.
    let refused = refused.fork_at(&mine).unwrap();
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
