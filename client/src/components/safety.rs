//! The safety lines, where the work is.

use leptos::prelude::*;

use crate::state::person::person;

/// All six lines, folded unless asked for; the first words are always in sight.
#[component]
pub fn Safety() -> impl IntoView {
    let person = person();
    view! {
        <details class="safety">
            <summary>
                <b>{move || person.words().safety_title}</b>
                " · "
                {move || person.words().safety_report}
            </summary>
            <ul>
                <li>{move || person.words().safety_procedure}</li>
                <li>{move || person.words().safety_pull}</li>
                <li>{move || person.words().safety_stands}</li>
                <li>{move || person.words().safety_beam}</li>
                <li>{move || person.words().safety_law}</li>
            </ul>
        </details>
    }
}
