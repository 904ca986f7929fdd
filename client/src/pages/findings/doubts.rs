//! Readings and references that do not fit, and what can be done about each.

use std::collections::HashMap;

use leptos::prelude::*;
use shared::book::Intention;
use shared::ids::{PointId, ReadingId};
use shared::result::{Suspect, TrustTest, trust_row};

use super::Fold;
use crate::measuring::doubts::Doubted;
use crate::measuring::sentences::Voice;
use crate::measuring::task::Task;
use crate::pages::read::Choice;
use crate::platform;
use crate::state::book::Book;
use crate::state::route::{Route, Tab};

/// Why readings are to be left out, half written, by reading.
#[derive(Debug, Clone, Copy, Default)]
pub struct Reasons(StoredValue<HashMap<ReadingId, String>>);

/// A suspect: what it may be, and what to do.
#[component]
pub fn Doubt(
    /// The open book.
    book: Book,
    /// The reading and what goes with it.
    suspect: Suspect,
    /// The language.
    voice: Voice,
) -> impl IntoView {
    let said = voice.suspect(&book.job.get_untracked(), &suspect);
    let detail = match suspect.one_of.len() {
        0 | 1 => view! { <Reading book reading=suspect.reading voice /> }.into_any(),
        _ => view! { <Group book names=suspect.one_of voice /> }.into_any(),
    };
    view! { <Fold summary=doubted(said) detail /> }
}

/// A reference that does not fit.
#[component]
pub fn Bent(
    /// The open book.
    book: Book,
    /// What the readings say of it.
    test: TrustTest,
    /// The language.
    voice: Voice,
) -> impl IntoView {
    let said = voice.bent(&book.job.get_untracked(), &test);
    let detail = match test.one_of.len() {
        0 | 1 => view! { <Trusted book points=test.points voice /> }.into_any(),
        _ => view! { <Group book names=test.one_of voice /> }.into_any(),
    };
    view! { <Fold summary=doubted(said) detail /> }
}

fn doubted(said: Doubted) -> AnyView {
    view! { <span class="doubt-mark" aria-hidden="true">"?"</span> " " <b>{said.about}</b> " " {said.says} }
        .into_any()
}

/// Readings and references of which one is wrong: each by its name, with what can be done about it.
#[component]
fn Group(book: Book, names: Vec<String>, voice: Voice) -> impl IntoView {
    let job = book.job.get_untracked();
    let part = |name: &String| {
        let reading = job
            .readings
            .iter()
            .find(|reading| reading.id.as_str() == name);
        let acts = match reading {
            Some(reading) => view! { <Reading book reading=reading.id.clone() voice /> }.into_any(),
            None => view! { <Trusted book points=trust_row(name).0 voice /> }.into_any(),
        };
        view! { <div class="doubted-part"><p><b>{voice.row(&job, name)}</b></p> {acts}</div> }
    };
    let parts = names.iter().map(part).collect_view();
    view! { <p>{voice.measuring.one_of}</p> {parts} }
}

/// What can be done about a reading.
#[component]
fn Reading(book: Book, reading: ReadingId, voice: Voice) -> impl IntoView {
    let job = book.job.get_untracked();
    let known = job.readings.iter().find(|known| known.id == reading);
    let task = known.and_then(Task::of);
    let corrects = Some(reading.clone());
    let again = task.map(|task| {
        let choice = Choice { task, corrects };
        view! { <ReadAgain book choice voice /> }
    });
    view! {
        <div class="row">{again}</div>
        <SetAside book reading voice />
    }
}

/// What can be done about points that are trusted.
#[component]
fn Trusted(book: Book, points: Vec<PointId>, voice: Voice) -> impl IntoView {
    let job = book.job.get_untracked();
    let stop = |id: PointId| {
        let words = voice.measuring;
        let text = format!("{}: {}", words.stop_trusting, voice.point(&job, &id));
        let act = move |_| {
            drop(book.act(&Intention::TrustPoint {
                id: id.clone(),
                trusted: false,
            }))
        };
        view! { <button type="button" on:click=act>{text}</button> }
    };
    let buttons = points.into_iter().map(stop).collect_view();
    view! { <div class="row">{buttons}</div> }
}

/// Goes to Read with a task in hand.
#[component]
pub fn ReadAgain(
    /// The open book.
    book: Book,
    /// What is to be read.
    choice: Choice,
    /// The language.
    voice: Voice,
) -> impl IntoView {
    let go = move |_| {
        platform::keep("read-again", &choice.to_line());
        Route::Book(book.id.get_value(), Tab::Read).go();
    };
    view! { <button type="button" data-test="go-read" on:click=go>{voice.measuring.read_again}</button> }
}

/// Leaves a reading out, with a reason.
#[component]
fn SetAside(book: Book, reading: ReadingId, voice: Voice) -> impl IntoView {
    let Reasons(reasons) = expect_context();
    let begun = reasons.with_value(|reasons| reasons.get(&reading).cloned());
    let why = RwSignal::new(begun.unwrap_or_default());
    let of = reading.clone();
    let write = move |event: leptos::ev::Event| {
        let text = event_target_value(&event);
        reasons.update_value(|reasons| drop(reasons.insert(of.clone(), text.clone())));
        why.set(text);
    };
    let error = RwSignal::new(None::<String>);
    let act = move |_| {
        let intention = Intention::SetReadingAside {
            reading: reading.clone(),
            why: why.get_untracked(),
        };
        error.set(
            book.act(&intention)
                .err()
                .map(|refused| voice.refused(&refused)),
        );
    };
    view! {
        <div class="row aside">
            <input name="why" placeholder=voice.measuring.because_prompt aria-label=voice.measuring.because_prompt prop:value=why on:input=write data-unfinished=move || !why.read().is_empty() />
            <button type="button" data-test="set-aside" disabled=move || why.read().trim().is_empty() on:click=act>{voice.measuring.set_aside}</button>
        </div>
        <p class="error" role="alert">{move || error.get()}</p>
    }
}
