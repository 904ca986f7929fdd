//! Leaves as text, and who could sign when.

use proptest::prelude::*;

use super::log::{Log, device, job, key, user, who};
use crate::proof::Digest;
use crate::proof::leaf::{Event, Leaf, Subject};
use crate::proof::roster::{CannotSign, Contradiction, Roster};
use crate::wire::Role;

/// One event of each kind.
fn events() -> Vec<Event> {
    let (user, device, job) = (user("ana"), device("ana"), job());
    let digest = Digest::of(b"x");
    vec![
        Event::ShopSetUp {
            name: "Lind & Söhne".into(),
        },
        Event::JobCreated { job: job.clone() },
        Event::ChangesAccepted {
            job: job.clone(),
            hashes: vec![digest],
            heads: vec![digest],
        },
        Event::ChangesRefused {
            job: job.clone(),
            reason: "sequence 3".into(),
            sent: digest,
        },
        Event::SignedOff {
            job: job.clone(),
            statement: digest,
        },
        Event::Countersigned {
            job: job.clone(),
            statement: digest,
            of: digest,
        },
        Event::SheetRevised {
            sheet: "hatch".into(),
            revision: 2,
            content: digest,
        },
        Event::SheetPublished {
            sheet: "shared hatch".into(),
            revision: 4,
        },
        Event::SheetWithdrawn {
            sheet: "shared hatch".into(),
        },
        Event::PersonInvited { role: Role::Owner },
        Event::PersonJoined {
            user: user.clone(),
            name: "Ana Lind".into(),
            role: Role::Technician,
        },
        Event::RoleChanged {
            user: user.clone(),
            role: Role::Owner,
        },
        Event::PersonRemoved { user: user.clone() },
        Event::DeviceRegistered {
            user: user.clone(),
            device: device.clone(),
            key: Some(key("ana").public()),
        },
        Event::DeviceRevoked {
            user: user.clone(),
            device,
        },
        Event::LinkMade {
            job: job.clone(),
            link: "01LINK".into(),
            expires_at_ms: 1_800_000_000_000,
        },
        Event::LinkRevoked {
            job,
            link: "01LINK".into(),
        },
        Event::SignedIn,
        Event::SignInFailed { user: user.clone() },
        Event::SessionReused { user },
    ]
}

#[test]
fn every_kind_of_entry_comes_back_and_no_other_text_does() {
    let mut log = Log::new();
    for event in events() {
        log.add(who("ana"), event.clone());
        log.add(None, event);
    }
    for leaf in &log.leaves {
        let text = leaf.text().unwrap();
        assert_eq!(Leaf::parse(text.as_bytes()).as_ref(), Ok(leaf));
        assert!(
            text.contains(&format!("\"kind\":\"{}\"", leaf.event.kind())),
            "{text}"
        );
        let spaced = text.replace("\",\"", "\", \"");
        let longer = text.replacen('{', "{\"aaa\":1,", 1);
        let newer = text.replace("leaf/1", "leaf/2");
        let cut = text[..text.len() - 1].to_owned();
        for other in [
            spaced,
            longer,
            newer,
            cut,
            format!("{text}\n"),
            String::new(),
        ] {
            assert!(Leaf::parse(other.as_bytes()).is_err(), "{other}");
        }
    }
    assert!(Leaf::parse(&[0xff, 0xfe]).is_err());
}

#[test]
fn entries_are_found_by_what_they_are_about() {
    let mut log = Log::new();
    log.add(who("ben"), Event::SignedIn)
        .add(None, Event::SignedIn);
    for event in events() {
        log.add(who("ben"), event);
    }
    let (ana, ben, job) = (user("ana"), user("ben"), job());
    let about = |subject| {
        log.leaves
            .iter()
            .filter(|leaf| leaf.subject() == subject)
            .count()
    };
    assert_eq!(
        about(Subject::Person(&ben)),
        2,
        "signing in is about whoever did"
    );
    assert_eq!(about(Subject::Job(&job)), 7);
    assert_eq!(about(Subject::Person(&ana)), 7);
    assert_eq!(about(Subject::Sheet("hatch")), 1);
    assert_eq!(about(Subject::Shop), 3);
}

/// Minutes after the first entry.
fn told(log: &Log) -> (Roster, impl Fn(usize) -> i64) {
    let mut roster = Roster::default();
    for leaf in &log.leaves {
        roster.tell(leaf).unwrap();
    }
    let first = log.leaves[0].at_ms;
    (roster, move |minute| first + 60_000 * minute as i64)
}

