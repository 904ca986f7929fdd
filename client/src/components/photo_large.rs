//! One photo as large as the screen allows, with what the book says of it.

use leptos::prelude::*;

/// The photo, above everything else until it is closed.
#[component]
pub fn PhotoLarge(
    /// Its address, once it can be seen.
    #[prop(into)]
    address: Signal<Option<String>>,
    /// What it shows.
    caption: Signal<String>,
    /// Who and when.
    taken: Signal<String>,
    /// Who has hidden it and why, said as soon as somebody does.
    hidden: Signal<Option<String>>,
    /// What to say in its place.
    nowhere: &'static str,
    /// Word on the button that closes it.
    close_word: &'static str,
    /// Called to close it.
    close: Callback<()>,
    /// Further buttons.
    children: Children,
) -> impl IntoView {
    let escape = window_event_listener(leptos::ev::keydown, move |event| {
        if event.key() == "Escape" {
            close.run(());
        }
    });
    on_cleanup(move || escape.remove());
    let button = NodeRef::<leptos::html::Button>::new();
    Effect::new(move || {
        if let Some(button) = button.get() {
            // Where a keyboard goes on; a browser that refuses leaves it where it is.
            let _ = button.focus();
        }
    });
    let picture = move || match address.get() {
        Some(address) => view! { <img src=address alt=caption /> }.into_any(),
        None => view! { <p class="empty">{nowhere}</p> }.into_any(),
    };
    view! {
        <div class="photo-large" role="dialog" aria-modal="true" aria-label=caption data-test="photo-large">
            <button type="button" node_ref=button data-test="photo-close" on:click=move |_| close.run(())>{close_word}</button>
            {picture}
            <p><b>{caption}</b></p>
            <p class="quiet">{taken}</p>
            <p role="status" class="caution" data-test="photo-hidden">{hidden}</p>
            {children()}
        </div>
    }
}
