//! A plan of a car to tap where it was hit: the front is at the top.

use leptos::prelude::*;
use shared::job::{Impact, Zone};

use crate::state::person::person;

/// A place on the plan: zone, x, y, where the blow usually comes from (degrees in the x-y plane).
type Spot = (Zone, i32, i32, f64);

const SPOTS: [Spot; 8] = [
    (Zone::FrontLeft, 30, 30, 200.0),
    (Zone::Front, 80, 18, 180.0),
    (Zone::FrontRight, 130, 30, 160.0),
    (Zone::Left, 18, 110, 270.0),
    (Zone::Right, 142, 110, 90.0),
    (Zone::RearLeft, 30, 190, 340.0),
    (Zone::Rear, 80, 202, 0.0),
    (Zone::RearRight, 130, 190, 20.0),
];

/// The plan; tapping the chosen place again takes it away.
#[component]
pub fn ImpactPlan(
    /// Where it was hit.
    impact: RwSignal<Option<Impact>>,
    /// Name, for screen readers.
    #[prop(into)]
    label: Signal<String>,
) -> impl IntoView {
    let person = person();
    let spots = SPOTS.map(|(zone, x, y, direction_deg)| {
        let chosen = move || {
            impact
                .read()
                .as_ref()
                .is_some_and(|impact| impact.zone == zone)
        };
        let toggle = move || {
            let next = (!chosen()).then_some(Impact {
                zone,
                direction_deg,
            });
            impact.set(next);
        };
        view! {
            <g
                role="button"
                tabindex="0"
                aria-label=move || person.words().zone(zone)
                aria-pressed=move || chosen().to_string()
                class="spot"
                class:chosen=chosen
                on:click=move |_| toggle()
                on:keydown=move |event| {
                    if event.key() == "Enter" || event.key() == " " {
                        event.prevent_default();
                        toggle();
                    }
                }
            >
                <circle cx=x cy=y r="16" />
            </g>
        }
    });
    let chosen_name = move || {
        let zone = impact.read().as_ref()?.zone;
        Some(person.words().zone(zone))
    };
    view! {
        <svg class="plan" viewBox="0 -16 160 236" role="group" aria-label=label>
            <text x="80" y="-4" text-anchor="middle" font-size="13" fill="currentColor">{person.word(|words| words.zone_front)}</text>
            <path class="outline" d="M52 22Q80 8 108 22Q122 40 122 70V160Q122 190 108 202Q80 210 52 202Q38 190 38 160V70Q38 40 52 22Z" />
            <path class="outline" d="M48 84Q80 66 112 84L106 104H54ZM54 158H106L110 176Q80 188 50 176Z" />
            {spots}
        </svg>
        <p role="status" data-test="impact">{chosen_name}</p>
    }
}
