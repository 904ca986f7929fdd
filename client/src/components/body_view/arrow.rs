//! How a point moved, on paper.

use leptos::prelude::*;
use shared::verdict::Verdict;

use crate::measuring::drawing::{self, Spot, View};

/// An arrow to where the point is, and the ring that holds it 19 times of 20.
pub(super) fn arrow(
    spot: &Spot,
    view: View,
    scale: f64,
    unit: f64,
    faint: bool,
) -> Option<impl IntoView + use<>> {
    let drawing::Arrow {
        from: [u0, v0],
        to: [u1, v1],
        ring: [ru, rv],
    } = drawing::arrow(spot, view, scale)?;
    let class = match (faint, spot.verdict) {
        (true, _) => "arrow faint",
        (false, Some(Verdict::Outside)) => "arrow outside",
        _ => "arrow",
    };
    Some(view! {
        <g class=class>
            <line x1=u0 y1=v0 x2=u1 y2=v1 stroke-width=unit * 0.6 />
            <ellipse cx=u1 cy=v1 rx=ru.max(unit * 0.4) ry=rv.max(unit * 0.4) stroke-width=unit * 0.3 />
        </g>
    })
}