#[test]
fn keys_are_good_while_their_person_and_device_are() {
    let mut log = Log::new();
    log.joins("marta", Role::Owner) // minute 0
        .joins("ana", Role::Technician)
        .registers("ana")
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
        .registers("ana") // minute 5
        .add(who("marta"), Event::PersonRemoved { user: user("ana") })
        .joins("ana", Role::Technician);
    let (roster, at) = told(&log);
    let (ana, phone, public) = (user("ana"), device("ana"), key("ana").public());
    let may = |minute| roster.may_sign(&ana, &public, at(minute));
    assert_eq!(may(0), Err(CannotSign::NoMember));
    assert_eq!(may(1), Err(CannotSign::NotTheirKey));
    assert_eq!(may(2), Ok((Role::Technician, &phone)));
    assert_eq!(may(3), Ok((Role::Owner, &phone)));
    assert_eq!(may(4), Err(CannotSign::KeyEnded));
    assert_eq!(may(5), Ok((Role::Owner, &phone)));
    assert_eq!(may(6), Err(CannotSign::NoMember));
    assert_eq!(
        may(7),
        Err(CannotSign::KeyEnded),
        "back again, with a key to register"
    );
    let marta = roster.may_sign(&user("marta"), &public, at(3));
    assert_eq!(marta, Err(CannotSign::NotTheirKey));
    assert_eq!(roster.role(&ana, at(0)), None);
    assert_eq!(roster.role(&ana, at(100)), Some(Role::Technician));
}

#[test]
fn a_new_key_of_a_device_ends_the_old_one() {
    let mut log = Log::new();
    log.joins("ana", Role::Owner).registers("ana").add(
        who("ana"),
        Event::DeviceRegistered {
            user: user("ana"),
            device: device("ana"),
            key: Some(key("new").public()),
        },
    );
    let (roster, at) = told(&log);
    let ana = user("ana");
    assert!(roster.may_sign(&ana, &key("ana").public(), at(1)).is_ok());
    let old = roster.may_sign(&ana, &key("ana").public(), at(2));
    assert_eq!(old, Err(CannotSign::KeyEnded));
    assert!(roster.may_sign(&ana, &key("new").public(), at(2)).is_ok());
}

#[test]
fn entries_that_contradict_the_log_are_refused() {
    let mut log = Log::new();
    log.joins("marta", Role::Owner)
        .joins("ana", Role::Technician)
        .registers("ana");
    let check = |event: Event, contradiction: Contradiction| {
        let (mut roster, _) = told(&log);
        let mut next = Log::new();
        next.leaves.clone_from(&log.leaves);
        next.add(None, event);
        let last = Leaf {
            at_ms: i64::MAX,
            ..next.leaves.pop().unwrap()
        };
        assert_eq!(roster.tell(&last), Err(contradiction));
    };
    let ben = user("ben");
    check(
        Event::PersonJoined {
            user: user("ana"),
            name: "Ana".into(),
            role: Role::Owner,
        },
        Contradiction::JoinsTwice,
    );
    check(
        Event::RoleChanged {
            user: ben.clone(),
            role: Role::Owner,
        },
        Contradiction::NoMember,
    );
    check(
        Event::PersonRemoved { user: ben.clone() },
        Contradiction::NoMember,
    );
    check(
        Event::DeviceRevoked {
            user: ben,
            device: device("ben"),
        },
        Contradiction::NoMember,
    );
    check(
        Event::DeviceRegistered {
            user: user("marta"),
            device: device("marta"),
            key: Some(key("ana").public()),
        },
        Contradiction::AnothersKey,
    );
}

proptest! {
    #[test]
    fn whatever_a_name_is_it_comes_back(name in any::<String>(), at_ms in -1_000_000_000_000_i64..9_000_000_000_000) {
        let mut log = Log::new();
        log.add(who("ana"), Event::ShopSetUp { name });
        log.leaves[0].at_ms = at_ms;
        let text = log.leaves[0].text().unwrap();
        prop_assert_eq!(&Leaf::parse(text.as_bytes()).unwrap(), &log.leaves[0]);
    }

    #[test]
    fn any_bytes_are_an_entry_or_a_plain_refusal(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        prop_assert!(Leaf::parse(&bytes).is_err());
    }
}
