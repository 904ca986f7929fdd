//! A newer version of the app: it waits until a person starts it, and nothing half entered is lost.

use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::platform;
use crate::state::person::person;
use crate::state::shelf::Shelf;

/// The notice; nothing while this is the newest.
#[component]
pub fn NewVersion(
    /// Called when it comes or goes.
    #[prop(optional)]
    on_change: Option<Callback<()>>,
) -> impl IntoView {
    let person = person();
    // A guest has no books here.
    let shelf = use_context::<Shelf>();
    let is_here = RwSignal::new(platform::has_new_version());
    let is_unfinished = RwSignal::new(false);
    let heard = window_event_listener_untyped("new-version", move |_| is_here.set(true));
    on_cleanup(move || heard.remove());
    Effect::new(move || {
        is_here.track();
        is_unfinished.track();
        if let Some(on_change) = on_change {
            on_change.run(());
        }
    });
    let take = move |_| {
        is_unfinished.set(platform::is_unfinished());
        if is_unfinished.get_untracked() {
            return;
        }
        spawn_local(async move {
            if let Some(shelf) = shelf {
                shelf.settled().await;
            }
            match shelf.is_some_and(|shelf| shelf.would_lose()) {
                true => is_unfinished.set(true),
                false => platform::take_new_version(),
            }
        });
    };
    view! {
        <Show when=move || is_here.get()>
            <div class="notice" role="status" data-test="new-version">
                <p>{person.word(|words| words.new_version)}</p>
                <button type="button" data-test="take-new-version" on:click=take>{person.word(|words| words.take_new_version)}</button>
                <button type="button" data-test="later" on:click=move |_| is_here.set(false)>{person.word(|words| words.later)}</button>
                <p role="alert" class="error">
                    {move || is_unfinished.get().then(|| person.words().finish_first)}
                </p>
            </div>
        </Show>
    }
}
