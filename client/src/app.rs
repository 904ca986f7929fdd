//! The app: what is shared by all pages, and the page that the address names.

use leptos::prelude::*;

use crate::net::Api;
use crate::pages::book::BookPage;
use crate::pages::jobs::JobsPage;
use crate::pages::new_job::NewJobPage;
use crate::pages::settings::SettingsPage;
use crate::pages::sign_in::{JoinPage, SetUpPage, SignInPage};
use crate::state::person::Person;
use crate::state::route::{Route, follow_address};
use crate::state::session::Session;
use crate::state::sharing::keep_sharing;
use crate::state::shelf::{Errand, Notice, Shelf};

/// Everything.
#[component]
pub fn App() -> impl IntoView {
    let person = Person::remember();
    let session = Session::remember(Api::default());
    let (shelf, errands) = Shelf::new();
    provide_context(person);
    provide_context(session);
    provide_context(shelf);
    leptos::task::spawn_local(shelf.open());
    leptos::task::spawn_local(keep_sharing(shelf, session, errands));
    let _online = window_event_listener(leptos::ev::online, move |_| shelf.tell(Errand::TryNow));

    let route = follow_address();
    view! {
        <NoticeBar />
        {move || match route.get() {
            Route::SignIn => view! { <SignInPage /> }.into_any(),
            Route::SetUp(token) => view! { <SetUpPage token /> }.into_any(),
            Route::Join(token) => view! { <JoinPage token /> }.into_any(),
            _ if session.me.get().is_none() => view! { <SignInPage /> }.into_any(),
            Route::Jobs => view! { <JobsPage /> }.into_any(),
            Route::NewJob => view! { <NewJobPage /> }.into_any(),
            Route::Settings => view! { <SettingsPage /> }.into_any(),
            Route::Book(id, tab) => view! { <BookPage id tab /> }.into_any(),
        }}
    }
}

/// What a person should know, until they have read it.
#[component]
fn NoticeBar() -> impl IntoView {
    let person = crate::state::person::person();
    let shelf = crate::state::shelf::shelf();
    let text = move || {
        let words = person.words();
        shelf.notice.get().map(|notice| match notice {
            Notice::NotSaved(why) => format!("{} ({why})", words.not_saved),
            Notice::Refused(_) => words.refused.to_owned(),
            Notice::Damaged(count) => format!("{} ({count})", words.damaged),
            Notice::Unavailable => words.unavailable.to_owned(),
        })
    };
    view! {
        <Show when=move || shelf.notice.read().is_some()>
            <div class="notice" role="alert">
                <p>{text}</p>
                <button type="button" on:click=move |_| shelf.notice.set(None)>{move || person.words().close}</button>
            </div>
        </Show>
    }
}
