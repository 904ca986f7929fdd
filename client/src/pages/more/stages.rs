//! Stages: begun, renamed, corrected.

use leptos::prelude::*;
use shared::book::{Intention, StagePart};
use shared::ids::StageId;
use shared::job::{Load, Stage, StageKind};

use crate::components::field::{Choices, Field};
use crate::components::rows::Rows;
use crate::platform;
use crate::state::book::book;
use crate::state::person::{Person, person};

/// What kind of round a stage is.
type Kind = (StageKind, Option<Load>);

/// The kinds with their words.
fn kinds(person: Person) -> Signal<Vec<(Kind, String)>> {
    Signal::derive(move || {
        let words = person.words();
        let pull = |load: &str| format!("{} · {load}", words.of_pull);
        let under = pull(words.load_under);
        let released = pull(words.load_released);
        vec![
            (
                (StageKind::AsReceived, None),
                words.of_as_received.to_owned(),
            ),
            ((StageKind::Pull, Some(Load::Under)), under),
            ((StageKind::Pull, Some(Load::Released)), released),
            ((StageKind::Final, None), words.of_final.to_owned()),
        ]
    })
}

/// A field for a stage's name, which must have one.
#[component]
fn NameField(value: RwSignal<String>) -> impl IntoView {
    let person = person();
    let hint = move || match value.read().trim().is_empty() {
        true => person.words().needs_name.to_owned(),
        false => String::new(),
    };
    view! { <Field name="stage" label=person.word(|words| words.stage_label) value hint=Signal::derive(hint) /> }
}

/// The list, the open stage, and a form to begin one.
#[component]
pub fn Stages(
    /// What a person does, done.
    act: Callback<Intention, bool>,
) -> impl IntoView {
    let (person, book) = (person(), book());
    let label = RwSignal::new(String::new());
    let kind = RwSignal::new((StageKind::Pull, Some(Load::Under)));
    let open = RwSignal::new(None::<Stage>);
    let begin = move |_| {
        let Ok(id) = StageId::parse(&platform::fresh_id().to_string()) else {
            return;
        };
        let (of, load) = kind.get_untracked();
        let stage = Stage {
            id: id.clone(),
            label: label.get_untracked().trim().to_owned(),
            of,
            load,
        };
        act.run(Intention::BeginStage { stage });
        book.stage.set(Some(id));
        label.set(String::new());
    };
    let names = move || {
        let stages = &book.job.read().stages;
        stages.iter().map(|stage| stage.id.to_string()).collect()
    };
    let row = move |name: String| {
        let find = move |name: &str| {
            let job = book.job.read();
            let mut stages = job.stages.iter();
            stages.find(|stage| stage.id.as_str() == name).cloned()
        };
        let of = name.clone();
        let says = move || {
            let stage = find(&of)?;
            let kinds = kinds(person).get();
            let kind = kinds
                .into_iter()
                .find(|(kind, _)| *kind == (stage.of, stage.pulled()));
            let kind = kind.map(|(_, word)| word);
            Some(view! { {stage.label} <small>{kind}</small> })
        };
        let change = move |_| open.set(untrack(|| find(&name)));
        view! {
            <li>
                <span>{says}</span>
                <button type="button" data-test="change-stage" on:click=change>{person.word(|words| words.amend)}</button>
            </li>
        }
        .into_any()
    };
    let form = move || {
        let stage = open.get()?;
        let done = Callback::new(move |()| open.set(None));
        Some(view! { <StageForm stage act done /> })
    };
    view! {
        <section>
            <h2>{person.word(|words| words.stages)}</h2>
            <ol class="lines">
                <Rows names=Signal::derive(names) row=Callback::new(row) />
            </ol>
            {form}
            <Choices label=person.word(|words| words.begin_stage) options=kinds(person) chosen=kind choose=move |to| kind.set(to) />
            <NameField value=label />
            <button type="button" data-test="begin-stage" disabled=move || label.read().trim().is_empty() on:click=begin>
                {person.word(|words| words.begin_stage)}
            </button>
        </section>
    }
}

/// A stage as it was opened, to be renamed and corrected. Only what differs is written.
#[component]
fn StageForm(stage: Stage, act: Callback<Intention, bool>, done: Callback<()>) -> impl IntoView {
    let person = person();
    let label = RwSignal::new(stage.label.clone());
    let kind = RwSignal::new((stage.of, stage.pulled()));
    let title = stage.label.clone();
    let save = move |_| {
        let (name, (of, load)) = (label.get_untracked(), kind.get_untracked());
        let mut says = Vec::new();
        if name.trim() != stage.label {
            says.push(StagePart::Label(name.trim().to_owned()));
        }
        if (of, load) != (stage.of, stage.pulled()) {
            says.push(StagePart::Kind(of, load));
        }
        let id = stage.id.clone();
        if says.is_empty() || act.run(Intention::DescribeStage { id, says }) {
            done.run(());
        }
    };
    view! {
        <div class="check" role="group" aria-label=title data-test="stage-form">
            <NameField value=label />
            <Choices label=person.measuring_word(|words| words.stage_kind) options=kinds(person) chosen=kind choose=move |to| kind.set(to) />
            <div class="row">
                <button type="button" data-test="save-stage" disabled=move || label.read().trim().is_empty() on:click=save>
                    {person.word(|words| words.save)}
                </button>
                <button type="button" on:click=move |_| done.run(())>{person.word(|words| words.cancel)}</button>
            </div>
        </div>
    }
}
