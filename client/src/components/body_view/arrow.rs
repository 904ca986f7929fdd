//! How a point moved, on paper.

use leptos::prelude::*;
use shared::verdict::Verdict;

use crate::measuring::drawing::{RING, Spot, View};

/// Are both directions of this view measured?
pub(super) fn in_view(spot: &Spot, view: View) -> bool {
    let known = |axis: usize| {
        spot.measured[axis]
            || spot
                .displacement
                .is_some_and(|shift| shift.move_mm[axis].is_some())
    };
    view.axes().into_iter().any(known)
}

/// An arrow to where the point is, and the ring that holds it 19 times of 20.
pub(super) fn arrow(
    spot: &Spot,
    view: View,
    scale: f64,
    unit: f64,
    faint: bool,
) -> Option<impl IntoView + use<>> {
    let shift = spot.displacement?;
    let axes = view.axes();
    axes.into_iter()
        .find(|&axis| shift.move_mm[axis].is_some())?;
    let mut moved = spot.at_mm;
    for axis in axes {
        moved[axis] += shift.move_mm[axis].unwrap_or(0.0) * scale;
    }
    let ([u0, v0], [u1, v1]) = (view.project(spot.at_mm), view.project(moved));
    let radius = |axis: usize| shift.sigma_mm[axis].map_or(0.0, |sigma| sigma * RING * scale);
    let class = match (faint, spot.verdict) {
        (true, _) => "arrow faint",
        (false, Some(Verdict::Outside)) => "arrow outside",
        _ => "arrow",
    };
    Some(view! {
        <g class=class>
            <line x1=u0 y1=v0 x2=u1 y2=v1 stroke-width=unit * 0.6 />
            <ellipse cx=u1 cy=v1 rx=radius(axes[0]).max(unit * 0.4) ry=radius(axes[1]).max(unit * 0.4) stroke-width=unit * 0.3 />
        </g>
    })
}
