//! Logs that somebody wrote anew with the key.

use super::*;

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
