//! Plan, side and front views: where things are on paper.
//!
//! Input in millimetres of the car's frame (x rearward, y right, z up); output in millimetres on
//! paper, u to the right and v down. This file refuses to know SVG and colours.

use crate::ids::{MemberId, PointId};
use crate::job::{Job, Side};
use crate::result::{PairResult, PointResult, StageResult};
use crate::verdict::Verdict;
use indexmap::IndexMap;

pub use members::member_lines;
pub use near::{Finger, far_to_near, taken};

mod members;
mod near;

/// From where the car is seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum View {
    /// From above, front up.
    #[default]
    Plan,
    /// From the left, front to the left.
    Side,
    /// From the front, the car's right on the left.
    Front,
}

impl View {
    /// Every view.
    pub const ALL: [Self; 3] = [Self::Plan, Self::Side, Self::Front];

    /// On paper.
    #[must_use]
    pub fn project(self, [x, y, z]: [f64; 3]) -> [f64; 2] {
        match self {
            Self::Plan => [y, x],
            Self::Side => [x, -z],
            Self::Front => [-y, -z],
        }
    }

    /// Which axes of the car (0 x, 1 y, 2 z) run along u and v.
    #[must_use]
    pub fn axes(self) -> [usize; 2] {
        match self {
            Self::Plan => [1, 0],
            Self::Side => [0, 2],
            Self::Front => [1, 2],
        }
    }

    /// A rough place after a drag by [u, v] on paper; the third coordinate stays.
    #[must_use]
    pub fn dragged(self, mut place: [f64; 3], [du, dv]: [f64; 2]) -> [f64; 3] {
        match self {
            Self::Plan => {
                place[1] += du;
                place[0] += dv;
            }
            Self::Side => {
                place[0] += du;
                place[2] -= dv;
            }
            Self::Front => {
                place[1] -= du;
                place[2] -= dv;
            }
        }
        place
    }
}

/// A window on paper: left, top, width, height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// Left edge.
    pub u: f64,
    /// Top edge.
    pub v: f64,
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

impl Window {
    /// A window around all points with a margin, never thinner than a third of its longer side.
    #[must_use]
    pub fn around(points: impl Iterator<Item = [f64; 2]>) -> Self {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for point in points {
            for axis in 0..2 {
                low[axis] = low[axis].min(point[axis]);
                high[axis] = high[axis].max(point[axis]);
            }
        }
        if !(low[0].is_finite() && low[1].is_finite()) {
            return Self {
                u: -1000.0,
                v: -1000.0,
                width: 2000.0,
                height: 2000.0,
            };
        }
        let longer = (high[0] - low[0]).max(high[1] - low[1]).max(500.0);
        let margin = longer * 0.12;
        let side = |axis: usize| {
            let length = (high[axis] - low[axis]).max(longer / 3.0);
            let middle = f64::midpoint(low[axis], high[axis]);
            (middle - length / 2.0 - margin, length + 2.0 * margin)
        };
        let ((u, width), (v, height)) = (side(0), side(1));
        Self {
            u,
            v,
            width,
            height,
        }
    }

    /// The longer side.
    #[must_use]
    pub fn longer(self) -> f64 {
        self.width.max(self.height)
    }
}

/// How far a point is from where it should be, as far as the readings tell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Displacement {
    /// Per axis; `None` where not determined.
    pub move_mm: [Option<f64>; 3],
    /// Standard uncertainty per axis.
    pub sigma_mm: [Option<f64>; 3],
    /// The readings only compare the two sides: this one, or the other by the opposite.
    pub either_side: bool,
}

/// One point on paper.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// The point.
    pub id: PointId,
    /// Where it should be, or where it is when that is not known.
    pub at_mm: [f64; 3],
    /// How far it is off.
    pub displacement: Option<Displacement>,
    /// May it define the frame?
    pub trusted: bool,
    /// Are its coordinates measured?
    pub measured: [bool; 3],
    /// The worst that may be said about it; `None` before anything is.
    pub verdict: Option<Verdict>,
}

/// Every point of the job as one stage sees it.
#[must_use]
pub fn spots(job: &Job, stage: Option<&StageResult>) -> IndexMap<PointId, Spot> {
    job.points
        .iter()
        .map(|(id, point)| {
            let found = stage.and_then(|stage| stage.points.get(id));
            let pair = stage.and_then(|stage| pair_of(stage, id));
            let displacement = found
                .and_then(of_target)
                .or_else(|| pair.and_then(|pair| of_pair(job, pair, id)));
            let mut at_mm = found.map_or(point.place_mm, |found| found.xyz_mm);
            if let Some(shift) = &displacement {
                for (place, moved) in at_mm.iter_mut().zip(shift.move_mm) {
                    *place -= moved.unwrap_or(0.0);
                }
            }
            let spot = Spot {
                id: id.clone(),
                at_mm,
                displacement,
                trusted: point.trusted,
                measured: found.map_or([false; 3], |found| found.measured),
                verdict: verdict(found, pair),
            };
            (id.clone(), spot)
        })
        .collect()
}

/// The pair a point belongs to.
#[must_use]
pub fn pair_of<'a>(stage: &'a StageResult, id: &PointId) -> Option<&'a PairResult> {
    stage
        .pairs
        .iter()
        .find(|pair| pair.left == *id || pair.right == *id)
}

