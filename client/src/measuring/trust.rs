//! Which pairs to look at first, when nobody has said yet which points can be trusted.
//!
//! Millimetres. Only a proposal: whether a point is undamaged, a person sees on the car. This file
//! refuses to know the readings.

use std::collections::HashSet;

use shared::ids::{MemberId, PointId};
use shared::job::{Job, Point, Zone};

/// Most pairs that are proposed: as many as a person looks at before the first reading.
const MOST: usize = 4;
/// Three widths confirm a centreline (common practice); fewer are filled up from further away.
const ENOUGH: usize = 3;
/// Fewer pairs hold no frame.
const LEAST: usize = 2;
/// A hit in front reaches the cowl and the front posts: so much of the car's length is left out.
const FRONT_SHARE: f64 = 1.0 / 3.0;
/// A hit in the rear reaches the rear axle.
const REAR_SHARE: f64 = 0.25;
/// A place that is known worse than this says nothing of where a point is, millimetres. As good as a
/// generic body's is good enough.
const KNOWN_MM: f64 = 500.0;

/// Points over less than this say nothing of where the rest of the car is, millimetres.
const SHORTEST_MM: f64 = 2_000.0;

/// A left point and its right one.
pub type Pair = [PointId; 2];

/// Pairs away from the hit, from front to rear; empty when none can be named, or too few for a frame.
///
/// The cell first. Where the hit is, or on what hangs at the cell by bolts, nothing is proposed. While
/// nobody has said where the car was hit, only the middle of the cell is.
#[must_use]
pub fn worth_trusting(job: &Job) -> Vec<Pair> {
    let all = pairs(job);
    let xs = all.iter().map(|pair| pair.at[0]);
    let ends = xs.fold([f64::INFINITY, f64::NEG_INFINITY], |[least, most], x| {
        [least.min(x), most.max(x)]
    });
    let length = ends[1] - ends[0];
    if length < SHORTEST_MM {
        return Vec::new();
    }
    let car = Car {
        front: ends[0] + FRONT_SHARE * length,
        rear: ends[1] - REAR_SHARE * length,
        middle_height: middle(all.iter().map(|pair| pair.at[2])),
    };
    let zone = job.card.impact.as_ref().map(|impact| impact.zone);
    let of = |cell: bool| {
        let good = all
            .iter()
            .filter(move |pair| pair.on.is_some_and(|on| (on == On::Rail) != cell));
        good.filter(|pair| car.is_away(zone, pair))
    };
    let mut chosen = Vec::new();
    spread(&mut chosen, of(true).collect(), MOST);
    spread(&mut chosen, of(false).collect(), ENOUGH);
    if chosen.len() < LEAST {
        return Vec::new();
    }
    shared::adjust::sorting::sort_by(&mut chosen, |a, b| a.at[0].total_cmp(&b.at[0]));
    chosen.iter().map(|pair| pair.ids.clone()).collect()
}

/// What carries a pair.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum On {
    /// What carries everything else.
    Cell,
    /// A member on each side that the cell itself carries.
    Rail,
    /// Nobody has said.
    Unsaid,
}

/// A pair with its rough place, in the middle of both.
struct Placed {
    ids: Pair,
    at: [f64; 3],
    /// `None` when it hangs on something else, or at the cell by bolts.
    on: Option<On>,
}

/// Where a car ends, as far as its points tell.
struct Car {
    /// Front limit of what a hit in front leaves alone.
    front: f64,
    /// Rear limit of what a hit in the rear leaves alone.
    rear: f64,
    middle_height: f64,
}

impl Car {
    /// Is a pair away from a hit?
    fn is_away(&self, zone: Option<Zone>, pair: &Placed) -> bool {
        let [x, _, z] = pair.at;
        let is_rail = pair.on == Some(On::Rail);
        match zone {
            Some(Zone::Front | Zone::FrontLeft | Zone::FrontRight) => x >= self.front,
            Some(Zone::Rear | Zone::RearLeft | Zone::RearRight) => x <= self.rear,
            // The cell itself was hit.
            Some(Zone::Left | Zone::Right) => {
                let is_at_an_end = x < self.front || x > self.rear;
                is_rail || pair.on == Some(On::Unsaid) && is_at_an_end
            }
            Some(Zone::Roof) => !is_rail && z <= self.middle_height,
            // What is read from below was hit, and how far along nobody says.
            Some(Zone::Underbody) => false,
            None => !is_rail && x >= self.front && x <= self.rear,
        }
    }
}

