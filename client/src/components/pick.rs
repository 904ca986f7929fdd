//! One of several from a list that the phone shows its own way. A list that is open stays as it is
//! until there is something else to choose from.

use std::sync::Arc;

use leptos::prelude::*;
use shared::ids::StageId;
use shared::job::{Job, Stage};

use super::rows::Rows;

/// A list to choose from. What is chosen is drawn over the browser's own, which cuts long names; a long
/// name wraps into two lines.
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
    let options = Memo::new(move |_| options.get());
    let shown = move || word_of(options, &chosen.read());
    view! {
        <label class="pick">
            <span class="sr">{label}</span>
            <span class="shown" aria-hidden="true">{shown}</span>
            <List name options chosen choose />
        </label>
    }
}

/// A list to choose from with its name above it, where there is room.
#[component]
pub fn PickField(
    /// Name of the field, for tests.
    name: &'static str,
    /// The label.
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
    let options = Memo::new(move |_| options.get());
    view! {
        <label class="field">
            <span>{label}</span>
            <List name options chosen choose />
        </label>
    }
}

/// The stages of a car, one of them chosen.
#[component]
pub fn StageField(
    /// The label.
    label: Signal<&'static str>,
    /// The car.
    #[prop(into)]
    job: Signal<Arc<Job>>,
    /// Which stage.
    #[prop(into)]
    stage: Signal<Option<StageId>>,
    /// Called with another one.
    #[prop(into)]
    choose: Callback<Option<StageId>>,
) -> impl IntoView {
    let options = move || {
        let job = job.read();
        let option = |stage: &Stage| (stage.id.to_string(), stage.label.clone());
        job.stages.iter().map(option).collect()
    };
    let chosen = move || stage.get().map(|id| id.to_string()).unwrap_or_default();
    view! {
        <PickField
            name="stage"
            label
            options=Signal::derive(options)
            chosen=Signal::derive(chosen)
            choose=move |id: String| choose.run(StageId::parse(&id).ok())
        />
    }
}

/// The browser's own list: each choice is drawn once, and follows its word.
#[component]
fn List(
    name: &'static str,
    options: Memo<Vec<(String, String)>>,
    chosen: Signal<String>,
    choose: Callback<String>,
) -> impl IntoView {
    let values = move || {
        let options = options.read();
        let values = options.iter().map(|(value, _)| value.clone());
        values.collect::<Vec<_>>()
    };
    let option = move |value: String| {
        let own = value.clone();
        let is_chosen = {
            let value = value.clone();
            move || *chosen.read() == value
        };
        let word = move || word_of(options, &own);
        view! { <option value=value prop:selected=is_chosen>{word}</option> }.into_any()
    };
    // A choice that is not kept is not left standing either: it could not be chosen again.
    let change = move |event: leptos::ev::Event| {
        let list: web_sys::HtmlSelectElement = event_target(&event);
        let value = list.value();
        choose.run(value.clone());
        // Whoever chose may have left the page with it.
        let kept = chosen.try_get_untracked();
        if let Some(kept) = kept.filter(|kept| *kept != value) {
            list.set_value(&kept);
        }
    };
    view! {
        <select name=name on:change=change>
            <Rows names=Signal::derive(values) row=Callback::new(option) />
        </select>
    }
}

fn word_of(options: Memo<Vec<(String, String)>>, value: &str) -> Option<String> {
    let options = options.read();
    let found = options.iter().find(|(known, _)| known == value);
    found.map(|(_, word)| word.clone())
}
