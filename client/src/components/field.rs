//! One labelled field of a form, and a row of choices.

use leptos::attr::custom::custom_attribute;
use leptos::prelude::*;

/// A text field with its label above it.
#[component]
pub fn Field(
    /// Name of the field, for browsers and tests.
    name: &'static str,
    /// The label.
    label: Signal<&'static str>,
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
    /// The unit of what is typed, after the label.
    #[prop(into, optional)]
    unit: Signal<&'static str>,
    /// Is it a code: capitals, and nothing that a phone should put right?
    #[prop(optional)]
    code: bool,
) -> impl IntoView {
    let in_unit = move || Some(unit.get()).filter(|unit| !unit.is_empty());
    view! {
        <label class="field">
            <span>{label} {move || in_unit().map(|unit| format!(" ({unit})"))}</span>
            <input
                name=name
                type=kind
                inputmode=inputmode
                autocomplete=autocomplete
                autocapitalize=code.then_some("characters")
                {..custom_attribute("autocorrect", code.then_some("off"))}
                spellcheck=code.then_some("false")
                prop:value=value
                data-unfinished=move || !value.read().is_empty()
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
    label: Signal<&'static str>,
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
    let words = move || {
        let options = options.get().into_iter();
        options.map(|(_, word)| word).collect()
    };
    let pressed = move || {
        let chosen = chosen.get();
        options.with(|options| options.iter().position(|(value, _)| *value == chosen))
    };
    let press = move |index: usize| {
        let value = options.with_untracked(|options| Some(options.get(index)?.0.clone()));
        if let Some(value) = value {
            choose.run(value);
        }
    };
    let (words, pressed) = (Signal::derive(words), Signal::derive(pressed));
    view! { <Buttons label words pressed press=Callback::new(press) /> }
}

/// The buttons themselves, the same code for values of every type.
#[component]
fn Buttons(
    label: Signal<&'static str>,
    words: Signal<Vec<String>>,
    pressed: Signal<Option<usize>>,
    press: Callback<usize>,
) -> impl IntoView {
    let button = move |(index, word): (usize, String)| {
        let is_pressed = move || (pressed.get() == Some(index)).to_string();
        view! { <button type="button" aria-pressed=is_pressed on:click=move |_| press.run(index)>{word}</button> }
    };
    view! {
        <fieldset class="choices">
            <legend>{label}</legend>
            {move || words.get().into_iter().enumerate().map(button).collect_view()}
        </fieldset>
    }
}
