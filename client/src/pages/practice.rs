//! The practice bay: invented cars on this phone, and a button for another one.

pub mod truth;
pub mod tape;

use leptos::prelude::*;
use shared::adjust::sorting::sort_by;

use super::body::BodyPage;
use super::book::{Bay, BookPage};
use super::findings::FindingsPage;
use super::head::PageHead;
use super::more::MorePage;
use super::pull::PullPage;
use super::read::ReadPage;
use crate::components::safety::Safety;
use crate::state::person::person;
use crate::state::practice::{PracticeShelf, practice_car, provide_practice_car, seed_of};
use crate::state::route::{Route, Tab};
use crate::state::session::session;
use tape::PretendTape;
use truth::TruthPage;

/// A practice car: the ordinary parts of a book, a pretend tape on Read, and the truth.
#[component]
pub fn PracticeBook(
    /// Id of the book.
    id: String,
    /// Which part.
    tab: Tab,
) -> impl IntoView {
    let shelf = expect_context::<PracticeShelf>().open();
    provide_practice_car(seed_of(&id));
    let bay = Bay {
        shelf,
        tape: |reader, voice| {
            let tape = practice_car().map(|car| view! { <PretendTape reader car voice /> });
            tape.into_any()
        },
    };
    view! { <BookPage id tab part=part bay=Some(bay) /> }
}

/// A part of a practice car. It is neither signed nor judged by a sheet, whatever was made of its
/// address.
fn part(tab: Tab) -> AnyView {
    match tab {
        Tab::Read => view! { <ReadPage /> }.into_any(),
        Tab::Body => view! { <BodyPage /> }.into_any(),
        Tab::Findings => view! { <FindingsPage /> }.into_any(),
        Tab::Pull => view! { <PullPage /> }.into_any(),
        Tab::Truth => view! { <TruthPage /> }.into_any(),
        Tab::More | Tab::Sign | Tab::Sheet | Tab::Photos => view! { <MorePage /> }.into_any(),
    }
}

/// The page.
#[component]
pub fn PracticePage() -> impl IntoView {
    let (person, session) = (person(), session());
    let bay: PracticeShelf = expect_context();
    let shelf = bay.open();
    let error = RwSignal::new(None::<String>);
    let begin = move |_| {
        let by = session.me.get_untracked().map(|me| me.name);
        let by = by.unwrap_or_default();
        match bay.begin(&by, person.language.get_untracked()) {
            Ok(id) => Route::Book(id, Tab::Read).go(),
            Err(refused) => error.set(Some(person.voice().refused(&refused))),
        }
    };
    let cars = move || {
        let mut covers = shelf.covers.get();
        sort_by(&mut covers, |a, b| b.at.cmp(&a.at));
        let line = |cover: crate::state::held::Cover| {
            view! {
                <li>
                    <a class="car" data-test="practice-car" href=Route::Book(cover.id, Tab::Read).href()>
                        <b class="number">{cover.number}</b>
                        <span class="vehicle">{cover.vehicle}</span>
                    </a>
                </li>
            }
        };
        covers.into_iter().map(line).collect_view()
    };
    view! {
        <main class="page">
            <PageHead back=Route::Jobs title=person.word(|words| words.practice_bay) />
            <p>{person.practice_word(|words| words.why)}</p>
            <p class="practice-mark">{person.practice_word(|words| words.only_phone)}</p>
            <p role="alert" class="error">{move || error.get()}</p>
            <button type="button" class="primary" data-test="begin-practice" disabled=move || !shelf.ready.get() on:click=begin>
                {person.practice_word(|words| words.begin)}
            </button>
            <Show when=move || !shelf.covers.read().is_empty()>
                <section>
                    <h2>{person.practice_word(|words| words.cars)}</h2>
                    <ul class="cars">{cars}</ul>
                </section>
            </Show>
            <Safety />
        </main>
    }
}
