//! The photos of a job: by stage and point, one large, hidden with a reason; taken or chosen here.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::book::{Intention, Photo};
use shared::ids::{PhotoId, PointId, StageId};
use shared::speech::fill;

use super::photo_button::PhotoButton;
use crate::components::field::Field;
use crate::components::photo_grid::{PhotoGrid, Says, button_of, caption};
use crate::components::photo_large::PhotoLarge;
use crate::components::pick::PickField;
use crate::platform;
use crate::state::album::{Album, Shown, Whose};
use crate::state::book::book;
use crate::state::person::person;
use crate::state::photos::About;
use crate::state::session::session;
use crate::state::shelf::shelf;
use crate::text::photos::Photos;

/// The page.
#[component]
pub fn PhotosPage() -> impl IntoView {
    let (person, book, shelf) = (person(), book(), shelf());
    let album = Album::open(Whose::Book(book, shelf, session()));
    let point = RwSignal::new(String::new());
    let text = RwSignal::new(String::new());
    let about = Callback::new(move |()| About {
        stage: book.stage.get(),
        point: PointId::parse(&point.get()).ok(),
        reading: None,
        caption: text.get().trim().to_owned(),
    });
    let points = move || {
        let (voice, job) = (person.voice(), book.job.get());
        let whole_car = (String::new(), person.photos().whole_car.to_owned());
        let option = |id: &PointId| (id.to_string(), voice.point(&job, id));
        let points = job.points.keys().map(option);
        [whole_car].into_iter().chain(points).collect()
    };
    let waiting = move || {
        let unsent = shelf.photos.get();
        let id = book.id.get_value();
        let refused = unsent
            .iter()
            .filter(|one| one.book == id && one.refused.is_some())
            .count();
        (refused > 0).then(|| fill(person.photos().refused, &[&refused.to_string()]))
    };
    view! {
        <section class="photos">
            <h2>{person.word(|words| words.photos)}</h2>
            <p class="quiet">{person.photos_word(|words| words.why)}</p>
            <PickField
                name="photo-point"
                label=person.photos_word(|words| words.of_point)
                options=Signal::derive(points)
                chosen=point
                choose=move |id| point.set(id)
            />
            <Field name="caption" label=person.photos_word(|words| words.caption) value=text />
            <div class="row">
                <PhotoButton about />
                <PhotoButton about at_once=false />
            </div>
            <p role="alert" class="error">{waiting}</p>
            <AlbumPart album can_hide=true />
        </section>
    }
}

/// The photos alone, for whoever may see them.
#[component]
pub fn AlbumPart(
    /// The photos.
    album: Album,
    /// May this person take one, and hide one?
    can_hide: bool,
) -> impl IntoView {
    let person = person();
    let opened = RwSignal::new(None::<Photo>);
    let seen = Callback::new(move |digest: String| {
        album.shown.with(|shown| {
            Some(match shown.get(&digest)? {
                Shown::At(address) => Some(address.clone()),
                Shown::Nowhere => None,
            })
        })
    });
    let is_empty = Memo::new(move |_| album.whose.photos().is_empty());
    let photos = Signal::derive(move || album.whose.photos());
    let job = Signal::derive(move || album.whose.job());
    // Made anew for another language only; photos that come find their places in it.
    let grid = move || {
        let words = person.photos();
        if is_empty.get() {
            let none = if can_hide {
                words.none
            } else {
                words.none_there
            };
            return view! { <p class="empty">{none}</p> }.into_any();
        }
        let says = Says {
            no_stage: words.no_stage,
            hidden: words.hidden,
            nowhere: words.nowhere,
            looking: person.words().loading,
            open: words.open,
        };
        view! { <PhotoGrid photos job seen open=Callback::new(move |photo| opened.set(Some(photo))) figures=person.figures() says /> }.into_any()
    };
    view! {
        {grid}
        {move || opened.get().map(|photo| view! { <Large album photo opened can_hide /> })}
    }
}

/// One photo large.
#[component]
fn Large(
    album: Album,
    photo: Photo,
    opened: RwSignal<Option<Photo>>,
    can_hide: bool,
) -> impl IntoView {
    let person = person();
    let words = person.photos();
    let digest = StoredValue::new(photo.digest.clone());
    // Somebody else may hide it while it is open.
    let photo = Memo::new(move |before: Option<&Photo>| {
        let before = before.unwrap_or(&photo);
        let photos = album.whose.photos();
        let now = photos.iter().find(|one| one.id == before.id);
        now.unwrap_or(before).clone()
    });
    let address = Memo::new(move |_| match album.shown.read().get(&digest.get_value()) {
        Some(Shown::At(address)) => Some(address.clone()),
        _ => None,
    });
    // Who took it is said below.
    let bare = person.words().photo;
    let caption = move || caption(&album.whose.job(), person.figures(), &photo.read(), bare);
    let taken = move || {
        let (photo, job) = (photo.read(), album.whose.job());
        let of = |id: &StageId| job.stages.iter().find(|stage| stage.id == *id);
        let stage = photo.stage.as_ref().and_then(of);
        let at = platform::moment_of(&photo.at, person.language.get().code());
        let taken = [
            stage.map(|stage| stage.label.clone()),
            Some(photo.by.clone()),
            Some(at),
        ];
        let taken = taken.into_iter().flatten().filter(|part| !part.is_empty());
        taken.collect::<Vec<_>>().join(" · ")
    };
    let hidden = move || {
        let photo = photo.read();
        let strike = photo.struck.as_ref()?;
        Some(fill(words.hidden_by, &[&strike.by, &strike.why]))
    };
    let may_hide = Memo::new(move |_| can_hide && photo.read().struck.is_none());
    let button = StoredValue::new(button_of(&photo.read_untracked()));
    let close = Callback::new(move |()| {
        let button = button.get_value();
        opened.set(None);
        // Where the keyboard was; a photo that is hidden now has another button.
        spawn_local(async move {
            platform::painted().await;
            platform::focus(&button);
        });
    });
    let save = move |_| {
        let digest = digest.get_value();
        spawn_local(async move {
            if let Ok(bytes) = album.whose.file(&digest).await {
                // A browser that refuses a download says so itself.
                let _ = platform::save_file(&format!("photo-{digest:.8}.jpg"), &bytes);
            }
        });
    };
    view! {
        <PhotoLarge
            address
            caption=Signal::derive(caption)
            taken=Signal::derive(taken)
            hidden=Signal::derive(hidden)
            nowhere=words.nowhere
            close_word=person.words().close
            close
        >
            <button type="button" data-test="photo-save" on:click=save>{words.save}</button>
            <Show when=move || may_hide.get()><Hide id=photo.read_untracked().id.clone() words close /></Show>
        </PhotoLarge>
    }
}

/// Hides a photo, with a reason.
#[component]
fn Hide(id: PhotoId, words: &'static Photos, close: Callback<()>) -> impl IntoView {
    let book = book();
    let why = RwSignal::new(String::new());
    let hide = move |_| {
        let intention = Intention::StrikePhoto {
            photo: id.clone(),
            why: why.get_untracked().trim().to_owned(),
        };
        if book.act(&intention).is_ok() {
            close.run(());
        }
    };
    view! {
        <Field name="why" label=Signal::derive(move || words.hide_why) value=why />
        <button type="button" data-test="photo-hide" disabled=move || why.read().trim().is_empty() on:click=hide>{words.hide}</button>
    }
}
