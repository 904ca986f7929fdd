//! Generic bodies to begin with: points in pairs with rough places, and the members that carry them.
//!
//! Millimetres in the car's frame; the zero plane at the front wheels. The numbers are invented and
//! only as good as a rough place has to be: somebody who knows better drags the point. This file
//! refuses to know any maker's data.

mod tables;

use indexmap::IndexMap;

use crate::figures::Language;
use crate::ids::{MemberId, PointId};
use crate::job::{Member, Point, Side};
use tables::{PICKUP, PICKUP_MEMBERS, UNITISED, UNITISED_MEMBERS, VAN, VAN_MEMBERS};

/// Kind of generic body.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Body {
    /// Unitised car.
    Unitised,
    /// Pickup on a frame.
    Pickup,
    /// Van.
    Van,
}

/// How well a generic place is known, millimetres per axis.
const PLACE_SIGMA_MM: f64 = 300.0;

/// Points and members of a generic body, named in the language of whoever begins the job. Ids and
/// places are the same in every language.
#[must_use]
pub fn generic(
    body: Body,
    language: Language,
) -> (IndexMap<PointId, Point>, IndexMap<MemberId, Member>) {
    let (pairs, members) = match body {
        Body::Unitised => (UNITISED, UNITISED_MEMBERS),
        Body::Pickup => (PICKUP, PICKUP_MEMBERS),
        Body::Van => (VAN, VAN_MEMBERS),
    };
    let mut points = IndexMap::new();
    for (stem, names, x, y, z, member) in pairs {
        for (side, end, other, sign) in [(Side::Left, "L", "R", -1.0), (Side::Right, "R", "L", 1.0)]
        {
            let point = Point {
                label: names[language as usize].to_owned(),
                side,
                mirror: Some(point_id(&format!("{stem}-{other}"))),
                place_mm: [*x, sign * y, *z],
                place_sigma_mm: Some(PLACE_SIGMA_MM),
                trusted: false,
                member: Some(member_id(member, end)),
            };
            points.insert(point_id(&format!("{stem}-{end}")), point);
        }
    }
    let mut carried = IndexMap::new();
    for (stem, names, carriers) in members {
        let sides: &[&str] = if stem.ends_with("-*") {
            &["L", "R"]
        } else {
            &[""]
        };
        for end in sides {
            // The Spanish ones fit members of either gender.
            let side = match (*end, language) {
                ("L", Language::English) => ", left",
                ("L", Language::Spanish) => ", lado izquierdo",
                ("R", Language::English) => ", right",
                ("R", Language::Spanish) => ", lado derecho",
                _ => "",
            };
            let member = Member {
                label: format!("{}{side}", names[language as usize]),
                carried_by: carriers
                    .iter()
                    .map(|carrier| member_id(carrier, end))
                    .collect(),
            };
            carried.insert(member_id(stem, end), member);
        }
    }
    (points, carried)
}

fn point_id(text: &str) -> PointId {
    PointId::parse(text).expect("the names of this table have no spaces")
}

fn member_id(stem: &str, end: &str) -> MemberId {
    MemberId::parse(&stem.replace('*', end)).expect("the names of this table have no spaces")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Job;

    #[test]
    fn every_generic_body_is_a_job_that_holds_together() {
        for body in [Body::Unitised, Body::Pickup, Body::Van] {
            let (points, members) = generic(body, Language::default());
            assert!(points.len() >= 20, "{body:?}");
            for point in points.values() {
                assert!(
                    members.contains_key(point.member.as_ref().unwrap()),
                    "{point:?}"
                );
                assert!(points.contains_key(point.mirror.as_ref().unwrap()));
            }
            for member in members.values() {
                assert!(
                    member
                        .carried_by
                        .iter()
                        .all(|carrier| members.contains_key(carrier)),
                    "{member:?}"
                );
            }
            let job = Job {
                points,
                members,
                ..Job::default()
            };
            crate::jobfile::parse(&crate::jobfile::write(&job)).unwrap();
        }
    }

    /// Takes the names away from points and members.
    fn take_names(
        (points, members): &mut (IndexMap<PointId, Point>, IndexMap<MemberId, Member>),
    ) -> Vec<String> {
        let points = points.values_mut().map(|point| &mut point.label);
        let members = members.values_mut().map(|member| &mut member.label);
        points.chain(members).map(std::mem::take).collect()
    }

    #[test]
    fn languages_differ_in_every_name_and_in_nothing_else() {
        for body in [Body::Unitised, Body::Pickup, Body::Van] {
            let [mut english, mut spanish] = Language::ALL.map(|language| generic(body, language));
            let names = take_names(&mut english);
            for (english, spanish) in names.iter().zip(take_names(&mut spanish)) {
                assert!(!english.is_empty() && !spanish.is_empty());
                assert_ne!(*english, spanish);
            }
            assert_eq!(english, spanish);
        }
    }
}
