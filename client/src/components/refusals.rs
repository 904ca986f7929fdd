//! What is wrong with a file or a form, line by line.

use leptos::prelude::*;

/// Of a file that is full of mistakes so many are shown: mended, it tells the next.
const SHOWN: usize = 12;

/// The first lines, under a heading; nothing when there are none.
#[component]
pub fn Refusals(
    /// What was not done.
    heading: Signal<&'static str>,
    /// What is wrong, and where.
    lines: RwSignal<Vec<String>>,
) -> impl IntoView {
    let shown = move || {
        let shown = lines.get().into_iter().take(SHOWN);
        shown.map(|line| view! { <li>{line}</li> }).collect_view()
    };
    view! {
        <Show when=move || !lines.read().is_empty()>
            <div role="alert" data-test="refusals">
                <p class="error">{heading}</p>
                <ul class="lines">{shown}</ul>
            </div>
        </Show>
    }
}
