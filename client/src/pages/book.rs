//! An open book: its card and badge on top, one of its parts, the bar of parts below.

use leptos::prelude::*;

use crate::components::badge::ShareBadge;
use crate::state::book::Book;
use crate::state::person::person;
use crate::state::route::{Route, Tab};
use crate::state::session::session;
use crate::state::shelf::shelf;

/// The book and one of its parts.
#[component]
pub fn BookPage(
    /// Document id.
    id: String,
    /// Which part.
    tab: Tab,
    /// The page of a part; each app has its own.
    part: fn(Tab) -> AnyView,
) -> impl IntoView {
    let (person, shelf) = (person(), shelf());
    let book = Book::open(id.clone(), shelf, session());
    provide_context(book);
    let words = move || person.words();
    // The rarer parts are reached from More.
    let back = match Tab::BAR.contains(&tab) {
        true => Route::Jobs,
        false => Route::Book(id.clone(), Tab::More),
    };
    let back_name = match back {
        Route::Jobs => person.word(|words| words.jobs),
        _ => person.word(|words| words.more),
    };
    let card = move || book.job.read().card.clone();
    let here_now = move || {
        let others = book.others();
        let texts = others
            .iter()
            .map(|other| format!("{} {} {}", other.name, words().here_now, other.place));
        texts.collect::<Vec<_>>().join(" · ")
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
                <ShareBadge href=Route::Waiting.href() badge=book.badge words=Signal::derive(words) />
            </header>
            <p class="others" aria-live="polite">{here_now}</p>
            <main>
                <Show when=move || book.here.get() fallback=move || view! { <p class="empty" role="status">{person.word(|words| words.not_here)}</p> }>
                    {move || part(tab)}
                </Show>
            </main>
            <nav class="tabs">
                {Tab::BAR
                    .map(|other| {
                        let name = move || match other {
                            Tab::Read => words().read,
                            Tab::Body => words().body_tab,
                            Tab::Findings => words().findings,
                            Tab::Pull => person.measuring().pull_tab,
                            Tab::More | Tab::Sign | Tab::Sheet | Tab::Photos => words().more,
                        };
                        let is_here = other == tab || (other == Tab::More && !Tab::BAR.contains(&tab));
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
