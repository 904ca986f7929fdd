//! Rows that are known by a name: each keeps what a person has opened or written in it, whatever others
//! add above or below.

use leptos::prelude::*;

/// The rows, in the order of their names. One piece of code for rows of every kind.
#[component]
pub fn Rows(
    /// Names, each once.
    #[prop(into)]
    names: Signal<Vec<String>>,
    /// Makes the row of a name; it follows its values by itself.
    #[prop(into)]
    row: Callback<String, AnyView>,
) -> impl IntoView {
    view! { <For each=move || names.get() key=String::clone children=move |name| row.run(name) /> }
}
