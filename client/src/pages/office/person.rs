//! One person on the owner's desk, and devices: anybody's there, one's own in the settings.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::wire::{DeviceLine, Person as Listed, Role};

use super::Brought;
use crate::net::NetError;
use crate::platform;
use crate::state::person::person;
use crate::state::session::session;
use crate::state::shelf::shelf;

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
                <Devices of=Some(user.get_value()) />
            </Show>
        </li>
    }
}

/// Devices: somebody's, or one's own.
#[component]
pub fn Devices(
    /// User id; none for oneself.
    of: Option<String>,
) -> impl IntoView {
    let (person, session) = (person(), session());
    let of = StoredValue::new(of);
    let answer = RwSignal::new(None::<Result<Vec<DeviceLine>, NetError>>);
    let fetch = move || {
        spawn_local(async move {
            let of = of.get_value();
            drop(answer.try_set(Some(session.devices(of.as_deref()).await)));
        });
    };
    fetch();
    let revoke = Callback::new(move |device: String| {
        spawn_local(async move {
            let of = of.get_value();
            match session.revoke_device(of.as_deref(), &device).await {
                Ok(()) => fetch(),
                Err(refused) => drop(answer.try_set(Some(Err(refused)))),
            }
        });
    });
    let show = move |list: Vec<DeviceLine>| {
        let lines = move || {
            // Moments are written in a language.
            person.language.track();
            let line = |line: DeviceLine| view! { <Line line revoke /> };
            list.clone().into_iter().map(line).collect_view()
        };
        view! { <ul class="lines" data-test="devices">{lines}</ul> }
    };
    view! {
        <h3>{person.office_word(|office| office.devices)}</h3>
        <Brought answer show />
    }
}

#[component]
fn Line(line: DeviceLine, revoke: Callback<String>) -> impl IntoView {
    let (person, shelf) = (person(), shelf());
    let (office, language) = (person.office(), person.language.get_untracked().code());
    let is_this = line.device == shelf.device();
    let is_good = line.revoked_at.is_none();
    let name = match line.label.is_empty() {
        true => line.device.chars().rev().take(6).collect::<String>(),
        false => line.label.clone(),
    };
    let state = match &line.revoked_at {
        Some(at) => format!(
            "{} {}",
            office.revoked_on,
            platform::moment_of(at, language)
        ),
        None => format!(
            "{} {}",
            office.last_seen,
            platform::moment_of(&line.last_seen, language)
        ),
    };
    let key = line.has_key.then(|| format!(" · {}", office.with_key));
    let device = line.device.clone();
    let button = is_good.then(|| {
        view! { <button type="button" data-test="revoke-device" on:click=move |_| revoke.run(device.clone())>{office.revoke}</button> }
    });
    view! {
        <li class:gone=!is_good>
            <span>
                <b>{name}</b>
                {is_this.then(|| format!(" ({})", office.this_device))}
                <small>{state} {key}</small>
            </span>
            {button}
        </li>
    }
}
