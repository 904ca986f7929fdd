//! The two apps: the phone's in the bay, and the office's for the desk and for adjusters.
//!
//! The office's pages need the server or are rare (and the practice bay is for quiet days); they are a
//! bundle of their own, so that nobody in the bay waits for them. Each app knows its own addresses; another one's makes the page start anew,
//! and the boot script takes the right bundle.

use leptos::prelude::*;

use crate::net::Api;
use crate::pages::body::BodyPage;
use crate::pages::book::BookPage;
use crate::pages::devices::DevicesPage;
use crate::pages::findings::FindingsPage;
use crate::pages::follow::FollowPage;
use crate::pages::import::ImportPage;
use crate::pages::jobs::JobsPage;
use crate::pages::more::MorePage;
use crate::pages::new_job::NewJobPage;
use crate::pages::new_version::NewVersion;
use crate::pages::notices::NoticeBar;
use crate::pages::office::OfficePage;
use crate::pages::photo_button::PhotoField;
use crate::pages::photos::PhotosPage;
use crate::pages::practice::{PracticeBook, PracticePage};
use crate::pages::pull::PullPage;
use crate::pages::read::ReadPage;
use crate::pages::settings::SettingsPage;
use crate::pages::sheet::SheetPage;
use crate::pages::sign::SignPage;
use crate::pages::sign_in::{JoinPage, ResetPage, SetUpPage, SignInPage};
use crate::pages::waiting::WaitingPage;
use crate::platform;
use crate::state::camera::Camera;
use crate::state::person::{Person, person};
use crate::state::photos::keep_sending;
use crate::state::practice::{PracticeShelf, is_practice};
use crate::state::route::{Bundle, Route, Tab, entitle_after, follow_address};
use crate::state::session::{Session, session};
use crate::state::sharing::keep_sharing;
use crate::state::shelf::{Errand, Shelf};

/// The phone's app.
#[component]
pub fn Phone() -> impl IntoView {
    keep_the_books();
    let (route, session) = (follow_address(), session());
    keep_title(route);
    view! {
        <NoticeBar />
        <PhotoField />
        {move || match route.get() {
            to if to.bundle() != Bundle::Phone => view! { <Elsewhere to /> }.into_any(),
            Route::SignIn => view! { <SignInPage /> }.into_any(),
            // Nobody has to be signed in to save what is on the phone.
            Route::Waiting => view! { <WaitingPage /> }.into_any(),
            _ if session.me.get().is_none() => view! { <SignInPage /> }.into_any(),
            Route::Settings => view! { <SettingsPage /> }.into_any(),
            Route::Book(id, tab) => view! { <BookPage id tab part=in_the_bay /> }.into_any(),
            _ => view! { <JobsPage /> }.into_any(),
        }}
    }
}

/// The office's app.
#[component]
pub fn Office() -> impl IntoView {
    let route = follow_address();
    // An adjuster has a link and no account, and nothing is kept in that browser.
    let is_guest = matches!(route.get_untracked(), Route::Follow(_));
    match is_guest {
        true => provide_context(Person::remember()),
        false => {
            keep_the_books();
            provide_context(PracticeShelf::new());
        }
    }
    keep_title(route);
    view! {
        <Show when=move || !is_guest fallback=|| view! { <NewVersion /> }><NoticeBar /><PhotoField /></Show>
        {move || match route.get() {
            Route::Follow(token) if is_guest => view! { <FollowPage token /> }.into_any(),
            to if is_guest || to.bundle() != Bundle::Office => view! { <Elsewhere to /> }.into_any(),
            // Followed as a guest, whoever is signed in here.
            to @ Route::Follow(_) => view! { <Elsewhere to /> }.into_any(),
            Route::SetUp(token) => view! { <SetUpPage token /> }.into_any(),
            Route::Join(token) => view! { <JoinPage token /> }.into_any(),
            Route::Reset(token) => view! { <ResetPage token /> }.into_any(),
            _ if session().me.get().is_none() => view! { <SignInPage /> }.into_any(),
            Route::Office(desk) => view! { <OfficePage desk /> }.into_any(),
            Route::Devices => view! { <DevicesPage /> }.into_any(),
            Route::NewJob => view! { <NewJobPage /> }.into_any(),
            Route::Import => view! { <ImportPage /> }.into_any(),
            Route::Practice => view! { <PracticePage /> }.into_any(),
            Route::Book(id, tab) if is_practice(&id) => view! { <PracticeBook id tab /> }.into_any(),
            Route::Book(id, tab) => view! { <BookPage id tab part=at_the_desk /> }.into_any(),
            to => view! { <Elsewhere to /> }.into_any(),
        }}
    }
}

fn keep_title(route: ReadSignal<Route>) {
    let person = person();
    entitle_after(move || {
        route.track();
        person.language.track();
    });
}

/// A part of a book in the phone's app.
fn in_the_bay(tab: Tab) -> AnyView {
    match tab {
        Tab::Read => view! { <ReadPage /> }.into_any(),
        Tab::Body => view! { <BodyPage /> }.into_any(),
        Tab::Findings => view! { <FindingsPage /> }.into_any(),
        Tab::Pull => view! { <PullPage /> }.into_any(),
        Tab::More => view! { <MorePage /> }.into_any(),
        // The office's.
        Tab::Sign | Tab::Sheet | Tab::Photos | Tab::Truth => ().into_any(),
    }
}

/// A part of a book in the office's app.
fn at_the_desk(tab: Tab) -> AnyView {
    match tab {
        Tab::Sign => view! { <SignPage /> }.into_any(),
        Tab::Sheet => view! { <SheetPage /> }.into_any(),
        Tab::Photos => view! { <PhotosPage /> }.into_any(),
        // The phone's.
        Tab::Read | Tab::Body | Tab::Findings | Tab::Pull | Tab::More | Tab::Truth => ().into_any(),
    }
}

/// A page of the other app: it starts in this one's place, once what was entered is on the disk.
#[component]
fn Elsewhere(to: Route) -> impl IntoView {
    let person = person();
    // A guest has no books here.
    let shelf = use_context::<Shelf>();
    leptos::task::spawn_local(async move {
        if let Some(shelf) = shelf {
            shelf.settled().await;
        }
        // As it is written here: the boot script reads no other way of writing it.
        platform::start_anew(&to.address());
    });
    view! { <p role="status" class="empty">{person.word(|words| words.loading)}</p> }
}

/// What everybody of the shop has: a person, a session, and the books of this browser, which are
/// shared while the page is open.
fn keep_the_books() {
    let person = Person::remember();
    let session = Session::remember(Api::default());
    let (shelf, errands) = Shelf::new();
    session.follow_other_tabs();
    provide_context(person);
    provide_context(session);
    provide_context(shelf);
    provide_context(Camera::default());
    leptos::task::spawn_local(shelf.open());
    leptos::task::spawn_local(keep_sharing(shelf, session, errands));
    leptos::task::spawn_local(keep_sending(shelf, session));
    let _online = window_event_listener(leptos::ev::online, move |_| shelf.tell(Errand::TryNow));
    let _seen = window_event_listener(leptos::ev::visibilitychange, move |_| shelf.come_to_front());
    let _leaving = window_event_listener(leptos::ev::beforeunload, move |event| {
        if shelf.would_lose() {
            // The browser asks whether to leave.
            event.prevent_default();
        }
    });
}
