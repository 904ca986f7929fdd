//! The head of a page: the way back, its name, and how much of what was entered only this phone has.

use leptos::prelude::*;

use crate::components::badge::photos_text;
use crate::state::person::person;
use crate::state::route::Route;
use crate::state::shelf::shelf;

/// The number, as a way to the entries behind it.
#[component]
pub fn UnsharedBadge() -> impl IntoView {
    let (person, shelf) = (person(), shelf());
    let count = Memo::new(move |_| shelf.unshared_in_all());
    let photos = move || shelf.photos.read().len();
    let text = move || {
        let words = person.words();
        let entries = match count.get() {
            0 => None,
            count => Some(format!("{count} {}", words.unshared)),
        };
        let all = entries.into_iter().chain(photos_text(words, photos()));
        match all.collect::<Vec<_>>().join(" · ") {
            none if none.is_empty() => words.shared_all.to_owned(),
            text => text,
        }
    };
    view! {
        <a class="badge" class:waiting=move || { count.get() + photos() > 0 } data-test="unshared" aria-live="polite" href=Route::Waiting.href()>
            {text}
        </a>
    }
}

/// The head of a page that one comes back from.
#[component]
pub fn PageHead(
    /// Where back is.
    back: Route,
    /// The page's name.
    title: Signal<&'static str>,
) -> impl IntoView {
    let person = person();
    view! {
        <header class="bar">
            <a class="button" href=back.href()>{person.word(|words| words.back)}</a>
            <h1>{title}</h1>
            <UnsharedBadge />
        </header>
    }
}
