//! Language, unit and light of this phone; the ways to devices and people.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::wire::Role;

use super::head::PageHead;
use crate::components::field::Choices;
use crate::measuring::figures::LengthUnit;
use crate::platform;
use crate::state::person::{Light, person};
use crate::state::route::{Desk, Route};
use crate::state::session::session;
use crate::state::shelf::shelf;
use crate::text::Language;

/// The page.
#[component]
pub fn SettingsPage() -> impl IntoView {
    let (person, session, shelf) = (person(), session(), shelf());
    let words = move || person.words();
    let languages = || {
        [Language::English, Language::Spanish]
            .map(|language| (language, language.own_name().to_owned()))
            .to_vec()
    };
    let units = move || {
        vec![
            (LengthUnit::Millimetre, words().millimetres.to_owned()),
            (LengthUnit::InchDecimal, words().inches_decimal.to_owned()),
            (LengthUnit::InchFraction, words().inches_fraction.to_owned()),
        ]
    };
    let lights = move || {
        let words = words();
        vec![
            (Light::Auto, words.light_auto.to_owned()),
            (Light::Day, words.light_day.to_owned()),
            (Light::Bay, words.light_bay.to_owned()),
        ]
    };
    let promised = RwSignal::new(None::<bool>);
    spawn_local(async move { promised.set(platform::is_persisted().await) });
    let ask =
        move |_| spawn_local(async move { promised.set(Some(platform::ask_to_persist().await)) });
    let is_owner = move || session.me.get().is_some_and(|me| me.role == Role::Owner);
    view! {
        <main class="page">
            <PageHead back=Route::Jobs title=person.word(|words| words.settings) />
            <Choices label=person.word(|words| words.language) options=Signal::derive(languages) chosen=person.language choose=move |to| person.language.set(to) />
            <Choices label=person.word(|words| words.unit) options=Signal::derive(units) chosen=person.unit choose=move |to| person.unit.set(to) />
            <Choices label=person.word(|words| words.light) options=Signal::derive(lights) chosen=person.light choose=move |to| person.light.set(to) />
            <section>
                <p role="status" data-test="storage">
                    {move || promised.get().map(|kept| if kept { words().storage_kept } else { words().storage_not_kept })}
                </p>
                <Show when=move || promised.get() != Some(true)>
                    <button type="button" data-test="keep-storage" on:click=ask>{person.word(|words| words.keep_storage)}</button>
                </Show>
            </section>
            <section class="row">
                <a class="button" data-test="devices-page" href=Route::Devices.href()>{person.word(|words| words.devices)}</a>
                <Show when=is_owner>
                    <a class="button" href=Route::Office(Desk::People).href()>{person.word(|words| words.people)}</a>
                </Show>
            </section>
            <section>
                <p>{move || session.me.get().map(|me| format!("{} · {}", me.name, me.shop_name))}</p>
                <Show when=move || { shelf.unshared_in_all() + shelf.photos.read().len() > 0 }>
                    <p>{person.word(|words| words.waiting_sign_out)}</p>
                </Show>
                <button
                    type="button"
                    data-test="sign-out"
                    on:click=move |_| spawn_local(async move {
                        session.sign_out().await;
                        Route::SignIn.go();
                    })
                >
                    {person.word(|words| words.sign_out)}
                </button>
            </section>
        </main>
    }
}
