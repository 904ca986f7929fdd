//! A tap as a finger on paper: marks of a body stand closer together than fingers are wide.

use web_sys::SvgElement;

use super::drag::pixel;
use crate::measuring::drawing::{Finger, Window};

/// Half of the smallest target, pixels.
const REACH_PX: f64 = 24.0;
/// Marks this close to each other cover each other, pixels.
const APART_PX: f64 = 8.0;

/// Where the paper was tapped.
pub(super) fn finger(event: &web_sys::MouseEvent, paper: &SvgElement, window: Window) -> Finger {
    let (shown, scale) = (paper.get_bounding_client_rect(), pixel(paper, window));
    // The paper is drawn in the middle of its frame.
    let right = f64::from(event.client_x()) - shown.x() - shown.width() / 2.0;
    let down = f64::from(event.client_y()) - shown.y() - shown.height() / 2.0;
    Finger {
        at: [
            window.u + window.width / 2.0 + right * scale,
            window.v + window.height / 2.0 + down * scale,
        ],
        reach: REACH_PX * scale,
        apart: APART_PX * scale,
    }
}
