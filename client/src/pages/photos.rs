//! The photos of a job: by stage and point, one large, hidden with a reason; taken or chosen here.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::book::{Intention, Photo};
use shared::ids::PointId;
use shared::speech::fill;

use super::photo_button::PhotoButton;
use crate::components::field::Field;
use crate::components::photo_grid::{PhotoGrid, Says, caption};
use crate::components::photo_large::PhotoLarge;
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
        let option = |id: &PointId| {
            let (id, name) = (id.to_string(), voice.point(&job, id));
            let is_chosen = *point.read() == id;
            view! { <option value=id prop:selected=is_chosen>{name}</option> }
        };
        job.points.keys().map(option).collect_view()
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
            <label class="field">
                <span>{person.photos_word(|words| words.of_point)}</span>
                <select name="photo-point" on:change=move |event| point.set(event_target_value(&event))>
                    <option value="">{person.photos_word(|words| words.whole_car)}</option>
                    {points}
                </select>
            </label>
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
    let job = album.whose.job();
    let digest = photo.digest.clone();
    let address = Memo::new(move |_| match album.shown.read().get(&digest) {
        Some(Shown::At(address)) => Some(address.clone()),
        _ => None,
    });
    let stage = photo
        .stage
        .as_ref()
        .and_then(|id| job.stages.iter().find(|stage| stage.id == *id));
    let at = platform::moment_of(&photo.at, person.language.get_untracked().code());
    let taken = [
        stage.map(|stage| stage.label.clone()),
        Some(photo.by.clone()),
        Some(at),
    ];
    let taken: Vec<String> = taken
        .into_iter()
        .flatten()
        .filter(|part| !part.is_empty())
        .collect();
    let struck = photo.struck.as_ref();
    let hidden = struck.map(|strike| fill(words.hidden_by, &[&strike.by, &strike.why]));
    let lines = [Some(taken.join(" · ")), hidden];
    let may_hide = can_hide && photo.struck.is_none();
    let close = Callback::new(move |()| opened.set(None));
    let save = {
        let digest = photo.digest.clone();
        move |_| {
            let digest = digest.clone();
            spawn_local(async move {
                if let Ok(bytes) = album.whose.file(&digest).await {
                    // A browser that refuses a download says so itself.
                    let _ = platform::save_file(&format!("photo-{:.8}.jpg", digest), &bytes);
                }
            });
        }
    };
    view! {
        <PhotoLarge
            address
            caption=caption(&job, person.figures(), &photo)
            lines=lines.into_iter().flatten().collect()
            nowhere=words.nowhere
            close_word=person.words().close
            close
        >
            <button type="button" data-test="photo-save" on:click=save>{words.save}</button>
            {may_hide.then(|| view! { <Hide photo words close /> })}
        </PhotoLarge>
    }
}

/// Hides a photo, with a reason.
#[component]
fn Hide(photo: Photo, words: &'static Photos, close: Callback<()>) -> impl IntoView {
    let book = book();
    let why = RwSignal::new(String::new());
    let hide = move |_| {
        let intention = Intention::StrikePhoto {
            photo: photo.id.clone(),
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
