//! One point of the body on paper, with its verdict mark.

use leptos::prelude::*;
use shared::ids::PointId;
use shared::verdict::Verdict;

use crate::measuring::drawing::Spot;

/// How far an arrow key moves a point.
const KEY_STEP_MM: f64 = 10.0;

/// The mark of a point; a square stands around a trusted one.
#[component]
pub fn PointMark(
    /// The point.
    spot: Spot,
    /// Its name, for screen readers.
    label: String,
    /// Where on paper.
    at: [f64; 2],
    /// A hundredth of the paper.
    unit: f64,
    /// Is anything of this view measured?
    measured: bool,
    /// The chosen point.
    tapped: RwSignal<Option<PointId>>,
    /// Called when a finger comes down on it, with the place on the screen.
    #[prop(into)]
    grab: Callback<(PointId, [f64; 2])>,
    /// May it be moved?
    #[prop(into)]
    moving: Signal<bool>,
    /// Called with how far the arrow keys move it on paper, millimetres.
    #[prop(into)]
    moved: Callback<(PointId, [f64; 2])>,
    /// Is it only looked at? Then it is no button.
    still: bool,
) -> impl IntoView {
    let [u, v] = at;
    let r = unit * 1.7;
    let mark = match spot.verdict {
        Some(Verdict::Within) => view! { <circle cx=u cy=v r=r class="mark-within" /> }.into_any(),
        Some(Verdict::Outside) => {
            let d = format!("M{u} {}L{} {v}L{u} {}L{} {v}Z", v - r * 1.3, u + r * 1.3, v + r * 1.3, u - r * 1.3);
            view! { <path d=d class="mark-outside" /> }.into_any()
        }
        Some(Verdict::Unproven) => {
            view! { <circle cx=u cy=v r=r class="ring" stroke-width=unit * 0.5 stroke-dasharray=format!("{} {}", unit, unit * 0.7) /> }.into_any()
        }
        None if measured => view! { <circle cx=u cy=v r=r * 0.6 class="unread" stroke-width=unit * 0.4 /> }.into_any(),
        // A pencil's cross: only a rough place, nothing measured.
        None => {
            let (s, w) = (r * 0.7, r * 1.4);
            let d = format!("M{} {}l{w} {w}m0 -{w}l-{w} {w}", u - s, v - s);
            view! { <path d=d class="unread" stroke-width=unit * 0.4 /> }.into_any()
        }
    };
    let trusted = spot.trusted.then(|| {
        let s = r * 1.6;
        view! { <rect x=u - s y=v - s width=2.0 * s height=2.0 * s class="trusted-mark" stroke-width=unit * 0.4 /> }
    });
    let (id, key_id, grabbed, own) = (spot.id.clone(), spot.id.clone(), spot.id.clone(), spot.id);
    let by_keys = move |event: &leptos::ev::KeyboardEvent, id: &PointId| {
        let step = match event.key().as_str() {
            "ArrowLeft" => [-KEY_STEP_MM, 0.0],
            "ArrowRight" => [KEY_STEP_MM, 0.0],
            "ArrowUp" => [0.0, -KEY_STEP_MM],
            "ArrowDown" => [0.0, KEY_STEP_MM],
            _ => return,
        };
        if moving.get_untracked() {
            event.prevent_default();
            moved.run((id.clone(), step));
        }
    };
    let choose = move |id: &PointId| {
        if !still {
            tapped.set(Some(id.clone()));
        }
    };
    let chosen = move || tapped.read().as_ref() == Some(&own);
    // Where a finger is, the paper judges which mark it means. A screen reader means the one that it has
    // read out: its press has no place, or (on Android) the place and a button that is still down.
    let press = move |event: leptos::ev::MouseEvent| {
        if event.buttons() != 0 || (event.client_x(), event.client_y()) == (0, 0) {
            event.stop_propagation();
            choose(&id);
        }
    };
    view! {
        <g
            role=if still { "img" } else { "button" }
            tabindex=(!still).then_some("0")
            aria-label=label
            class="point-mark"
            class:chosen=chosen
            on:click=press
            on:pointerdown=move |event| grab.run((grabbed.clone(), [f64::from(event.client_x()), f64::from(event.client_y())]))
            on:keydown=move |event| {
                by_keys(&event, &key_id);
                if event.key() == "Enter" || event.key() == " " {
                    event.prevent_default();
                    choose(&key_id);
                }
            }
        >
            <circle cx=u cy=v r=unit * 5.0 class="finger" />
            {trusted}
            {mark}
        </g>
    }
}
