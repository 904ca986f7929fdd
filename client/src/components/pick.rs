//! One of several from a list that the phone shows its own way; a long name wraps into two lines.

use leptos::prelude::*;

/// A list to choose from. What is chosen is drawn over the browser's own, which cuts long names.
#[component]
pub fn Pick(
    /// Name of the field, for tests.
    name: &'static str,
    /// Name, for screen readers.
    label: Signal<&'static str>,
    /// Values with their words.
    #[prop(into)]
    options: Signal<Vec<(String, String)>>,
    /// Which one.
    #[prop(into)]
    chosen: Signal<String>,
    /// Called with a new one.
    #[prop(into)]
    choose: Callback<String>,
) -> impl IntoView {
    // A list that is made anew at every reading is drawn anew only when it differs.
    let options = Memo::new(move |_| options.get());
    let shown = move || {
        let chosen = chosen.get();
        let options = options.get();
        let found = options.into_iter().find(|(value, _)| *value == chosen);
        found.map(|(_, word)| word)
    };
    let items = move || {
        let chosen = chosen.get();
        let option = |(value, word): (String, String)| {
            let selected = value == chosen;
            view! { <option value=value selected=selected>{word}</option> }
        };
        options.get().into_iter().map(option).collect_view()
    };
    view! {
        <label class="pick">
            <span class="sr">{label}</span>
            <span class="shown" aria-hidden="true">{shown}</span>
            <select name=name on:change=move |event| choose.run(event_target_value(&event))>{items}</select>
        </label>
    }
}
