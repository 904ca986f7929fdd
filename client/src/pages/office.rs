//! The owner's desk: sign-offs of all jobs, people and devices, links, the log.

pub mod changes;
pub mod history;
pub mod library;
pub mod log;
pub mod people;
pub mod person;
pub mod signed;
pub mod upkeep;

use std::collections::HashMap;

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::wire::LinkLine;

use super::head::UnsharedBadge;
use super::links::LinkList;
use crate::components::rows::Rows;
use crate::net::NetError;
use crate::pages::sign_in::error_text;
use crate::state::person::person;
use crate::state::route::{Desk, Route};
use crate::state::session::session;
use crate::state::shelf::{Shelf, shelf};

/// The desk and one of its parts.
#[component]
pub fn OfficePage(
    /// Which part.
    desk: Desk,
) -> impl IntoView {
    let person = person();
    let office = move || person.office();
    view! {
        <main class="page office">
            <header class="bar">
                <a class="button" href=Route::Jobs.href() aria-label=person.word(|words| words.jobs)>"‹"</a>
                <h1>{person.word(|words| words.owners_desk)}</h1>
                <UnsharedBadge />
            </header>
            <nav class="desk">
                {Desk::ALL
                    .map(|other| {
                        let name = move || match other {
                            Desk::Signed => office().desk_signed,
                            Desk::People => person.words().people,
                            Desk::Links => office().desk_links,
                            Desk::Library => person.library().title,
                            Desk::History => person.library().history,
                            Desk::Log => office().desk_log,
                        };
                        let current = (other == desk).then_some("page");
                        view! { <a href=Route::Office(other).href() aria-current=current data-test=format!("desk-{}", other.name())>{name}</a> }
                    })}
            </nav>
            {match desk {
                Desk::Signed => view! { <signed::SignedDesk /> <upkeep::Upkeep /> }.into_any(),
                Desk::People => view! { <people::PeopleDesk /> }.into_any(),
                Desk::Links => view! { <LinksDesk /> }.into_any(),
                Desk::Library => view! { <library::LibraryDesk /> }.into_any(),
                Desk::History => view! { <history::HistoryDesk /> }.into_any(),
                Desk::Log => view! { <log::LogDesk /> }.into_any(),
            }}
        </main>
    }
}

/// Job numbers by document id, as the list of cars knows them.
pub fn job_numbers(shelf: Shelf) -> HashMap<String, String> {
    let covers = shelf.covers.get();
    let pairs = covers.into_iter().map(|cover| (cover.id, cover.number));
    pairs.collect()
}

/// What a request brought, is bringing, or why it did not.
#[component]
pub fn Brought<T, F, V>(
    /// What it brought.
    answer: RwSignal<Option<Result<T, NetError>>>,
    /// How it is shown.
    show: F,
) -> impl IntoView
where
    T: Clone + Send + Sync + 'static,
    F: Fn(T) -> V + Send + 'static,
    V: IntoView + 'static,
{
    let person = person();
    move || match answer.get() {
        None => view! { <p role="status" class="empty">{person.words().loading}</p> }.into_any(),
        Some(Err(error)) => {
            view! { <p role="alert" class="error">{error_text(person.words(), &error)}</p> }
                .into_any()
        }
        Some(Ok(brought)) => show(brought).into_any(),
    }
}

/// A list that a request brought. It is drawn once, and follows what later requests bring.
#[component]
pub fn BroughtList<T>(
    /// What it brought.
    answer: RwSignal<Option<Result<Vec<T>, NetError>>>,
    /// How it is shown.
    show: Callback<Signal<Vec<T>>, AnyView>,
) -> impl IntoView
where
    T: Clone + Send + Sync + 'static,
{
    let standing = Memo::new(move |_| {
        let answer = answer.read();
        let answer = answer.as_ref()?.as_ref();
        Some(answer.map(drop).map_err(NetError::clone))
    });
    // What an answer brings counts as new; the rows see what of it is.
    let list = move |_: Option<&Vec<T>>| answer.get().and_then(Result::ok).unwrap_or_default();
    let list = Signal::from(Memo::new_with_compare(list, |_, _| true));
    view! { <Standing standing there=Callback::new(move |()| show.run(list)) /> }
}

/// How it stands with a request; the same code for whatever it brings.
#[component]
fn Standing(
    standing: Memo<Option<Result<(), NetError>>>,
    there: Callback<(), AnyView>,
) -> impl IntoView {
    let person = person();
    move || match standing.get() {
        None => view! { <p role="status" class="empty">{person.words().loading}</p> }.into_any(),
        Some(Err(error)) => {
            view! { <p role="alert" class="error">{error_text(person.words(), &error)}</p> }
                .into_any()
        }
        // What it reads while it is made does not make it anew.
        Some(Ok(())) => untrack(|| there.run(())),
    }
}

/// A row for each of a list, which keeps what is opened in it when the list is fetched again.
#[component]
pub fn Each<T>(
    /// The list.
    list: Signal<Vec<T>>,
    /// What one is known by; each once.
    name: fn(&T) -> String,
    /// Makes the row of one, which follows its values.
    row: Callback<Signal<T>, AnyView>,
) -> impl IntoView
where
    T: Clone + Send + Sync + 'static,
{
    let names = move || list.read().iter().map(name).collect::<Vec<_>>();
    let one = move |known: String| {
        let find = move || list.read().iter().find(|one| name(one) == known).cloned();
        let Some(first) = untrack(&find) else {
            return ().into_any();
        };
        // A row that is about to go still says what it said.
        let value = move |before: Option<&T>| {
            let now = find().or_else(|| before.cloned());
            now.unwrap_or_else(|| first.clone())
        };
        let value = Memo::new_with_compare(value, |_, _| true);
        untrack(|| row.run(value.into()))
    };
    view! { <Rows names=Signal::derive(names) row=Callback::new(one) /> }
}

/// All links of the shop.
#[component]
fn LinksDesk() -> impl IntoView {
    let (person, session, shelf) = (person(), session(), shelf());
    let answer = RwSignal::new(None::<Result<Vec<LinkLine>, NetError>>);
    let fetch = Callback::new(move |()| {
        spawn_local(async move { drop(answer.try_set(Some(session.links(None).await))) });
    });
    fetch.run(());
    let names = Callback::new(move |book: String| {
        let covers = shelf.covers.read();
        let cover = covers.iter().find(|cover| cover.id == book);
        Some(cover.map(|cover| cover.number.clone()).unwrap_or_default())
    });
    let show = move |list| {
        let none = person.office_word(|office| office.links_none_at_all);
        view! { <LinkList list none names fetch /> }.into_any()
    };
    view! { <BroughtList answer show=Callback::new(show) /> }
}