fn pairs(job: &Job) -> Vec<Placed> {
    let carriers: HashSet<&MemberId> = job
        .members
        .values()
        .flat_map(|member| &member.carried_by)
        .collect();
    let left = job.points.iter().filter(|(_, point)| is_left(point));
    left.filter_map(|(id, left)| {
        let mirror = left.mirror.as_ref()?;
        let right = job.points.get(mirror)?;
        let is_known = |point: &Point| point.place_sigma_mm.is_none_or(|sigma| sigma <= KNOWN_MM);
        if !is_known(left) || !is_known(right) {
            return None;
        }
        let at = [0, 1, 2].map(|axis| f64::midpoint(left.place_mm[axis], right.place_mm[axis]));
        let ids = [id.clone(), mirror.clone()];
        let on = on(job, &carriers, left, right);
        Some(Placed { ids, at, on })
    })
    .collect()
}

fn is_left(point: &Point) -> bool {
    point.side == shared::job::Side::Left
}

fn on(job: &Job, carriers: &HashSet<&MemberId>, left: &Point, right: &Point) -> Option<On> {
    let (Some(left), Some(right)) = (&left.member, &right.member) else {
        return Some(On::Unsaid);
    };
    let carried_by = |id| job.members.get(id)?.carried_by.first();
    match [left, right].map(carried_by) {
        [None, None] if carriers.contains(left) && left == right => Some(On::Cell),
        [None, None] if !carriers.contains(left) && !carriers.contains(right) => Some(On::Unsaid),
        [Some(one), Some(other)] if left != right && one == other => {
            carried_by(one).is_none().then_some(On::Rail)
        }
        _ => None,
    }
}

fn middle(values: impl Iterator<Item = f64>) -> f64 {
    let start = [f64::INFINITY, f64::NEG_INFINITY];
    let [least, most] = values.fold(start, |[least, most], value| {
        [least.min(value), most.max(value)]
    });
    f64::midpoint(least, most)
}

/// Adds from these until there are so many, each as far along the car from the others as can be.
fn spread<'a>(chosen: &mut Vec<&'a Placed>, mut from: Vec<&'a Placed>, most: usize) {
    while chosen.len() < most && !from.is_empty() {
        let apart = |pair: &Placed| {
            let others = chosen.iter().map(|other| (other.at[0] - pair.at[0]).abs());
            others.reduce(f64::min).unwrap_or(-pair.at[0])
        };
        let furthest = from.iter().map(|pair| apart(pair)).enumerate();
        let best = furthest.reduce(|best, next| if next.1 > best.1 { next } else { best });
        let Some((index, _)) = best else { return };
        chosen.push(from.remove(index));
    }
}

#[cfg(test)]
mod tests {
    use shared::body::{Body, generic};
    use shared::figures::Language;
    use shared::job::{Impact, Side};

    use super::*;

    const BODIES: [Body; 3] = [Body::Unitised, Body::Pickup, Body::Van];
    const ZONES: [Zone; 10] = [
        Zone::Front,
        Zone::FrontLeft,
        Zone::FrontRight,
        Zone::Left,
        Zone::Right,
        Zone::Rear,
        Zone::RearLeft,
        Zone::RearRight,
        Zone::Roof,
        Zone::Underbody,
    ];

    #[test]
    fn of_part_of_a_car_nothing_is_proposed() {
        let mut whole = job(Body::Unitised, Some(Zone::Front));
        assert_ne!(worth_trusting(&whole), Vec::<Pair>::new());
        let front = whole.points.values().map(|point| point.place_mm[0]);
        let limit = front.fold(f64::INFINITY, f64::min) + 1_500.0;
        whole.points.retain(|_, point| point.place_mm[0] < limit);
        assert!(whole.points.len() > 8, "{}", whole.points.len());
        assert_eq!(worth_trusting(&whole), Vec::<Pair>::new());
    }

    fn job(body: Body, zone: Option<Zone>) -> Job {
        let (points, members) = generic(body, Language::English);
        let mut job = Job {
            points,
            members,
            ..Job::default()
        };
        job.card.impact = zone.map(|zone| Impact {
            zone,
            direction_deg: 0.0,
        });
        job
    }

    fn stems(job: &Job) -> Vec<String> {
        let stem = |[left, _]: &Pair| left.as_str().trim_end_matches("-L").to_owned();
        worth_trusting(job).iter().map(stem).collect()
    }

