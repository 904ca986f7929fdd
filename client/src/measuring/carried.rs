//! Which member carries a point that is added on a side.
//!
//! A pair is named with one member; its other half is on the matching one. This file refuses to know
//! how a body is bent.

use shared::ids::MemberId;
use shared::job::{Job, Side};

/// The member of a point on this side, when `chosen` was named for its pair: the matching one where
/// the chosen one is the other side's, else the chosen one.
#[must_use]
pub fn on_side(job: &Job, chosen: &MemberId, side: Side) -> MemberId {
    let (own, twin) = match twin(job, chosen) {
        Some(found) => found,
        None => return chosen.clone(),
    };
    let is_other = side != Side::Centre && side != own;
    if is_other { twin } else { chosen.clone() }
}

/// The side a member stands on, and the member that matches it on the other: as their pairs of points
/// say, else as their names end.
fn twin(job: &Job, chosen: &MemberId) -> Option<(Side, MemberId)> {
    let of_pairs = job.points.values().find_map(|point| {
        let other = job.points.get(point.mirror.as_ref()?)?.member.clone()?;
        let is_matched = point.member.as_ref() == Some(chosen) && other != *chosen;
        is_matched.then_some((point.side, other))
    });
    of_pairs.or_else(|| {
        let name = chosen.as_str();
        let [left, right] = ["-L", "-R"].map(|end| name.strip_suffix(end));
        let (side, other) = match (left, right) {
            (Some(stem), _) => (Side::Left, format!("{stem}-R")),
            (_, Some(stem)) => (Side::Right, format!("{stem}-L")),
            _ => return None,
        };
        let other = MemberId::parse(&other).ok()?;
        job.members.contains_key(&other).then_some((side, other))
    })
}

#[cfg(test)]
mod tests {
    use shared::body::{Body, generic};
    use shared::figures::Language;

    use super::*;

    fn member(text: &str) -> MemberId {
        MemberId::parse(text).unwrap()
    }

    #[test]
    fn each_half_of_a_pair_is_on_the_member_of_its_side() {
        let (points, members) = generic(Body::Unitised, Language::English);
        let mut job = Job {
            points,
            members,
            ..Job::default()
        };
        let check = |job: &Job| {
            for chosen in ["front-rail-L", "front-rail-R"] {
                let on = |side| on_side(job, &member(chosen), side);
                assert_eq!(on(Side::Left), member("front-rail-L"));
                assert_eq!(on(Side::Right), member("front-rail-R"));
                assert_eq!(on(Side::Centre), member(chosen));
            }
            // What both sides share is on neither.
            for side in [Side::Left, Side::Right, Side::Centre] {
                assert_eq!(on_side(job, &member("cell"), side), member("cell"));
                assert_eq!(on_side(job, &member("carrier"), side), member("carrier"));
            }
        };
        check(&job);
        // Without points, names tell.
        job.points.clear();
        check(&job);
        job.members.shift_remove(&member("front-rail-R"));
        let alone = on_side(&job, &member("front-rail-L"), Side::Right);
        assert_eq!(alone, member("front-rail-L"));
    }

    #[test]
    fn pairs_tell_before_names() {
        let (mut points, mut members) = generic(Body::Van, Language::English);
        let [near, far] = ["near-L", "far-side"].map(member);
        for point in points.values_mut() {
            point.member = match point.side {
                Side::Left => Some(near.clone()),
                _ => Some(far.clone()),
            };
        }
        for id in [&near, &far, &member("near-R")] {
            members.insert(id.clone(), shared::job::Member::default());
        }
        let job = Job {
            points,
            members,
            ..Job::default()
        };
        assert_eq!(on_side(&job, &near, Side::Right), far);
        assert_eq!(on_side(&job, &far, Side::Left), near);
    }
}
