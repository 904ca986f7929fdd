//! What came into a book since its last sign-off, in plain words, when somebody asks.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::wire::ChangesSince;

use super::Brought;
use crate::measuring::log_words::{entry, more};
use crate::net::NetError;
use crate::platform;
use crate::state::person::person;
use crate::state::session::session;
use crate::text::desk::words;

/// A button that opens the list, and the list; asked for anew each time it is opened.
#[component]
pub fn Changes(
    /// Document id of the job.
    book: String,
) -> impl IntoView {
    let (person, session) = (person(), session());
    let desk = move || words(person.language.get());
    let open = RwSignal::new(false);
    let answer = RwSignal::new(None::<Result<ChangesSince, NetError>>);
    Effect::new(move || {
        // The server says lengths in the person's unit.
        let (is_open, figures, book) = (open.get(), person.figures(), book.clone());
        if is_open {
            spawn_local(async move {
                let brought = session.since(&book, figures).await;
                drop(answer.try_set(Some(brought)));
            });
        }
    });
    let show = move |since: ChangesSince| {
        let (desk, language) = (desk(), person.language.get().code());
        if since.entries.is_empty() {
            return view! { <p class="empty">{desk.changes_none}</p> }.into_any();
        }
        let rows = since.entries.iter().map(|one| {
            let at = platform::moment_of(&one.at, language);
            let who = format!("{at} · {}", one.by);
            view! { <li><span>{entry(desk, one)}<small>{who}</small></span></li> }
        });
        let rows = rows.collect_view();
        let more = more(desk, since.more).map(|more| view! { <p class="quiet">{more}</p> });
        view! { <ol class="lines" data-test="changes">{rows}</ol> {more} }.into_any()
    };
    view! {
        <button type="button" data-test="what-changed" aria-expanded=move || open.get().to_string() on:click=move |_| open.update(|open| *open = !*open)>
            {move || desk().what_changed}
        </button>
        <Show when=move || open.get()><Brought answer show /></Show>
    }
}
