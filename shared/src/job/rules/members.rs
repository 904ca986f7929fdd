//! Members carry each other, and never in a circle.

use indexmap::IndexMap;

use super::fault::{Fault, Step, What};
use crate::ids::MemberId;
use crate::job::Member;

/// What cannot be in the list of a member's carriers, circles apart.
#[must_use]
pub fn carriers(
    members: &IndexMap<MemberId, Member>,
    id: &MemberId,
    carried_by: &[MemberId],
) -> Vec<Fault> {
    let fault = |(index, carrier): (usize, &MemberId)| {
        let what = if carrier == id {
            What::CarriesItself
        } else if members.contains_key(carrier) {
            return None;
        } else {
            What::Missing {
                thing: "member",
                id: carrier.to_string(),
                home: "members",
            }
        };
        Some(Fault::new(
            [Step::Field("carried_by"), Step::Index(index)],
            what,
        ))
    };
    carried_by.iter().enumerate().filter_map(fault).collect()
}

/// Every way back to a member that it is carried by, with the member whose list closes the circle.
/// Without these there is no circle left.
#[must_use]
pub fn circles(members: &IndexMap<MemberId, Member>) -> Vec<(MemberId, Fault)> {
    let mut found = Vec::new();
    let mut state = vec![State::New; members.len()];
    for start in 0..members.len() {
        if state[start] != State::New {
            continue;
        }
        // A path of (member, next carrier to look at); no recursion, whatever the file holds.
        let mut path = vec![(start, 0)];
        state[start] = State::OnPath;
        while let Some((at, next)) = path.last_mut() {
            let (at, index) = (*at, *next);
            *next += 1;
            let Some(carrier) = members[at].carried_by.get(index) else {
                state[at] = State::Done;
                path.pop();
                continue;
            };
            match members.get_index_of(carrier) {
                Some(other) if other == at => {}
                Some(other) if state[other] == State::New => {
                    state[other] = State::OnPath;
                    path.push((other, 0));
                }
                Some(other) if state[other] == State::OnPath => {
                    let circle = path.iter().skip_while(|(at, _)| *at != other);
                    let name = |at: usize| members.get_index(at).map(|(id, _)| id.clone());
                    let names = circle.map(|(at, _)| *at).chain([other]).filter_map(name);
                    let what = What::Circle(names.collect());
                    let place = [Step::Field("carried_by"), Step::Index(index)];
                    found.extend(name(at).map(|id| (id, Fault::new(place, what))));
                }
                _ => {}
            }
        }
    }
    found
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    New,
    OnPath,
    Done,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn members(carried: &[(&str, &[&str])]) -> IndexMap<MemberId, Member> {
        let id = |text: &&str| MemberId::parse(text).unwrap();
        carried
            .iter()
            .map(|(name, by)| {
                let member = Member {
                    carried_by: by.iter().map(id).collect(),
                    ..Member::default()
                };
                (id(name), member)
            })
            .collect()
    }

    #[test]
    fn circles_are_named_once_each() {
        let check = |carried: &[(&str, &[&str])], says: &[&str]| {
            let found = circles(&members(carried));
            let found: Vec<String> = found
                .iter()
                .map(|(id, fault)| format!("{id} {:?} {}", fault.at[1], fault.what.value()))
                .collect();
            assert_eq!(found, says);
        };
        check(
            &[
                ("cell", &[]),
                ("rail", &["cell"]),
                ("tower", &["rail", "cell"]),
            ],
            &[],
        );
        // Not this function's matter.
        check(&[("a", &["a", "nobody"])], &[]);
        check(
            &[("a", &["b"]), ("b", &["a"])],
            &["b Index(0) \"a\" → \"b\" → \"a\""],
        );
        check(
            &[
                ("x", &["a"]),
                ("a", &["x", "b"]),
                ("b", &["c", "a"]),
                ("c", &["a"]),
            ],
            &[
                "a Index(0) \"x\" → \"a\" → \"x\"",
                "c Index(0) \"a\" → \"b\" → \"c\" → \"a\"",
                "b Index(1) \"a\" → \"b\" → \"a\"",
            ],
        );
    }

    #[test]
    fn the_longest_chain_needs_no_stack() {
        let names: Vec<String> = (0..200_000).map(|n| format!("m{n}")).collect();
        let mut chain: IndexMap<MemberId, Member> = names
            .iter()
            .enumerate()
            .map(|(n, name)| {
                let next = MemberId::parse(&names[(n + 1) % names.len()]).unwrap();
                let member = Member {
                    carried_by: vec![next],
                    ..Member::default()
                };
                (MemberId::parse(name).unwrap(), member)
            })
            .collect();
        let found = circles(&chain);
        assert_eq!(found.len(), 1);
        assert!(found[0].1.what.to_string().contains("\"m9\" → … → \"m0\""));
        chain[0].carried_by.clear();
        assert_eq!(circles(&chain), Vec::new());
    }
}
