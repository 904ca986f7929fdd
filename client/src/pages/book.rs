//! An open book: its card and badge on top, one of its parts, the bar of parts below.

use leptos::prelude::*;
use shared::finding::FindingCode;

use super::read::Reader;
use crate::components::badge::ShareBadge;
use crate::measuring::sentences::Voice;
use crate::state::book::Book;
use crate::state::person::person;
use crate::state::route::{Route, Tab, entitle_after};
use crate::state::session::session;
use crate::state::shelf::{Notice, OnDisk, Shelf, shelf};

/// What a practice car has that a real one has not. The page of a book says it to its parts: each book
/// anew, so that none is taken for the last one.
#[derive(Debug, Clone, Copy)]
pub struct Bay {
    /// A shelf of its own.
    pub shelf: Shelf,
    /// What stands on Read beside the keypad.
    pub tape: fn(Reader, Signal<Voice>) -> AnyView,
}

/// The book and one of its parts.
#[component]
pub fn BookPage(
    /// Document id.
    id: String,
    /// Which part.
    tab: Tab,
    /// The page of a part; each app has its own.
    part: fn(Tab) -> AnyView,
    /// For a practice car.
    #[prop(default = None)]
    bay: Option<Bay>,
) -> impl IntoView {
    let person = person();
    let shelf = bay.map_or_else(shelf, |bay| bay.shelf);
    let book = Book::open(id.clone(), shelf, session());
    provide_context(book);
    provide_context(bay);
    let is_practice = bay.is_some();
    let bar = if is_practice { Tab::PRACTICE } else { Tab::BAR };
    let words = move || person.words();
    // The rarer parts are reached from More.
    let back = match bar.contains(&tab) {
        true if is_practice => Route::Practice,
        true => Route::Jobs,
        false => Route::Book(id.clone(), Tab::More),
    };
    let back_name = match back {
        Route::Jobs => person.word(|words| words.jobs),
        Route::Practice => person.word(|words| words.practice_bay),
        _ => person.word(|words| words.more),
    };
    let mark = move || {
        let saved = match book.badge.read().on_disk {
            OnDisk::Failed => format!(" · {}", words().not_saved_here),
            OnDisk::Saved | OnDisk::Saving => String::new(),
        };
        format!("{}{saved}", words().practice_mark)
    };
    let asks = Route::Book(id.clone(), Tab::Findings).href();
    let says = move |code: FindingCode| {
        let findings = book.findings.read();
        findings.iter().any(|finding| finding.code == code)
    };
    let card = move || book.job.read().card.clone();
    entitle_after(move || drop(card()));
    let here_now = move || {
        let others = book.others();
        let texts = others
            .iter()
            .map(|other| format!("{} {} {}", other.name, words().here_now, other.place));
        texts.collect::<Vec<_>>().join(" · ")
    };
    // A book that the server does not have is not on its way.
    let on_its_way = move || {
        let is_coming = !shelf.notices.read().contains(&Notice::Unavailable);
        is_coming.then(|| person.words().not_here)
    };
    view! {
        <div class="book">
            <header class="bar">
                <a class="button" href=back.href() aria-label=back_name>"‹"</a>
                <h1>
                    <b class="number">{move || card().number}</b>
                    " "
                    <span class="vehicle">{move || card().vehicle}</span>
                </h1>
                <Show
                    when=move || is_practice
                    fallback=move || view! { <ShareBadge href=Route::Waiting.href() badge=book.badge words=Signal::derive(words) /> }
                >
                    <p class="badge practice-badge" role="status" data-test="practice-mark">{mark}</p>
                </Show>
            </header>
            <p class="others" aria-live="polite">{here_now}</p>
            <Show when=move || says(FindingCode::NewerSchema)>
                <p class="practice-mark" role="status" data-test="newer-book">{person.word(|words| words.newer_book)}</p>
            </Show>
            <Show when=move || { tab != Tab::Findings && says(FindingCode::Conflict) }>
                <a class="asks" data-test="conflict-here" href=asks.clone()>{person.word(|words| words.conflict_here)}</a>
            </Show>
            <main>
                <Show when=move || book.here.get() fallback=move || view! { <p class="empty" role="status">{on_its_way}</p> }>
                    {move || part(tab)}
                </Show>
            </main>
            <nav class="tabs">
                {bar
                    .map(|other| {
                        let name = move || match other {
                            Tab::Read => words().read,
                            Tab::Body => words().body_tab,
                            Tab::Findings => words().findings,
                            Tab::Pull => person.measuring().pull_tab,
                            Tab::Truth => words().truth_tab,
                            Tab::More | Tab::Sign | Tab::Sheet | Tab::Photos => words().more,
                        };
                        let is_here = other == tab || (other == Tab::More && !bar.contains(&tab));
                        let current = is_here.then_some("page");
                        view! {
                            <a href=Route::Book(id.clone(), other).href() aria-current=current data-test=format!("tab-{}", other.name())>
                                {name}
                            </a>
                        }
                    })}
            </nav>
        </div>
    }
}
