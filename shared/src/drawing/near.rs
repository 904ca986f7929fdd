//! What is nearer to whoever looks, and which point a finger means.

use indexmap::IndexMap;

use super::{Spot, View};
use crate::adjust::sorting::sort_by;
use crate::ids::PointId;

impl View {
    /// How near a place is to whoever looks, millimetres: the greater, the nearer.
    #[must_use]
    pub fn nearness(self, [x, y, z]: [f64; 3]) -> f64 {
        match self {
            Self::Plan => z,
            Self::Side => -y,
            Self::Front => -x,
        }
    }
}

/// The points from the furthest to the nearest: drawn in this order, the nearest is on top.
#[must_use]
pub fn far_to_near(spots: &IndexMap<PointId, Spot>, view: View) -> Vec<&Spot> {
    let mut spots: Vec<&Spot> = spots.values().collect();
    sort_by(&mut spots, |a, b| {
        let [a, b] = [a, b].map(|spot| view.nearness(spot.at_mm));
        a.total_cmp(&b)
    });
    spots
}

/// A finger on paper, millimetres of it.
#[derive(Debug, Clone, Copy)]
pub struct Finger {
    /// Where.
    pub at: [f64; 2],
    /// No mark further away is meant.
    pub reach: f64,
    /// Marks that are no further away than the nearest one and this much cannot be told apart by it.
    pub apart: f64,
}

/// The point that a finger takes. Of marks that it cannot tell apart that is the one on top; when one
/// of these is chosen already, the one below it, and after the lowest the one on top again.
#[must_use]
pub fn taken(
    spots: &IndexMap<PointId, Spot>,
    view: View,
    finger: Finger,
    chosen: Option<&PointId>,
) -> Option<PointId> {
    let away = |spot: &Spot| {
        let [u, v] = view.project(spot.at_mm);
        (u - finger.at[0]).hypot(v - finger.at[1])
    };
    let nearest = spots.values().map(away).fold(f64::INFINITY, f64::min);
    let within = finger.reach.min(nearest + finger.apart);
    let mut under = far_to_near(spots, view);
    under.retain(|spot| away(spot) <= within);
    let before = under.iter().position(|spot| Some(&spot.id) == chosen);
    let below = before.and_then(|place| place.checked_sub(1));
    let spot = below.map_or_else(|| under.last(), |place| under.get(place))?;
    Some(spot.id.clone())
}
