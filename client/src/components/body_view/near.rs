//! The mark nearest to a finger: marks of a body stand closer together than fingers are wide.

use indexmap::IndexMap;
use shared::ids::PointId;
use web_sys::SvgElement;

use super::drag::pixel;
use crate::measuring::drawing::{Spot, View, Window};

/// Half of the smallest target, pixels.
const REACH_PX: f64 = 24.0;

/// The point nearest to where the paper was tapped, if one is within reach.
pub(super) fn nearest(
    event: &web_sys::MouseEvent,
    paper: &SvgElement,
    spots: &IndexMap<PointId, Spot>,
    view: View,
    window: Window,
) -> Option<PointId> {
    let (shown, scale) = (paper.get_bounding_client_rect(), pixel(paper, window));
    // The paper is drawn in the middle of its frame.
    let right = f64::from(event.client_x()) - shown.x() - shown.width() / 2.0;
    let down = f64::from(event.client_y()) - shown.y() - shown.height() / 2.0;
    let (u, v) = (
        window.u + window.width / 2.0 + right * scale,
        window.v + window.height / 2.0 + down * scale,
    );
    let apart = |spot: &Spot| {
        let [at_u, at_v] = view.project(spot.at_mm);
        (at_u - u).hypot(at_v - v) / scale
    };
    let near = spots.values().map(|spot| (apart(spot), spot));
    let (apart, spot) = near.min_by(|a, b| a.0.total_cmp(&b.0))?;
    (apart <= REACH_PX).then(|| spot.id.clone())
}
