//! Takes a photo into the open book, and says what became of it.

use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::components::take_photo::TakePhoto;
use crate::state::book::book;
use crate::state::person::person;
use crate::state::photos::{About, NoPhoto};
use crate::state::practice::is_practice;
use crate::state::shelf::shelf;

/// The button, and a line below it when something has to be said.
#[component]
pub fn PhotoButton(
    /// What the photo is of, asked when it is taken.
    about: Callback<(), About>,
    /// Straight to the camera?
    #[prop(default = true)]
    camera: bool,
) -> impl IntoView {
    let (person, book, shelf) = (person(), book(), shelf());
    let said = RwSignal::new(None::<Result<(), NoPhoto>>);
    let is_busy = RwSignal::new(false);
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
        let word = match camera {
            true => words.photo,
            false => words.choose_file,
        };
        match (is_busy.get(), count()) {
            (true, _) => words.saving.to_owned(),
            (false, 0) => word.to_owned(),
            (false, count) => format!("{word} ({count})"),
        }
    };
    let take = move |file: web_sys::File| {
        is_busy.set(true);
        let (id, by, about) = (book.id.get_value(), book.me(), untrack(|| about.run(())));
        spawn_local(async move {
            let done = shelf.take_photo(&id, &by, &file, about).await;
            // The page may be gone by now.
            let _ = is_busy.try_set(false);
            let _ = said.try_set(Some(done));
        });
    };
    let error = move || match said.get()? {
        Ok(()) => None,
        Err(NoPhoto::Unreadable) => Some(person.words().photo_unreadable),
        Err(NoPhoto::NotSaved) => Some(person.words().photo_not_saved),
    };
    // A practice car is nobody's, so nothing of it is ever sent.
    let is_real = !is_practice(&book.id.get_value());
    view! {
        <Show when=move || is_real>
            <TakePhoto label=Signal::derive(label) camera taken=Callback::new(take) />
            <small role="alert" class="error">{error}</small>
        </Show>
    }
}
