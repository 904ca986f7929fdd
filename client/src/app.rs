//! The app: what is shared by all pages, and the page that the address names.

use leptos::prelude::*;

use crate::net::Api;
use crate::pages::book::BookPage;
use crate::pages::follow::FollowPage;
use crate::pages::jobs::JobsPage;
use crate::pages::new_job::NewJobPage;
use crate::pages::notices::NoticeBar;
use crate::pages::office::OfficePage;
use crate::pages::settings::SettingsPage;
use crate::pages::sign_in::{JoinPage, ResetPage, SetUpPage, SignInPage};
use crate::pages::waiting::WaitingPage;
use crate::state::person::Person;
use crate::state::route::{Route, follow_address};
use crate::state::session::Session;
use crate::state::sharing::keep_sharing;
use crate::state::shelf::{Errand, Shelf};

/// Everything.
#[component]
pub fn App() -> impl IntoView {
    let person = Person::remember();
    let session = Session::remember(Api::default());
    let (shelf, errands) = Shelf::new();
    session.follow_other_tabs();
    provide_context(person);
    provide_context(session);
    provide_context(shelf);
    leptos::task::spawn_local(shelf.open());
    leptos::task::spawn_local(keep_sharing(shelf, session, errands));
    let _online = window_event_listener(leptos::ev::online, move |_| shelf.tell(Errand::TryNow));
    let _seen = window_event_listener(leptos::ev::visibilitychange, move |_| shelf.come_to_front());
    let _leaving = window_event_listener(leptos::ev::beforeunload, move |event| {
        if shelf.would_lose() {
            // The browser asks whether to leave.
            event.prevent_default();
        }
    });

    let route = follow_address();
    view! {
        <NoticeBar />
        {move || match route.get() {
            Route::SignIn => view! { <SignInPage /> }.into_any(),
            Route::SetUp(token) => view! { <SetUpPage token /> }.into_any(),
            Route::Join(token) => view! { <JoinPage token /> }.into_any(),
            Route::Reset(token) => view! { <ResetPage token /> }.into_any(),
            // An adjuster has a link and no account.
            Route::Follow(token) => view! { <FollowPage token /> }.into_any(),
            // Nobody has to be signed in to save what is on the phone.
            Route::Waiting => view! { <WaitingPage /> }.into_any(),
            _ if session.me.get().is_none() => view! { <SignInPage /> }.into_any(),
            Route::Jobs => view! { <JobsPage /> }.into_any(),
            Route::NewJob => view! { <NewJobPage /> }.into_any(),
            Route::Settings => view! { <SettingsPage /> }.into_any(),
            Route::Office(desk) => view! { <OfficePage desk /> }.into_any(),
            Route::Book(id, tab) => view! { <BookPage id tab /> }.into_any(),
        }}
    }
}
