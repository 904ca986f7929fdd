//! What one revision says otherwise than another.
//!
//! Millimetres; the newer minus the older.

use super::sheet::{Point, Sheet, rounded};
use crate::ids::{MemberId, PointId};

/// What changed from one revision to another.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Comparison {
    /// Points that only the newer has.
    pub came: Vec<PointId>,
    /// Points that only the older has.
    pub went: Vec<PointId>,
    /// Points in both that say something else.
    pub moved: Vec<Moved>,
    /// Members that came, went or are carried or called otherwise.
    pub members: Vec<MemberId>,
    /// The sheet's own tolerance, older and newer, when they differ.
    pub tolerance_mm: Option<(Option<f64>, Option<f64>)>,
    /// Does it say something else about the body or its origin?
    pub body: bool,
    /// Do the numbers come from elsewhere?
    pub origin: bool,
}

/// One point that says something else.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// The point.
    pub point: PointId,
    /// Movement of its target [x, y, z].
    pub move_mm: [f64; 3],
    /// Change of its spread.
    pub spread_mm: [f64; 3],
    /// Its own tolerance, older and newer, when they differ.
    pub tolerance_mm: Option<(Option<f64>, Option<f64>)>,
    /// Label, side, mirror, member or marks differ.
    pub words: bool,
}

/// Compares two revisions.
#[must_use]
pub fn compare(older: &Sheet, newer: &Sheet) -> Comparison {
    let without = |a: &Sheet, b: &Sheet| -> Vec<PointId> {
        let ids = a.points.keys().filter(|id| !b.points.contains_key(*id));
        ids.cloned().collect()
    };
    let moved = |(id, old): (&PointId, &Point)| {
        let new = newer.points.get(id)?;
        let by = |a: [f64; 3], b: [f64; 3]| [0, 1, 2].map(|axis| rounded(b[axis] - a[axis]));
        let words = |point: &Point| Point {
            target_mm: [0.0; 3],
            spread_mm: [0.0; 3],
            tolerance_mm: None,
            ..point.clone()
        };
        let moved = Moved {
            point: id.clone(),
            move_mm: by(old.target_mm, new.target_mm),
            spread_mm: by(old.spread_mm, new.spread_mm),
            tolerance_mm: (old.tolerance_mm != new.tolerance_mm)
                .then_some((old.tolerance_mm, new.tolerance_mm)),
            words: words(old) != words(new),
        };
        (old != new).then_some(moved)
    };
    let both = older.members.keys().chain(newer.members.keys());
    let mut members: Vec<MemberId> = both
        .filter(|id| older.members.get(*id) != newer.members.get(*id))
        .cloned()
        .collect();
    members.sort();
    members.dedup();
    Comparison {
        came: without(newer, older),
        went: without(older, newer),
        moved: older.points.iter().filter_map(moved).collect(),
        members,
        tolerance_mm: (older.tolerance_mm != newer.tolerance_mm)
            .then_some((older.tolerance_mm, newer.tolerance_mm)),
        body: older.body != newer.body,
        origin: older.origin != newer.origin,
    }
}
