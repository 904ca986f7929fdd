//! What must not matter: the order of readings, the choice of frame, which side is called left.

use super::car::Car;
use crate::ids::{MemberId, PointId};
use crate::job::{Beam, Job, OffsetSide, Side, Taken, Zone};
use crate::result::{JobResult, Judged, PairResult};
use crate::solve::solve;

fn check(a: &JobResult, b: &JobResult, same: impl Fn(&PairResult, &PairResult)) {
    assert_eq!(a.stages[0].pairs.len(), b.stages[0].pairs.len());
    for (a, b) in a.stages[0].pairs.iter().zip(&b.stages[0].pairs) {
        same(a, b);
    }
}

fn equal(a: &Judged, b: &Judged, sign: f64) {
    assert_eq!(a.verdict, b.verdict);
    assert_eq!(a.value.is_some(), b.value.is_some());
    if let (Some(a), Some(b)) = (a.value, b.value) {
        assert!((a - sign * b).abs() < 0.02, "{a} is not {sign} · {b}");
    }
}

#[test]
fn the_order_of_readings_changes_nothing() {
    let car = Car::new(31).read_all();
    let mut turned = car.job.clone();
    turned.readings.reverse();
    check(&solve(&car.job), &solve(&turned), |a, b| {
        equal(&a.right_higher_mm, &b.right_higher_mm, 1.0);
        equal(&a.centre_right_mm, &b.centre_right_mm, 1.0);
        equal(&a.width_mm, &b.width_mm, 1.0);
    });
}

#[test]
fn another_origin_and_zero_plane_change_no_pair() {
    let car = Car::new(32).read_all();
    let mut moved = car.job.clone();
    for point in moved.points.values_mut() {
        point.place_mm[0] += 900.0;
        point.place_mm[2] -= 250.0;
    }
    check(&solve(&car.job), &solve(&moved), |a, b| {
        equal(&a.right_higher_mm, &b.right_higher_mm, 1.0);
        equal(&a.width_mm, &b.width_mm, 1.0);
    });
}

/// `tower-L` for `tower-R` and the other way; other names stay.
pub(super) fn other_side(name: &str) -> String {
    match name.rsplit_once('-') {
        Some((stem, "L")) => format!("{stem}-R"),
        Some((stem, "R")) => format!("{stem}-L"),
        _ => name.to_owned(),
    }
}

/// Left becomes right: heights, centres and lengths of pairs change their sign, widths do not.
pub(super) fn mirrored(job: &Job) -> Job {
    let mut job = job.clone();
    let swap = |id: &PointId| PointId::parse(&other_side(id.as_str())).unwrap();
    let swap_member = |id: &MemberId| MemberId::parse(&other_side(id.as_str())).unwrap();
    job.members = job
        .members
        .iter()
        .map(|(id, member)| {
            let mut member = member.clone();
            for carrier in &mut member.carried_by {
                *carrier = swap_member(carrier);
            }
            (swap_member(id), member)
        })
        .collect();
    if let Some(impact) = &mut job.card.impact {
        impact.direction_deg = (360.0 - impact.direction_deg) % 360.0;
        impact.zone = match impact.zone {
            Zone::FrontLeft => Zone::FrontRight,
            Zone::FrontRight => Zone::FrontLeft,
            Zone::Left => Zone::Right,
            Zone::Right => Zone::Left,
            Zone::RearLeft => Zone::RearRight,
            Zone::RearRight => Zone::RearLeft,
            other => other,
        };
    }
    let points: Vec<_> = job
        .points
        .iter()
        .map(|(id, point)| {
            let mut point = point.clone();
            point.side = match point.side {
                Side::Left => Side::Right,
                Side::Right => Side::Left,
                Side::Centre => Side::Centre,
            };
            point.mirror = point.mirror.as_ref().map(swap);
            point.member = point.member.as_ref().map(swap_member);
            point.place_mm[1] = -point.place_mm[1];
            (swap(id), point)
        })
        .collect();
    job.points = points
        .chunks(2)
        .flat_map(|pair| [pair[1].clone(), pair[0].clone()])
        .collect();
    for reading in &mut job.readings {
        match &mut reading.taken {
            Taken::Height {
                point,
                beam: Beam::Above | Beam::Below,
                ..
            }
            | Taken::Fix { point, .. } => *point = swap(point),
            Taken::Offset { point, side, .. } => {
                *point = swap(point);
                *side = match side {
                    OffsetSide::Left => OffsetSide::Right,
                    OffsetSide::Right => OffsetSide::Left,
                    OffsetSide::Front => OffsetSide::Front,
                    OffsetSide::Rear => OffsetSide::Rear,
                };
            }
            Taken::Split { from, to, .. }
            | Taken::Span { from, to, .. }
            | Taken::DatumSpan { from, to, .. } => {
                *from = swap(from);
                *to = swap(to);
            }
        }
    }
    job
}

#[test]
fn a_mirrored_car_gives_the_mirrored_result() {
    let car = Car::new(33).read_all();
    check(&solve(&car.job), &solve(&mirrored(&car.job)), |a, b| {
        equal(&a.right_higher_mm, &b.right_higher_mm, -1.0);
        equal(&a.centre_right_mm, &b.centre_right_mm, -1.0);
        equal(&a.right_rearward_mm, &b.right_rearward_mm, -1.0);
        equal(&a.width_mm, &b.width_mm, 1.0);
    });
}
