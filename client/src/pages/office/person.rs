//! One person on the owner's desk, with their devices.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::wire::{Person as Listed, Role};

use crate::net::NetError;
use crate::pages::devices::Devices;
use crate::platform;
use crate::state::person::person;
use crate::state::session::session;

/// A person, with what an owner can do.
#[component]
pub fn One(
    /// Who.
    listed: Signal<Listed>,
    /// Asks for the list anew.
    fetch: Callback<()>,
    /// Why something was not done.
    error: RwSignal<Option<NetError>>,
    /// A link to hand over, and what it is for.
    handed: RwSignal<Option<(String, &'static str)>>,
) -> impl IntoView {
    let (person, session) = (person(), session());
    let (office, words) = (move || person.office(), move || person.words());
    let open = RwSignal::new(false);
    let asks = RwSignal::new(false);
    let user = StoredValue::new(listed.read_untracked().user.clone());
    let role = Memo::new(move |_| listed.read().role);
    let done = move |answer: Result<(), NetError>| {
        error.set(answer.err());
        fetch.run(());
    };
    let change = move |_| {
        let other = match role.get_untracked() {
            Role::Owner => Role::Technician,
            Role::Technician => Role::Owner,
        };
        spawn_local(async move { done(session.change_role(&user.get_value(), other).await) });
    };
    let reset = move |_| {
        spawn_local(async move {
            match session.reset_link(&user.get_value()).await {
                Ok(made) => {
                    let link = format!("{}{}", platform::origin(), made.link);
                    handed.set(Some((link, office().reset_why)));
                }
                Err(refused) => error.set(Some(refused)),
            }
        });
    };
    let remove = move |_| {
        spawn_local(async move { done(session.remove_person(&user.get_value()).await) });
    };
    let word = move || match role.get() {
        Role::Owner => words().owner,
        Role::Technician => words().technician,
    };
    let other = move || match role.get() {
        Role::Owner => office().make_technician,
        Role::Technician => office().make_owner,
    };
    let question = move || office().remove_sure.replacen("{}", &listed.read().name, 1);
    view! {
        <li class="person">
            <button type="button" class="head" aria-expanded=move || open.get().to_string() on:click=move |_| open.update(|open| *open = !*open)>
                <b>{move || listed.read().name.clone()}</b>
                <small>{word} " · " {move || listed.read().email.clone()}</small>
            </button>
            <Show when=move || open.get()>
                <p class="row">
                    <button type="button" on:click=change>{other}</button>
                    <button type="button" data-test="reset" on:click=reset>{move || office().reset_make}</button>
                    <button type="button" data-test="ask-remove" on:click=move |_| asks.set(true)>{move || office().remove}</button>
                </p>
                <Show when=move || asks.get()>
                    <div class="notice" role="alert">
                        <p>{question}</p>
                        <button type="button" data-test="remove" on:click=remove>{move || office().remove}</button>
                        <button type="button" on:click=move |_| asks.set(false)>{move || words().cancel}</button>
                    </div>
                </Show>
                <h3>{person.word(|words| words.devices)}</h3>
                <Devices of=Some(user.get_value()) />
            </Show>
        </li>
    }
}
