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
                <b>{person.word(|words| words.safety_title)}</b>
                " · "
                {person.word(|words| words.safety_report)}
            </summary>
            <ul>
                <li>{person.word(|words| words.safety_procedure)}</li>
                <li>{person.word(|words| words.safety_pull)}</li>
                <li>{person.word(|words| words.safety_stands)}</li>
                <li>{person.word(|words| words.safety_beam)}</li>
                <li>{person.word(|words| words.safety_law)}</li>
            </ul>
        </details>
    }
}
