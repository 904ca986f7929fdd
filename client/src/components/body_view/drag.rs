//! A point being dragged.

use leptos::prelude::*;
use shared::ids::PointId;
use web_sys::SvgElement;

use crate::measuring::drawing::Window;

/// A point under the finger, in pixels of the screen.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Drag {
    pub(super) id: PointId,
    from: [f64; 2],
    to: [f64; 2],
}

/// Millimetres on paper for a pixel on the screen.
pub(super) fn pixel(paper: &SvgElement, window: Window) -> f64 {
    let shown = paper.get_bounding_client_rect();
    let across = window.width / shown.width().max(1.0);
    across.max(window.height / shown.height().max(1.0))
}

/// The finger went on.
pub(super) fn follow(drag: &mut Option<Drag>, event: &web_sys::PointerEvent) {
    if let Some(drag) = drag {
        drag.to = [f64::from(event.client_x()), f64::from(event.client_y())];
    }
}

impl Drag {
    /// A finger comes down on a point.
    pub(super) fn from(id: PointId, at: [f64; 2]) -> Self {
        Self {
            id,
            from: at,
            to: at,
        }
    }

    /// How far it was taken on paper.
    pub(super) fn by(&self, scale: f64) -> [f64; 2] {
        [0, 1].map(|axis| (self.to[axis] - self.from[axis]) * scale)
    }

    /// Where it would come to lie, from where it lies on paper; `unit` is a hundredth of the paper.
    pub(super) fn ghost(&self, [u, v]: [f64; 2], scale: f64, unit: f64) -> impl IntoView + use<> {
        let [du, dv] = self.by(scale);
        view! { <circle class="ghost" cx=u + du cy=v + dv r=unit * 2.5 stroke-width=unit * 0.5 /> }
    }
}
