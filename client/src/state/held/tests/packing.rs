//! Snapshots: what they may remove, and when.

use super::*;

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
