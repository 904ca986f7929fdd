//! What a part of the book says before there is anything to measure.

use leptos::prelude::*;

use crate::state::book::Book;
use crate::state::person::person;
use crate::state::route::{Route, Tab};

/// A way to the points, while there are none.
#[component]
pub fn NoPoints(
    /// The book.
    book: Book,
) -> impl IntoView {
    let person = person();
    view! {
        <Show when=move || book.job.read().points.is_empty()>
            <a class="button primary" data-test="add-points" href=Route::Book(book.id.get_value(), Tab::More).href()>
                {person.word(|words| words.add_point)}
            </a>
        </Show>
    }
}
