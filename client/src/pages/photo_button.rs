//! A button that takes a photo into the open book, and the field that it opens.

use leptos::prelude::*;

use crate::state::book::book;
use crate::state::camera::{Asked, camera};
use crate::state::person::person;
use crate::state::photos::About;
use crate::state::practice::is_practice;
use crate::state::shelf::shelf;

/// The app's one field for pictures; it stands beside the pages.
#[component]
pub fn PhotoField() -> impl IntoView {
    let (camera, shelf) = (camera(), shelf());
    view! {
        <input type="file" hidden name="photo" accept="image/*" data-test="take-photo" node_ref=camera.field on:change=move |_| camera.take(shelf) />
    }
}

/// The button.
#[component]
pub fn PhotoButton(
    /// What the photo is of, asked when the button is pressed.
    about: Callback<(), About>,
    /// Straight to the camera at the back, where the device has one?
    #[prop(default = true)]
    at_once: bool,
) -> impl IntoView {
    let (person, book, camera) = (person(), book(), camera());
    // How many there are of the same.
    let count = move || {
        let about = about.run(());
        let of = |photo: &shared::book::Photo| {
            let (named, own) = match &about.reading {
                Some(_) => (photo.reading == about.reading, true),
                None => (photo.point == about.point, about.point.is_some()),
            };
            own && named && photo.struck.is_none()
        };
        book.photos.read().iter().filter(|photo| of(photo)).count()
    };
    let label = move || {
        let words = person.words();
        let word = match at_once {
            true => words.photo,
            false => words.choose_file,
        };
        match (camera.busy.get(), count()) {
            (true, _) => words.saving.to_owned(),
            (false, 0) => word.to_owned(),
            (false, count) => format!("{word} ({count})"),
        }
    };
    let ask = move |_| {
        let asked = Asked {
            book: book.id.get_value(),
            by: book.me(),
            about: untrack(|| about.run(())),
        };
        camera.ask(asked, at_once);
    };
    // A practice car is nobody's, so nothing of it is ever sent.
    let is_real = !is_practice(&book.id.get_value());
    // The same button for as long as the page is drawn anew around it.
    is_real.then(|| view! { <button type="button" class="camera" on:click=ask>{label}</button> })
}
