//! Members as lines: which points a pencil would join.
//!
//! A member's points on one side are joined from front to rear; a member with exactly one pair
//! runs across; and each member is joined to what carries it where they are nearest.

use crate::adjust::sorting::sort_by;
use crate::ids::PointId;
use crate::job::{Job, Point, Side};

use super::MemberLines;

/// The lines of every member; each line is a list of points to be joined.
#[must_use]
pub fn member_lines(job: &Job) -> MemberLines {
    job.members
        .keys()
        .map(|member| {
            let carried: Vec<(&PointId, &Point)> = job
                .points
                .iter()
                .filter(|(_, point)| point.member.as_ref() == Some(member))
                .collect();
            let mut lines: Vec<Vec<PointId>> = [Side::Left, Side::Right, Side::Centre]
                .into_iter()
                .map(|side| along(&carried, side))
                .filter(|line| line.len() > 1)
                .collect();
            lines.extend(across(&carried));
            lines.extend(to_carrier(job, member, &carried));
            (member.clone(), lines)
        })
        .collect()
}

fn along(carried: &[(&PointId, &Point)], side: Side) -> Vec<PointId> {
    let mut line: Vec<&(&PointId, &Point)> = carried
        .iter()
        .filter(|(_, point)| point.side == side)
        .collect();
    sort_by(&mut line, |(_, a), (_, b)| {
        a.place_mm[0].total_cmp(&b.place_mm[0])
    });
    line.into_iter().map(|(id, _)| (*id).clone()).collect()
}

fn across(carried: &[(&PointId, &Point)]) -> Option<Vec<PointId>> {
    let of = |side| carried.iter().filter(move |(_, point)| point.side == side);
    let one_pair = of(Side::Left).count() == 1 && of(Side::Right).count() == 1;
    let (left, right) = (of(Side::Left).next()?, of(Side::Right).next()?);
    let mut line = vec![left.0.clone()];
    line.extend(of(Side::Centre).map(|(id, _)| (*id).clone()));
    line.push(right.0.clone());
    one_pair.then_some(line)
}

fn to_carrier(
    job: &Job,
    member: &crate::ids::MemberId,
    carried: &[(&PointId, &Point)],
) -> Vec<Vec<PointId>> {
    let Some(carrier) = job.members[member].carried_by.first() else {
        return Vec::new();
    };
    [Side::Left, Side::Right, Side::Centre]
        .into_iter()
        .filter_map(|side| {
            let own = carried.iter().filter(|(_, point)| point.side == side);
            let theirs: Vec<(&PointId, &Point)> = job
                .points
                .iter()
                .filter(|(_, point)| point.member.as_ref() == Some(carrier) && point.side == side)
                .collect();
            own.flat_map(|a| theirs.iter().map(move |b| (a, b)))
                .min_by(|(a, b), (c, d)| distance(a.1, b.1).total_cmp(&distance(c.1, d.1)))
                .map(|(a, b)| vec![a.0.clone(), b.0.clone()])
        })
        .collect()
}

fn distance(a: &Point, b: &Point) -> f64 {
    a.place_mm
        .iter()
        .zip(b.place_mm)
        .map(|(a, b)| (a - b).powi(2))
        .sum::<f64>()
        .sqrt()
}