    #[test]
    fn a_hit_in_front_leaves_the_middle_and_the_rear() {
        let of = |body| stems(&job(body, Some(Zone::FrontLeft)));
        assert_eq!(
            of(Body::Unitised),
            ["sill-front", "floor", "sill-rear", "floor-rear"]
        );
        assert_eq!(of(Body::Van), ["floor", "door-track", "sill-rear"]);
        // Two of the frame's middle, and the rear frame far behind the hit; nothing of the cab.
        assert_eq!(of(Body::Pickup), ["frame-mid", "spring-front", "frame-end"]);
    }

    #[test]
    fn a_hit_in_the_rear_leaves_the_cell_before_the_axle() {
        let of = |body| stems(&job(body, Some(Zone::Rear)));
        assert_eq!(
            of(Body::Unitised),
            ["cowl", "sill-front", "floor", "floor-rear"]
        );
        assert_eq!(of(Body::Pickup), ["frame-cab", "frame-mid", "spring-front"]);
        assert_eq!(of(Body::Van), ["cowl", "floor", "door-track", "sill-rear"]);
    }

    #[test]
    fn a_hit_on_a_side_trusts_nothing_of_the_cell() {
        for body in BODIES {
            for zone in [Zone::Left, Zone::Right] {
                let job = job(body, Some(zone));
                let proposed = worth_trusting(&job);
                assert_eq!(proposed.len(), 3, "{body:?}");
                for id in proposed.iter().flatten() {
                    let member = job.points[id].member.as_ref().unwrap();
                    assert!(!job.members[member].carried_by.is_empty(), "{id}");
                }
            }
        }
    }

    #[test]
    fn every_proposal_holds_together_for_every_body_and_zone() {
        for body in BODIES {
            for zone in ZONES.map(Some).into_iter().chain([None]) {
                let job = job(body, zone);
                let proposed = worth_trusting(&job);
                if zone == Some(Zone::Underbody) {
                    assert!(proposed.is_empty());
                    continue;
                }
                assert!(
                    (LEAST..=MOST).contains(&proposed.len()),
                    "{body:?} {zone:?}: {proposed:?}"
                );
                for [left, right] in &proposed {
                    assert_eq!(job.points[left].mirror.as_ref(), Some(right));
                    assert_eq!(job.points[left].side, Side::Left);
                    assert_eq!(job.points[right].side, Side::Right);
                    let stem = left.as_str();
                    let hung = ["carrier", "tower-", "apron", "support", "cab-"];
                    let hangs = hung.iter().any(|word| stem.starts_with(word));
                    assert!(!hangs, "{body:?} {zone:?}: {stem}");
                }
                let xs = proposed
                    .iter()
                    .map(|[left, _]| job.points[left].place_mm[0]);
                let xs: Vec<f64> = xs.collect();
                assert!(xs.is_sorted(), "{xs:?}");
                let along = xs[xs.len() - 1] - xs[0];
                assert!(along >= 700.0, "{body:?} {zone:?}: {xs:?}");
                // No pair of a front hit lies in the front, none of a rear hit in the rear.
                let from_front = |x: &f64| *x > 580.0;
                let from_rear = |x: &f64| *x < 3000.0;
                match zone {
                    Some(Zone::Front | Zone::FrontLeft | Zone::FrontRight) => {
                        assert!(xs.iter().all(from_front), "{xs:?}");
                    }
                    Some(Zone::Rear | Zone::RearLeft | Zone::RearRight) => {
                        assert!(xs.iter().all(from_rear), "{xs:?}");
                    }
                    _ => {}
                }
            }
        }
    }

    #[test]
    fn points_without_members_are_judged_by_their_place_and_rough_ones_not_at_all() {
        let mut job = job(Body::Unitised, Some(Zone::Front));
        for point in job.points.values_mut() {
            point.member = None;
        }
        job.members.clear();
        let proposed = stems(&job);
        assert_eq!(proposed.len(), 4);
        assert!(proposed.contains(&"sill-front".to_owned()), "{proposed:?}");
        assert!(proposed.contains(&"rear-end".to_owned()), "{proposed:?}");
        // Points that were added by hand say nothing of where they are.
        for point in job.points.values_mut() {
            point.place_sigma_mm = Some(2000.0);
        }
        assert!(worth_trusting(&job).is_empty());
        assert!(worth_trusting(&Job::default()).is_empty());
    }
}
