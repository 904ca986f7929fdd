//! One point of the body on paper, with its verdict mark.

use leptos::prelude::*;
use shared::ids::PointId;
use shared::verdict::Verdict;

use crate::measuring::drawing::Spot;

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
        None => view! { <circle cx=u cy=v r=r * 0.6 class="unread" class:dotted=!measured stroke-width=unit * 0.4 /> }.into_any(),
    };
    let trusted = spot.trusted.then(|| {
        let s = r * 1.6;
        view! { <rect x=u - s y=v - s width=2.0 * s height=2.0 * s class="trusted-mark" stroke-width=unit * 0.4 /> }
    });
    let (id, key_id, own) = (spot.id.clone(), spot.id.clone(), spot.id);
    let chosen = move || tapped.read().as_ref() == Some(&own);
    view! {
        <g
            role="button"
            tabindex="0"
            aria-label=label
            class="point-mark"
            class:chosen=chosen
            on:click=move |_| tapped.set(Some(id.clone()))
            on:keydown=move |event| {
                if event.key() == "Enter" || event.key() == " " {
                    event.prevent_default();
                    tapped.set(Some(key_id.clone()));
                }
            }
        >
            <circle cx=u cy=v r=unit * 5.0 class="finger" />
            {trusted}
            {mark}
        </g>
    }
}
