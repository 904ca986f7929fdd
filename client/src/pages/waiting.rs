//! What only this phone has: entries on their way, what the server refused, and files of all of it
//! that need no server.

use leptos::prelude::*;
use leptos::task::spawn_local;

use super::head::PageHead;
use super::notices::{reason_text, save_unshared};
use crate::components::badge::photos_text;
use crate::measuring::sentences::Voice;
use crate::platform;
use crate::state::held::redo::Left;
use crate::state::person::person;
use crate::state::route::{Route, Tab};
use crate::state::shelf::{DAMAGED, Kept, WaitingBook, shelf};

/// The page.
#[component]
pub fn WaitingPage() -> impl IntoView {
    let (person, shelf) = (person(), shelf());
    let words = move || person.words();
    let books = RwSignal::new(None::<Vec<WaitingBook>>);
    Effect::new(move || {
        shelf.pulse.track();
        if shelf.ready.get() {
            spawn_local(async move {
                let now = shelf.waiting().await;
                // The page may be gone by then.
                let is_news = |known: &Option<Vec<WaitingBook>>| known.as_ref() != Some(&now);
                if books.try_with_untracked(is_news) == Some(true) {
                    books.set(Some(now));
                }
            });
        }
    });
    let why = move || match books.read().as_deref() {
        None => words().loading,
        Some([]) if shelf.photos.read().is_empty() => words().waiting_none,
        Some([]) => words().waiting_some,
        Some(books) if books.iter().all(|book| book.unshared == 0) => words().waiting_only_kept,
        Some(_) => words().waiting_some,
    };
    let has_some = move || {
        books.read().as_ref().is_some_and(|books| !books.is_empty())
            || !shelf.photos.read().is_empty()
    };
    view! {
        <main class="page">
            <PageHead back=Route::Jobs title=person.word(|words| words.waiting_title) />
            <p data-test="waiting-why">{why}</p>
            <p>{move || photos_text(words(), shelf.photos.read().len())}</p>
            <Show when=has_some>
                <button type="button" data-test="save-unshared" on:click=move |_| save_unshared(shelf)>{person.word(|words| words.save_unshared)}</button>
            </Show>
            {move || books.get().into_iter().flatten().map(|book| view! { <Book book /> }).collect_view()}
        </main>
    }
}

/// One book: what of it waits, and what is only kept.
#[component]
fn Book(book: WaitingBook) -> impl IntoView {
    let (person, shelf) = (person(), shelf());
    let voice = move || person.voice();
    let WaitingBook {
        id,
        job,
        unshared,
        meant,
        kept,
    } = book;
    let entries = {
        let job = job.clone();
        let line = move |voice: Voice, meant: &crate::state::held::meant::Meant| {
            let what = voice.meant(&job, &meant.intention);
            view! { <li><span>{what}</span><small>{meant.stamp.by.clone()} " " {platform::moment_of(&meant.stamp.at, voice.figures.language.code())}</small></li> }
        };
        move || {
            let voice = voice();
            meant.iter().map(|meant| line(voice, meant)).collect_view()
        }
    };
    let stories = {
        let job = job.clone();
        move || {
            let voice = voice();
            let story = |kept: &Kept| view! { <Story kept=kept.clone() job=job.clone() voice /> };
            kept.iter().map(story).collect_view()
        }
    };
    let (number, href) = (
        job.card.number.clone(),
        Route::Book(id.clone(), Tab::Read).href(),
    );
    let save = move |_| {
        let bytes = shelf
            .with_book(&id, |held| held.doc.save())
            .unwrap_or_default();
        // A browser that refuses a download says so itself.
        let _ = platform::save_file(&format!("{number}.baybook"), &bytes);
    };
    view! {
        <section data-test="waiting-book">
            <h2>
                <a href=href>{job.card.number.clone()} " " {job.card.vehicle.clone()}</a>
            </h2>
            <Show when=move || { unshared > 0 }>
                <p class="badge waiting">{unshared} " " {person.word(|words| words.unshared)}</p>
            </Show>
            <ul class="lines waiting">{entries}</ul>
            {stories}
            <button type="button" data-test="save-book" on:click=save>{person.word(|words| words.export_book)}</button>
        </section>
    }
}

/// What became of a refused replica, or of entries whose bytes were lost.
#[component]
fn Story(kept: Kept, job: std::sync::Arc<shared::job::Job>, voice: Voice) -> impl IntoView {
    let words = voice.words;
    let story = kept.story;
    let title = match story.reason.as_str() {
        DAMAGED => words.waiting_damaged.to_owned(),
        reason => format!("{}: {}", words.waiting_kept, reason_text(words, reason)),
    };
    let again = words
        .waiting_again
        .replacen("{}", &story.redone.to_string(), 1);
    let line = |left: &Left| {
        let what = voice.meant(&job, &left.intention);
        view! { <li><span>{what}</span><small>{left.stamp.by.clone()} " " {platform::moment_of(&left.stamp.at, voice.figures.language.code())} " · " {left.why.clone()}</small></li> }
    };
    let lines = story.left.iter().map(line).collect_view();
    let left = (!story.left.is_empty()).then(|| view! { <p>{words.waiting_left}</p> });
    view! {
        <div class="kept" data-test="kept">
            <p><b>{title}</b> " " <small>{platform::moment_of(&story.at, voice.figures.language.code())}</small></p>
            <p>{again}</p>
            {left}
            <ul class="lines waiting">{lines}</ul>
        </div>
    }
}