fn of_target(found: &PointResult) -> Option<Displacement> {
    found
        .deviation_mm
        .iter()
        .any(Option::is_some)
        .then_some(Displacement {
            move_mm: found.deviation_mm,
            sigma_mm: found.deviation_sigma_mm,
            either_side: false,
        })
}

/// By symmetry alone: against the mirror image of the other side.
fn of_pair(job: &Job, pair: &PairResult, id: &PointId) -> Option<Displacement> {
    let point = job.points.get(id)?;
    let mirror = job.points.get(point.mirror.as_ref()?)?;
    let sign = if point.side == Side::Left { -1.0 } else { 1.0 };
    let off = |judged: &crate::result::Judged, factor: f64| {
        judged
            .value
            .map(|value| (value - judged.target.unwrap_or(0.0)) * factor)
    };
    let spread =
        |judged: &crate::result::Judged, factor: f64| judged.sigma.map(|sigma| sigma * factor);
    let move_mm = [
        off(&pair.right_rearward_mm, sign),
        off(&pair.centre_right_mm, 2.0),
        off(&pair.right_higher_mm, sign),
    ];
    let shows = move_mm.iter().any(Option::is_some) && !point.trusted;
    shows.then_some(Displacement {
        move_mm,
        sigma_mm: [
            spread(&pair.right_rearward_mm, 1.0),
            spread(&pair.centre_right_mm, 2.0),
            spread(&pair.right_higher_mm, 1.0),
        ],
        either_side: !mirror.trusted,
    })
}

/// The worst of a point's and its pair's verdicts: outside, then unproven, then within.
fn verdict(found: Option<&PointResult>, pair: Option<&PairResult>) -> Option<Verdict> {
    let own = found.into_iter().flat_map(|found| found.verdict);
    let pairs = pair.into_iter().flat_map(|pair| {
        [
            pair.right_higher_mm.verdict,
            pair.centre_right_mm.verdict,
            pair.right_rearward_mm.verdict,
            pair.width_mm.verdict,
        ]
    });
    worst(own.chain(pairs).flatten())
}

/// Outside before unproven before within.
pub fn worst(verdicts: impl Iterator<Item = Verdict>) -> Option<Verdict> {
    verdicts.max_by_key(|verdict| match verdict {
        Verdict::Within => 0,
        Verdict::Unproven => 1,
        Verdict::Outside => 2,
    })
}

/// Are both directions of this view measured?
#[must_use]
pub fn in_view(spot: &Spot, view: View) -> bool {
    let known = |axis: usize| {
        spot.measured[axis]
            || spot
                .displacement
                .is_some_and(|shift| shift.move_mm[axis].is_some())
    };
    view.axes().into_iter().any(known)
}

/// How a point moved, on paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arrow {
    /// Where the point should be.
    pub from: [f64; 2],
    /// Where it is, drawn longer than it is.
    pub to: [f64; 2],
    /// Radii of the ring that holds it 19 times of 20.
    pub ring: [f64; 2],
}

/// The arrow of a point, drawn longer by `scale`; `None` when this view shows no movement of it.
#[must_use]
pub fn arrow(spot: &Spot, view: View, scale: f64) -> Option<Arrow> {
    let shift = spot.displacement?;
    let axes = view.axes();
    axes.into_iter()
        .find(|&axis| shift.move_mm[axis].is_some())?;
    let mut moved = spot.at_mm;
    for axis in axes {
        moved[axis] += shift.move_mm[axis].unwrap_or(0.0) * scale;
    }
    Some(Arrow {
        from: view.project(spot.at_mm),
        to: view.project(moved),
        ring: axes.map(|axis| shift.sigma_mm[axis].map_or(0.0, |sigma| sigma * RING * scale)),
    })
}

/// A round exaggeration that makes the longest displacement about an eighth of the window.
#[must_use]
pub fn fitting_exaggeration(spots: &IndexMap<PointId, Spot>, window: Window) -> f64 {
    // A ring of doubt must fit on the paper as well.
    let reach = |shift: Displacement| {
        let moves = shift.move_mm.into_iter().zip(shift.sigma_mm);
        moves.filter_map(|(moved, sigma)| Some(moved?.abs().max(sigma.unwrap_or(0.0) * RING)))
    };
    let longest = spots
        .values()
        .filter_map(|spot| spot.displacement)
        .flat_map(|shift| reach(shift).collect::<Vec<_>>())
        .fold(0.0_f64, f64::max);
    let wanted = window.longer() / 8.0 / longest.max(1.0);
    EXAGGERATIONS
        .into_iter()
        .rev()
        .find(|step| *step <= wanted)
        .unwrap_or(1.0)
}

/// Steps of the slider.
pub const EXAGGERATIONS: [f64; 7] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0];

/// Radius of a ring that holds the point 19 times of 20, in spreads: √χ²(0.95; 2).
pub const RING: f64 = 2.447_746_83;

/// The lines of one member on paper, by identifier.
pub type MemberLines = IndexMap<MemberId, Vec<Vec<PointId>>>;

#[cfg(test)]
mod tests;
