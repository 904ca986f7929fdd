//! The owner's desk: sign-offs of all jobs, people and devices, links, the log.

pub mod history;
pub mod library;
pub mod log;
pub mod people;
pub mod person;
pub mod signed;

use std::collections::HashMap;

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::wire::LinkLine;

use super::head::UnsharedBadge;
use super::links::LinkList;
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
                Desk::Signed => view! { <signed::SignedDesk /> }.into_any(),
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
        let numbers = job_numbers(shelf);
        Some(numbers.get(&book).cloned().unwrap_or_default())
    });
    let show = move |list: Vec<LinkLine>| {
        let none = person.office().links_none_at_all;
        view! { <LinkList list none names fetch /> }
    };
    view! { <Brought answer show /> }
}
