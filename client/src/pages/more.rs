//! What is set up once: points, stages, lasers and their set-ups, files.

pub mod lasers;
pub mod points;
pub mod setups;
pub mod stages;

use leptos::prelude::*;
use shared::book::{EditError, Intention};

use crate::components::safety::Safety;
use crate::platform;
use crate::state::book::book;
use crate::state::person::person;
use crate::state::practice::is_practice;
use crate::state::route::{Route, Tab};
use lasers::Lasers;
use points::Points;
use setups::Setups;
use stages::Stages;

/// The page.
#[component]
pub fn MorePage() -> impl IntoView {
    let (person, book) = (person(), book());
    let error = RwSignal::new(None::<String>);
    let act = Callback::new(move |intention: Intention| {
        let refused = book.act(&intention).err();
        let is_done = refused.is_none();
        error.set(refused.map(|refused| match refused {
            EditError::ReadFrom(_) => person.words().beam_is_read.to_owned(),
            refused => person.voice().refused(&refused),
        }));
        is_done
    });
    let save = move |_| {
        let number = book.job.read_untracked().card.number.clone();
        // A browser that refuses a download says so itself.
        let _ = platform::save_file(&format!("{number}.baybook"), &book.bytes());
    };
    let left_out = RwSignal::new(Vec::<String>::new());
    let save_job = move |_| {
        let number = book.job.read_untracked().card.number.clone();
        match book.job_file() {
            Some(Ok((text, findings))) => {
                let _ = platform::save_file(&format!("{number}.json"), text.as_bytes());
                let lines = findings
                    .iter()
                    .map(|finding| format!("{} {}", finding.subject, finding.values.join(" / ")));
                left_out.set(lines.collect());
            }
            Some(Err(too_much)) => error.set(Some(too_much.to_string())),
            None => {}
        }
    };
    // A practice car is neither signed nor judged by a sheet, and no file of it leaves this phone.
    let is_real = !is_practice(&book.id.get_value());
    view! {
        <div class="more">
            <p role="alert" class="error">{move || error.get()}</p>
            <Show when=move || is_real>
                <a class="button primary" data-test="go-sign" href=move || Route::Book(book.id.get_value(), Tab::Sign).href()>
                    {person.word(|words| words.sign_and_share)}
                </a>
                <a class="button" data-test="go-sheet" href=move || Route::Book(book.id.get_value(), Tab::Sheet).href()>
                    {person.word(|words| words.dimension_sheet)}
                </a>
                <a class="button" data-test="go-photos" href=move || Route::Book(book.id.get_value(), Tab::Photos).href()>
                    {person.word(|words| words.photos)} {move || format!(" ({})", book.photos.read().len())}
                </a>
            </Show>
            <Stages act />
            <Setups act />
            <Lasers act />
            <Points act />
            <section hidden=!is_real>
                <button type="button" on:click=save>{person.word(|words| words.export_book)}</button>
                <button type="button" data-test="export-job" on:click=save_job>{person.word(|words| words.export_job)}</button>
                <Show when=move || !left_out.read().is_empty()>
                    <p role="status">{person.word(|words| words.export_left)}</p>
                    <ul class="lines">{move || left_out.get().into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
                </Show>
            </section>
            <Safety />
        </div>
    }
}
