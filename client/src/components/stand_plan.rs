//! A plan to tap where the laser stands: the car's points, front up, with room around.

use leptos::prelude::*;

use crate::measuring::drawing::Window;

/// Room around the car, millimetres.
const ROOM_MM: f64 = 3500.0;
/// A place is rough: it snaps to this, and an arrow key moves by it, millimetres.
const STEP_MM: f64 = 100.0;

/// The plan.
#[component]
pub fn StandPlan(
    /// Places of the car's points on paper, right and rearward, millimetres.
    #[prop(into)]
    points: Signal<Vec<[f64; 2]>>,
    /// Where the laser stands [x rearward, y right], millimetres.
    stands: RwSignal<Option<[f64; 2]>>,
    /// What the mark is called for screen readers.
    #[prop(into)]
    label: Signal<String>,
) -> impl IntoView {
    let window = move || {
        let car = Window::around(points.get().into_iter());
        Window {
            u: car.u - ROOM_MM,
            v: car.v - ROOM_MM,
            width: car.width + 2.0 * ROOM_MM,
            height: car.height + 2.0 * ROOM_MM,
        }
    };
    let box_ = move || {
        let w = window();
        format!("{:.0} {:.0} {:.0} {:.0}", w.u, w.v, w.width, w.height)
    };
    let paper = NodeRef::<leptos::svg::Svg>::new();
    let snap = |mm: f64| (mm / STEP_MM).round() * STEP_MM;
    let tap = move |event: leptos::ev::MouseEvent| {
        let Some(paper) = paper.get_untracked() else {
            return;
        };
        let (shown, w) = (paper.get_bounding_client_rect(), window());
        let scale = (w.width / shown.width().max(1.0)).max(w.height / shown.height().max(1.0));
        // The drawing stands in the middle of its frame.
        let from_middle =
            |at: i32, start: f64, size: f64| (f64::from(at) - start - size / 2.0) * scale;
        let right =
            w.u + w.width / 2.0 + from_middle(event.client_x(), shown.left(), shown.width());
        let rearward =
            w.v + w.height / 2.0 + from_middle(event.client_y(), shown.top(), shown.height());
        stands.set(Some([snap(rearward), snap(right)]));
    };
    let keys = move |event: leptos::ev::KeyboardEvent| {
        let by = match event.key().as_str() {
            "ArrowUp" => [-STEP_MM, 0.0],
            "ArrowDown" => [STEP_MM, 0.0],
            "ArrowLeft" => [0.0, -STEP_MM],
            "ArrowRight" => [0.0, STEP_MM],
            _ => return,
        };
        event.prevent_default();
        let w = window();
        let middle = [snap(w.v + w.height / 2.0), snap(w.u + w.width / 2.0)];
        let [x, y] = stands.get_untracked().unwrap_or(middle);
        stands.set(Some([x + by[0], y + by[1]]));
    };
    let unit = move || window().longer() / 100.0;
    let dots = move || {
        let dot = |[u, v]: [f64; 2]| view! { <circle cx=u cy=v r=unit() class="car-dot" /> };
        points.get().into_iter().map(dot).collect_view()
    };
    let mark = move || {
        let [x, y] = stands.get()?;
        let r = unit() * 3.0;
        let d = format!("M{} {x}H{}M{y} {}V{}", y - r, y + r, x - r, x + r);
        Some(view! {
            <circle cx=y cy=x r=r class="stand" stroke-width=unit() />
            <path d=d class="stand" stroke-width=unit() />
        })
    };
    view! {
        <svg class="stand-plan" viewBox=box_ role="button" tabindex="0" aria-label=label node_ref=paper on:click=tap on:keydown=keys data-test="stand-plan">
            {dots} {mark}
        </svg>
    }
}
