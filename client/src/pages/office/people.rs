//! People of the shop: roles, links to join and to choose a new password, leaving, devices.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::wire::{Person as Listed, Role};

use super::person::One;
use super::{BroughtList, Each};
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
                    let why = match role {
                        Role::Owner => person.office().invite_owner_why,
                        Role::Technician => person.office().invite_technician_why,
                    };
                    handed.set(Some((link, why)));
                }
                Err(refused) => error.set(Some(refused)),
            }
        });
    };
    let show = move |people: Signal<Vec<Listed>>| {
        let one = move |listed| view! { <One listed fetch error handed /> }.into_any();
        let here = move || {
            let all = people.get().into_iter();
            let here = all.filter(|listed| listed.removed_at.is_none());
            here.collect::<Vec<_>>()
        };
        let gone = move || {
            let all = people.get().into_iter();
            let line = |listed: Listed| {
                let at = platform::moment_of(&listed.removed_at?, person.language.get().code());
                Some(
                    view! { <li class="gone">{listed.name} " · " {person.office().left_on} " " {at}</li> },
                )
            };
            all.filter_map(line).collect_view()
        };
        view! {
            <ul class="people" data-test="people">
                <Each list=Signal::derive(here) name=|listed: &Listed| listed.user.clone() row=Callback::new(one) />
            </ul>
            <ul class="lines">{gone}</ul>
        }
        .into_any()
    };
    view! {
        <section>
            <h2>{person.word(|words| words.people)}</h2>
            <p role="alert" class="error">{move || error.get().map(|error| error_text(words(), &error))}</p>
            {move || handed.get().map(|(link, why)| view! { <Handed link why /> })}
            <BroughtList answer show=Callback::new(show) />
        </section>
        <section>
            <h2>{person.office_word(|office| office.new_people)}</h2>
            <p class="row">
                <button type="button" data-test="invite-technician" on:click=move |_| invite(Role::Technician)>{person.office_word(|words| words.invite_technician)}</button>
                <button type="button" on:click=move |_| invite(Role::Owner)>{person.office_word(|words| words.invite_owner)}</button>
            </p>
        </section>
    }
}
