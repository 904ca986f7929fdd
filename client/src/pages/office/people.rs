//! People of the shop: roles, links to join and to choose a new password, leaving, devices.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::wire::{Person as Listed, Role};

use super::Brought;
use super::person::One;
use crate::net::NetError;
use crate::pages::links::Handed;
use crate::pages::sign_in::error_text;
use crate::platform;
use crate::state::person::person;
use crate::state::session::session;

/// The part.
#[component]
pub fn PeopleDesk() -> impl IntoView {
    let (person, session) = (person(), session());
    let words = move || person.words();
    let answer = RwSignal::new(None::<Result<Vec<Listed>, NetError>>);
    let error = RwSignal::new(None::<NetError>);
    let handed = RwSignal::new(None::<(String, &'static str)>);
    let fetch = Callback::new(move |()| {
        spawn_local(async move { drop(answer.try_set(Some(session.people().await))) });
    });
    fetch.run(());
    let invite = move |role: Role| {
        spawn_local(async move {
            match session.invite(role).await {
                Ok(made) => {
                    let link = format!("{}{}", platform::origin(), made.link);
                    handed.set(Some((link, person.words().invite_why)));
                }
                Err(refused) => error.set(Some(refused)),
            }
        });
    };
    let show = move |people: Vec<Listed>| {
        let one = |listed: Listed| view! { <One listed fetch error handed /> };
        let (here, gone): (Vec<_>, Vec<_>) = people
            .into_iter()
            .partition(|listed| listed.removed_at.is_none());
        let gone = gone.into_iter().map(|listed| {
            let at = listed.removed_at.unwrap_or_default();
            let at = platform::moment_of(&at, person.language.get_untracked().code());
            view! { <li class="gone">{listed.name} " · " {person.office().left_on} " " {at}</li> }
        });
        view! {
            <ul class="people" data-test="people">{here.into_iter().map(one).collect_view()}</ul>
            <ul class="lines">{gone.collect_view()}</ul>
        }
    };
    view! {
        <section>
            <h2>{person.word(|words| words.people)}</h2>
            <p role="alert" class="error">{move || error.get().map(|error| error_text(words(), &error))}</p>
            {move || handed.get().map(|(link, why)| view! { <Handed link why /> })}
            <Brought answer show />
        </section>
        <section>
            <h2>{person.office_word(|office| office.new_people)}</h2>
            <p class="row">
                <button type="button" data-test="invite-technician" on:click=move |_| invite(Role::Technician)>{person.word(|words| words.invite_technician)}</button>
                <button type="button" on:click=move |_| invite(Role::Owner)>{person.word(|words| words.invite_owner)}</button>
            </p>
        </section>
    }
}
