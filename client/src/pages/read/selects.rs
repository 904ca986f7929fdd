//! What stays from reading to reading: stage, set-up, kind; and the side of the beam.

use leptos::prelude::*;
use shared::ids::{SetupId, StageId};
use shared::job::Plumb;

use super::Reader;
use crate::components::pick::Pick;
use crate::components::picture::Picture;
use crate::measuring::sentences::Voice;
use crate::measuring::task::Kind;
use crate::state::person::person;

/// Stage, set-up and kind: they stay until somebody changes them.
#[component]
pub fn Selects(
    /// What is being entered.
    reader: Reader,
) -> impl IntoView {
    let person = person();
    let book = reader.book;
    let voice = move || person.voice();
    let stages = move || {
        let job = book.job.get();
        let option = |stage: &shared::job::Stage| (stage.id.to_string(), stage.label.clone());
        job.stages.iter().map(option).collect()
    };
    let setups = move || {
        let job = book.job.get();
        let option = |(id, setup): (&SetupId, &shared::job::Setup)| {
            let run = match setup.plumb {
                Some(Plumb::Lengthwise) => " ↕",
                Some(Plumb::Crosswise) => " ↔",
                None => "",
            };
            (id.to_string(), format!("{}{run}", setup.label))
        };
        job.setups.iter().map(option).collect()
    };
    let kinds = move || {
        let option = |kind: Kind| (kind.name().to_owned(), voice().kind(kind).to_owned());
        Kind::ALL.map(option).to_vec()
    };
    let id_of = |id: Option<String>| id.unwrap_or_default();
    // A stage that somebody else has begun meanwhile.
    let newer = move || {
        let job = book.job.get();
        let newest = job.stages.last()?;
        let is_old = book.stage.get().is_some_and(|stage| stage != newest.id);
        let id = newest.id.clone();
        is_old.then(|| {
            let text = format!("{}: {}", voice().measuring.newer_stage, newest.label);
            view! { <button type="button" class="newer-stage" data-test="newer-stage" on:click=move |_| book.stage.set(Some(id.clone()))>{text}</button> }
        })
    };
    view! {
        <div class="selects">
            <Pick
                name="stage"
                label=person.measuring_word(|words| words.stage)
                options=Signal::derive(stages)
                chosen=Signal::derive(move || id_of(book.stage.get().map(|id| id.to_string())))
                choose=move |id: String| book.stage.set(StageId::parse(&id).ok())
            />
            <Pick
                name="setup"
                label=person.measuring_word(|words| words.setup)
                options=Signal::derive(setups)
                chosen=Signal::derive(move || id_of(book.setup.get().map(|id| id.to_string())))
                choose=move |id: String| book.setup.set(SetupId::parse(&id).ok())
            />
            <Pick
                name="kind"
                label=person.measuring_word(|words| words.kind)
                options=Signal::derive(kinds)
                chosen=Signal::derive(move || reader.kind().name().to_owned())
                choose=move |kind| book.kind.set(kind)
            />
        </div>
        {newer}
    }
}

/// Beam above or below, point right or left of it; and how to hold the scale.
#[component]
pub fn SideSwitch(
    /// What is being entered.
    reader: Reader,
    /// The language.
    #[prop(into)]
    voice: Signal<Voice>,
) -> impl IntoView {
    let side = Memo::new(move |_| reader.side());
    let has_side = move || matches!(reader.kind(), Kind::Height | Kind::Offset);
    view! {
        <Picture kind=Signal::derive(move || reader.kind()) side />
        <Show when=has_side fallback=move || view! { <small class="how">{move || voice.get().how(reader.kind())}</small> }>
            <button
                type="button"
                class="side"
                data-test="side"
                title=move || voice.get().how(reader.kind())
                on:click=move |_| {
                    reader.hold();
                    reader.turned.set(Some(side.get_untracked().other()));
                }
            >
                {move || voice.get().side(side.get())}
            </button>
        </Show>
    }
}
