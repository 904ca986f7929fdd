//! A job file that becomes a new book.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::book::Intention;

use super::head::PageHead;
use crate::components::refusals::Refusals;
use crate::components::safety::Safety;
use crate::platform;
use crate::state::person::person;
use crate::state::route::{Route, Tab};
use crate::state::session::session;
use crate::state::shelf::{Shelf, shelf};
use crate::text::Speaks;

/// The page.
#[component]
pub fn ImportPage() -> impl IntoView {
    let (person, shelf, session) = (person(), shelf(), session());
    let refused = RwSignal::new(Vec::<String>::new());
    let take = move |event: leptos::ev::Event| {
        let field: web_sys::HtmlInputElement = event_target(&event);
        let by = session
            .me
            .get_untracked()
            .map(|me| me.name)
            .unwrap_or_default();
        spawn_local(async move {
            let Some(bytes) = platform::chosen_file(&field).await else {
                return;
            };
            match begin(shelf, &by, &bytes) {
                Ok(id) => {
                    shelf.settled().await;
                    Route::Book(id, Tab::Findings).go();
                }
                Err(lines) => refused.set(lines),
            }
            // The same file may be chosen again once it is mended.
            field.set_value("");
        });
    };
    view! {
        <main class="page">
            <PageHead back=Route::NewJob title=person.word(|words| words.import_job) />
            <p>{move || person.language.get().new_job().import_why}</p>
            <Show when=move || shelf.ready.get() fallback=move || view! { <p role="status">{person.word(|words| words.loading)}</p> }>
                <label class="button primary file">
                    <input type="file" class="sr" name="job-file" accept=".json,application/json" on:change=take />
                    {person.word(|words| words.choose_file)}
                </label>
            </Show>
            <Refusals heading=Signal::derive(move || person.language.get().new_job().import_refused) lines=refused />
            <Safety />
        </main>
    }
}

/// Makes the book; answers with its id, or with what is wrong with the file.
fn begin(shelf: Shelf, by: &str, bytes: &[u8]) -> Result<String, Vec<String>> {
    let job = shared::jobfile::parse_bytes(bytes)
        .map_err(|refusals| refusals.iter().map(ToString::to_string).collect::<Vec<_>>())?;
    let whole = Intention::TakeOverJob { job: Box::new(job) };
    shelf
        .begin(by, &[whole])
        .map_err(|error| vec![error.to_string()])
}
