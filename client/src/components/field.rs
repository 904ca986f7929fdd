//! One labelled field of a form, and a row of choices.

use leptos::prelude::*;

/// A text field with its label above it.
#[component]
pub fn Field(
    /// Name of the field, for browsers and tests.
    name: &'static str,
    /// The label.
    #[prop(into)]
    label: Signal<String>,
    /// What is typed.
    value: RwSignal<String>,
    /// Kind of input.
    #[prop(default = "text")]
    kind: &'static str,
    /// What the browser may fill in.
    #[prop(default = "off")]
    autocomplete: &'static str,
    /// Which keyboard a phone shows.
    #[prop(default = "text")]
    inputmode: &'static str,
    /// A word below the field.
    #[prop(into, optional)]
    hint: Signal<String>,
) -> impl IntoView {
    view! {
        <label class="field">
            <span>{label}</span>
            <input
                name=name
                type=kind
                inputmode=inputmode
                autocomplete=autocomplete
                prop:value=value
                on:input=move |event| value.set(event_target_value(&event))
            />
            <small>{hint}</small>
        </label>
    }
}

/// One of several, as large buttons.
#[component]
pub fn Choices<T>(
    /// Name, for screen readers.
    #[prop(into)]
    label: Signal<String>,
    /// Values with their words.
    #[prop(into)]
    options: Signal<Vec<(T, String)>>,
    /// Which one.
    #[prop(into)]
    chosen: Signal<T>,
    /// Called with a new one.
    #[prop(into)]
    choose: Callback<T>,
) -> impl IntoView
where
    T: Clone + PartialEq + Send + Sync + 'static,
{
    view! {
        <fieldset class="choices">
            <legend>{label}</legend>
            {move || {
                options
                    .get()
                    .into_iter()
                    .map(|(value, word)| {
                        let own = value.clone();
                        let pressed = move || chosen.get() == own;
                        view! {
                            <button type="button" aria-pressed=move || pressed().to_string() on:click=move |_| choose.run(value.clone())>
                                {word}
                            </button>
                        }
                    })
                    .collect_view()
            }}
        </fieldset>
    }
}
