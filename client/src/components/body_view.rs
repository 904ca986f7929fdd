//! One view of the body in SVG: members, points with their marks, arrows with rings of doubt.

use std::sync::Arc;

use indexmap::IndexMap;
use leptos::prelude::*;
use shared::ids::PointId;
use shared::job::Job;
use shared::verdict::Verdict;

use super::point_mark::PointMark;
use crate::measuring::drawing::{RING, Spot, View, Window, member_lines};

/// One stage of the drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Layer {
    /// The points.
    pub spots: IndexMap<PointId, Spot>,
    /// Drawn below, for comparison?
    pub faint: bool,
}

/// The drawing. Tapping a point chooses it.
#[component]
pub fn BodyView(
    /// The car.
    #[prop(into)]
    job: Signal<Arc<Job>>,
    /// Stages, the first on top.
    #[prop(into)]
    layers: Signal<Vec<Layer>>,
    /// From where.
    #[prop(into)]
    view: Signal<View>,
    /// The paper.
    #[prop(into)]
    window: Signal<Window>,
    /// How much arrows are drawn longer than they are.
    #[prop(into)]
    exaggeration: Signal<f64>,
    /// The chosen point.
    tapped: RwSignal<Option<PointId>>,
    /// May points be moved?
    #[prop(into)]
    moving: Signal<bool>,
    /// Called with a point and how far it was moved on paper, [u, v] in millimetres.
    #[prop(into)]
    moved: Callback<(PointId, [f64; 2])>,
) -> impl IntoView {
    let drag = RwSignal::new(None::<Drag>);
    let unit = move || window.get().longer() / 100.0;
    let box_ = move || {
        let w = window.get();
        format!("{:.1} {:.1} {:.1} {:.1}", w.u, w.v, w.width, w.height)
    };
    let members = move || {
        let (job, view) = (job.get(), view.get());
        let layers = layers.get();
        let at = |id: &PointId| layers[0].spots.get(id).map(|spot| view.project(spot.at_mm));
        let lines = member_lines(&job).into_values().flatten().map(|line| {
            let corners: Vec<String> = line
                .iter()
                .filter_map(at)
                .map(|[u, v]| format!("{u:.1},{v:.1}"))
                .collect();
            view! { <polyline class="member" points=corners.join(" ") stroke-width=unit() * 0.5 /> }
        });
        lines.collect_view()
    };
    let centre = move || {
        let w = window.get();
        (view.get() != View::Side).then(|| {
            view! { <line class="centre" x1="0" x2="0" y1=w.v y2=w.v + w.height stroke-width=unit() * 0.25 /> }
        })
    };
    let arrows = move || {
        let scale = exaggeration.get();
        let draw = |layer: &Layer| {
            let faint = layer.faint;
            let arrow = |spot: &Spot| arrow(spot, view.get(), scale, unit(), faint);
            layer.spots.values().filter_map(arrow).collect_view()
        };
        layers.get().iter().rev().map(draw).collect_view()
    };
    let points = move || {
        let (job, view) = (job.get(), view.get());
        let point = |spot: &Spot| {
            let label = job
                .points
                .get(&spot.id)
                .map(|point| point.label.clone())
                .unwrap_or_default();
            let grab = Callback::new(move |(id, at): (PointId, [f64; 2])| {
                if moving.get_untracked() {
                    drag.set(Some(Drag {
                        id,
                        from: at,
                        to: at,
                    }));
                }
            });
            view! { <PointMark spot=spot.clone() label at=view.project(spot.at_mm) unit=unit() measured=in_view(spot, view) tapped grab moving moved /> }
        };
        layers.get()[0].spots.values().map(point).collect_view()
    };
    let follow = move |event: leptos::ev::PointerEvent| {
        let at = [f64::from(event.client_x()), f64::from(event.client_y())];
        drag.update(|drag| {
            if let Some(drag) = drag {
                drag.to = at;
            }
        });
    };
    let paper = NodeRef::<leptos::svg::Svg>::new();
    // Millimetres on paper for a pixel on the screen.
    let scale = move || {
        let shown = paper
            .get_untracked()
            .map(|paper| paper.get_bounding_client_rect());
        let w = window.get_untracked();
        shown.map_or(1.0, |shown| {
            (w.width / shown.width().max(1.0)).max(w.height / shown.height().max(1.0))
        })
    };
    let drop_point = move |_| {
        let Some(done) = drag.get_untracked() else {
            return;
        };
        drag.set(None);
        let by = done.by(scale());
        // A tap moves by a pixel or two.
        if by[0].hypot(by[1]) > 4.0 * scale() {
            moved.run((done.id, by));
        }
    };
    let ghost = move || {
        let drag = drag.get()?;
        let layers = layers.get();
        let [u, v] = view.get().project(layers[0].spots.get(&drag.id)?.at_mm);
        let [du, dv] = drag.by(scale());
        Some(
            view! { <circle class="ghost" cx=u + du cy=v + dv r=unit() * 2.5 stroke-width=unit() * 0.5 /> },
        )
    };
    view! {
        <svg
            class="body-view"
            class:moving=moving
            viewBox=box_
            role="group"
            node_ref=paper
            on:pointermove=follow
            on:pointerup=drop_point
            on:pointercancel=move |_| drag.set(None)
        >
            {centre} {members} {arrows} {points} {ghost}
        </svg>
    }
}

/// A point under the finger, in pixels of the screen.
#[derive(Debug, Clone, PartialEq)]
struct Drag {
    id: PointId,
    from: [f64; 2],
    to: [f64; 2],
}

impl Drag {
    /// How far it was taken on paper.
    fn by(&self, scale: f64) -> [f64; 2] {
        [0, 1].map(|axis| (self.to[axis] - self.from[axis]) * scale)
    }
}

/// Are both directions of this view measured?
fn in_view(spot: &Spot, view: View) -> bool {
    let known = |axis: usize| {
        spot.measured[axis]
            || spot
                .displacement
                .is_some_and(|shift| shift.move_mm[axis].is_some())
    };
    view.axes().into_iter().any(known)
}

/// An arrow to where the point is, and the ring that holds it 19 times of 20.
fn arrow(
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
