//! One view of the body in SVG: members, points with their marks, arrows with rings of doubt.

mod arrow;
mod drag;
mod layer;
mod members;
mod near;
mod ways;

use std::sync::Arc;

use leptos::prelude::*;
use shared::ids::PointId;
use shared::job::Job;

use super::point_mark::PointMark;
use crate::measuring::drawing::{Spot, View, Window, far_to_near, in_view, taken};
use arrow::arrow;
use drag::{Drag, pixel};
pub use layer::{Layer, fitting_all};

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
    /// What a point is called, with its side, for screen readers.
    #[prop(into)]
    name: Callback<PointId, String>,
    /// The words for the car's front, left and right.
    #[prop(into)]
    ways: Signal<[&'static str; 3]>,
    /// The chosen point.
    tapped: RwSignal<Option<PointId>>,
    /// May points be moved?
    #[prop(into)]
    moving: Signal<bool>,
    /// Called with a point and how far it was moved on paper, [u, v] in millimetres.
    #[prop(into)]
    moved: Callback<(PointId, [f64; 2])>,
    /// Is it only looked at? Then no point can be chosen.
    #[prop(optional)]
    still: bool,
) -> impl IntoView {
    let drag = RwSignal::new(None::<Drag>);
    let unit = move || window.get().longer() / 100.0;
    let box_ = move || {
        let w = window.get();
        format!("{:.1} {:.1} {:.1} {:.1}", w.u, w.v, w.width, w.height)
    };
    let members =
        move || members::members(&job.get(), &layers.get()[0].spots, view.get(), unit() * 0.5);
    let centre = move || {
        let w = window.get();
        (view.get() != View::Side).then(|| {
            view! { <line class="centre" x1="0" x2="0" y1=w.v y2=w.v + w.height stroke-width=unit() * 0.25 /> }
        })
    };
    let arrows = move || {
        let scale = exaggeration.get();
        let draw = |layer: &Layer| {
            let arrow = |spot: &Spot| arrow(spot, view.get(), scale, unit(), layer.faint);
            layer.spots.values().filter_map(arrow).collect_view()
        };
        layers.get().iter().rev().map(draw).collect_view()
    };
    let points = move || {
        let view = view.get();
        let point = |spot: &Spot| {
            let label = name.run(spot.id.clone());
            let grab = Callback::new(move |(id, at)| {
                if moving.get_untracked() {
                    drag.set(Some(Drag::from(id, at)));
                }
            });
            view! { <PointMark spot=spot.clone() label at=view.project(spot.at_mm) unit=unit() measured=in_view(spot, view) tapped grab moving moved still /> }
        };
        let layers = layers.read();
        let spots = far_to_near(&layers[0].spots, view);
        spots.into_iter().map(point).collect_view()
    };
    let follow =
        move |event: leptos::ev::PointerEvent| drag.update(|drag| drag::follow(drag, &event));
    let paper = NodeRef::<leptos::svg::Svg>::new();
    let scale = move || {
        let paper = paper.get_untracked();
        paper.map_or(1.0, |paper| pixel(&paper, window.get_untracked()))
    };
    let drop_point = move |_| {
        let Some(done) = drag.try_update(Option::take).flatten() else {
            return;
        };
        let by = done.by(scale());
        // A tap moves by a pixel or two.
        if by[0].hypot(by[1]) > 4.0 * scale() {
            moved.run((done.id, by));
        }
    };
    let choose = move |event: leptos::ev::MouseEvent| {
        let Some(paper) = paper.get_untracked().filter(|_| !still) else {
            return;
        };
        let finger = near::finger(&event, &paper, window.get_untracked());
        let (layers, before) = (layers.read_untracked(), tapped.get_untracked());
        let near = taken(
            &layers[0].spots,
            view.get_untracked(),
            finger,
            before.as_ref(),
        );
        if near.is_some() {
            tapped.set(near);
        }
    };
    let ghost = move || {
        let drag = drag.get()?;
        let at_mm = layers.read()[0].spots.get(&drag.id)?.at_mm;
        Some(drag.ghost(view.get().project(at_mm), scale(), unit()))
    };
    view! {
        <svg
            class="body-view"
            class:moving=moving
            viewBox=box_
            role="group"
            node_ref=paper
            on:click=choose
            on:pointermove=follow
            on:pointerup=drop_point
            on:pointercancel=move |_| drag.set(None)
        >
            {centre} {move || ways::ways(view.get(), window.get(), ways.get())} {members} {arrows} {points} {ghost}
        </svg>
    }
}
