//! The dimension library: sheets and their revisions, in and out of files, learned from cars.

pub mod learn;
pub mod take;
pub mod type_in;
pub mod shared;

use ::shared::book::Intention;
use ::shared::library::{Sheet, SheetLine, starting, write, write_table};
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::{BroughtList, Each};
use crate::measuring::sheets::line;
use crate::net::NetError;
use crate::pages::new_job::first_steps;
use crate::pages::sign_in::error_text;
use crate::platform;
use crate::state::person::person;
use crate::state::route::{Route, Tab};
use crate::state::session::{Session, session};
use crate::state::shelf::{Shelf, shelf};
use crate::text::Words;
use learn::LearnSheet;
use shared::{Publish, SharedSheets};
use take::TakeSheet;
use type_in::TypeSheet;

/// The part.
#[component]
pub fn LibraryDesk() -> impl IntoView {
    let (person, session) = (person(), session());
    let answer = RwSignal::new(None::<Result<Vec<SheetLine>, NetError>>);
    let fetch = Callback::new(move |()| {
        spawn_local(async move { drop(answer.try_set(Some(session.sheets().await))) });
    });
    fetch.run(());
    // Where a sheet goes was chosen among those that were there, also when none comes the next time.
    let known = Memo::new(move |before: Option<&Vec<SheetLine>>| match answer.get() {
        Some(Ok(lines)) => lines,
        _ => before.cloned().unwrap_or_default(),
    });
    let known = Signal::from(known);
    let show = move |list: Signal<Vec<SheetLine>>| {
        let one = |line| view! { <One line /> }.into_any();
        view! {
            <Show when=move || list.read().is_empty()><p class="empty">{person.library_word(|library| library.none)}</p></Show>
            <ul class="people" data-test="sheets">
                <Each list name=|line: &SheetLine| line.id.clone() row=Callback::new(one) />
            </ul>
        }
        .into_any()
    };
    view! {
        <section>
            <h2>{person.library_word(|library| library.title)}</h2>
            <p class="quiet">{person.library_word(|library| library.why)}</p>
            <BroughtList answer show=Callback::new(show) />
        </section>
        <SharedSheets fetch />
        <TakeSheet known fetch />
        <TypeSheet known fetch />
        <LearnSheet known fetch />
    }
}

/// A sheet, opened for its revisions.
#[component]
fn One(line: Signal<SheetLine>) -> impl IntoView {
    let (person, session) = (person(), session());
    let open = RwSignal::new(false);
    let answer = RwSignal::new(None::<Result<Vec<SheetLine>, NetError>>);
    let (name, id) = (
        move || line.read().summary.name.clone(),
        line.read_untracked().id.clone(),
    );
    let said = move || self::line(person.library(), &line.read());
    let latest = Memo::new(move |_| (line.read().revision, line.read().published));
    let fetch = Callback::new(move |()| {
        let id = id.clone();
        spawn_local(async move { drop(answer.try_set(Some(session.revisions(&id).await))) });
    });
    Effect::new(move || {
        // Another revision came; those that are listed stay open.
        latest.track();
        if answer.with_untracked(Option::is_some) {
            fetch.run(());
        }
    });
    let turn = move |_| {
        open.update(|open| *open = !*open);
        if answer.get_untracked().is_none() {
            fetch.run(());
        }
    };
    // Whether it is published is what a question in its row is about.
    let name_of = |line: &SheetLine| {
        let is_published = line.published == Some(line.revision);
        format!("{} {is_published}", line.revision)
    };
    let show = move |list| {
        let one = move |line: Signal<SheetLine>| {
            view! { <Revision line=line.get_untracked() fetch /> }.into_any()
        };
        view! { <ul class="lines wraps" data-test="revisions"><Each list name=name_of row=Callback::new(one) /></ul> }
            .into_any()
    };
    view! {
        <li class="person">
            <button type="button" class="head" aria-expanded=move || open.get().to_string() on:click=turn>
                <b>{name}</b>
                <small>{said}</small>
            </button>
            <Show when=move || open.get()>
                <h3>{person.library_word(|library| library.revisions)}</h3>
                <BroughtList answer show=Callback::new(show) />
            </Show>
        </li>
    }
}

#[component]
fn Revision(line: SheetLine, fetch: Callback<()>) -> impl IntoView {
    let (person, session, shelf) = (person(), session(), shelf());
    let (id, revision) = (StoredValue::new(line.id.clone()), line.revision);
    let failed = RwSignal::new(None::<NetError>);
    let save = move |as_table: bool| {
        spawn_local(async move {
            match session.sheet(&id.get_value(), revision).await {
                Ok(sheet) => {
                    let (ending, text) = match as_table {
                        true => ("csv", write_table(&sheet)),
                        false => ("json", write(&sheet)),
                    };
                    let name = format!("{} {revision}.{ending}", sheet.name);
                    // A browser that refuses a download says so itself.
                    let _ = platform::save_file(&name, text.as_bytes());
                }
                Err(refused) => drop(failed.try_set(Some(refused))),
            }
        });
    };
    let begin = move |_| {
        spawn_local(async move {
            match session.sheet(&id.get_value(), revision).await {
                Ok(sheet) => begin_with(shelf, &sheet, session, person.words()).await,
                Err(refused) => drop(failed.try_set(Some(refused))),
            }
        });
    };
    let said = self::line(person.library(), &line);
    let publish = line.clone();
    let at = move || platform::moment_of(&line.made_at, person.language.get().code());
    view! {
        <li>
            <span>{said} " " <small>{at}</small></span>
            <button type="button" data-test="as-table" on:click=move |_| save(true)>{person.library_word(|library| library.as_table)}</button>
            <button type="button" on:click=move |_| save(false)>{person.library_word(|library| library.as_file)}</button>
            <button type="button" data-test="begin-job" on:click=begin>{person.library_word(|library| library.begin_job)}</button>
            <Publish line=publish done=fetch />
            <p role="alert" class="error">{move || failed.get().map(|error| error_text(person.words(), &error))}</p>
        </li>
    }
}

/// A new job on the body of a sheet: its points and members, judged by it.
async fn begin_with(shelf: Shelf, sheet: &Sheet, session: Session, words: &'static Words) {
    let by = session.me.get_untracked().map(|me| me.name);
    let intentions = first_steps(words).into_iter().chain(starting(sheet));
    let intentions: Vec<Intention> = intentions.collect();
    // What a checked sheet holds can be written; a full disk is told by a notice.
    if let Ok(id) = shelf.begin(&by.unwrap_or_default(), &intentions) {
        shelf.settled().await;
        Route::Book(id, Tab::More).go();
    }
}
