//! Readings and references that do not fit, and what can be done about each.

use std::collections::HashMap;

use leptos::prelude::*;
use shared::book::Intention;
use shared::ids::{PointId, ReadingId};
use shared::result::{Suspect, TrustTest};

use super::Fold;
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
    let job = book.job.get_untracked();
    let words = voice.measuring;
    let own = [suspect.reading.to_string()];
    // Where the readings cannot tell which of them is wrong, none of them is named alone.
    let is_group = suspect.one_of.len() > 1;
    let names = if is_group {
        &suspect.one_of[..]
    } else {
        &own[..]
    };
    let texts: Vec<String> = names.iter().map(|name| voice.row(&job, name)).collect();
    let says = if is_group {
        words.one_wrong
    } else {
        words.suspect_says
    };
    let slip = suspect
        .slip_code
        .as_deref()
        .filter(|_| !is_group)
        .map(|code| format!(" · {} {}", words.slip, voice.slip(code)));
    let summary = view! {
        <span class="doubt-mark" aria-hidden="true">"?"</span>
        " "
        <b>{texts.join(&format!(" {} ", words.or))}</b>
        " "
        {says}
        {format!(" · {} {}", words.error_about, voice.figures.size(suspect.error_mm))}
        {slip}
    };
    let part = |(name, text): (&String, &String)| {
        let reading = job
            .readings
            .iter()
            .find(|reading| reading.id.as_str() == name);
        let act = reading.map(|reading| {
            let corrects = Some(reading.id.clone());
            let choice = Task::of(reading).map(|task| Choice { task, corrects });
            let again = choice.map(|choice| view! { <ReadAgain book choice voice /> });
            view! {
                <div class="row">{again}</div>
                <SetAside book reading=reading.id.clone() voice />
            }
        });
        let which = is_group.then(|| view! { <p><b>{text.clone()}</b></p> });
        view! { <div class="doubted-part">{which} {act}</div> }
    };
    let parts = names.iter().zip(&texts).map(part).collect_view();
    let group = is_group.then(|| view! { <p>{words.one_of}</p> });
    view! { <Fold summary=summary.into_any() detail=view! { {group} {parts} }.into_any() /> }
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
    let job = book.job.get_untracked();
    let words = voice.measuring;
    let labels: Vec<String> = test.points.iter().map(|id| voice.point(&job, id)).collect();
    let size = test
        .error_mm
        .map(|error| voice.figures.size(error))
        .unwrap_or_default();
    let summary = view! {
        <span class="doubt-mark" aria-hidden="true">"?"</span>
        " "
        <b>{labels.join(" / ")}</b>
        {format!(" {} {size} ({})", words.trust_says, voice.axis(&test.axis))}
    };
    let rows = test
        .one_of
        .iter()
        .map(|name| view! { <li>{voice.row(&job, name)}</li> })
        .collect_view();
    let group = (test.one_of.len() > 1)
        .then(|| view! { <p>{words.one_of}</p> <ul class="lines">{rows}</ul> });
    let stop = |id: &PointId| {
        let (text, id) = (
            format!("{}: {}", words.stop_trusting, voice.point(&job, id)),
            id.clone(),
        );
        let act = move |_| {
            drop(book.act(&Intention::TrustPoint {
                id: id.clone(),
                trusted: false,
            }))
        };
        view! { <button type="button" on:click=act>{text}</button> }
    };
    let buttons = test.points.iter().map(stop).collect_view();
    view! { <Fold summary=summary.into_any() detail=view! { {group} <div class="row">{buttons}</div> }.into_any() /> }
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
                .map(|refused| refused.to_string()),
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
