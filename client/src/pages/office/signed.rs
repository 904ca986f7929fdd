//! All jobs with their sign-offs, and what changed since.

use std::collections::HashMap;

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::proof::statement::SignedStatement;
use shared::wire::{ShopRules, SignedJob};

use super::Brought;
use crate::components::rows::Rows;
use crate::net::NetError;
use crate::platform;
use crate::state::held::Cover;
use crate::state::person::person;
use crate::state::route::{Route, Tab};
use crate::state::session::session;
use crate::state::shelf::shelf;

/// The part.
#[component]
pub fn SignedDesk() -> impl IntoView {
    let session = session();
    let answer = RwSignal::new(None::<Result<Vec<SignedJob>, NetError>>);
    spawn_local(async move { drop(answer.try_set(Some(session.signed_jobs().await))) });
    view! {
        <Rule />
        <Brought answer show=move |jobs| view! { <Jobs jobs /> } />
    }
}

/// The rule of two people.
#[component]
fn Rule() -> impl IntoView {
    let (person, session) = (person(), session());
    let office = move || person.office();
    let rules = RwSignal::new(None::<Result<ShopRules, NetError>>);
    spawn_local(async move { drop(rules.try_set(Some(session.rules().await))) });
    let turn = move |two_people: bool| {
        spawn_local(async move {
            let now = ShopRules { two_people };
            let set = session.set_rules(now).await.map(|()| now);
            drop(rules.try_set(Some(set)));
        });
    };
    let show = move |now: ShopRules| {
        view! {
            <p>{if now.two_people { office().rule_on } else { office().rule_off }}</p>
            <button type="button" data-test="two-people" aria-pressed=now.two_people.to_string() on:click=move |_| turn(!now.two_people)>
                {office().rule_two_people}
            </button>
        }
    };
    view! {
        <section>
            <h2>{person.office_word(|office| office.rule_title)}</h2>
            <Brought answer=rules show />
        </section>
    }
}

/// Every car; those that are not signed off, or have changed since, come first.
#[component]
fn Jobs(jobs: Vec<SignedJob>) -> impl IntoView {
    let (person, shelf) = (person(), shelf());
    let signed: HashMap<String, SignedJob> = jobs
        .into_iter()
        .map(|job| (job.book.clone(), job))
        .collect();
    let signed = StoredValue::new(signed);
    let names = move || {
        let is_settled = |id: &String| {
            let settled = |job: &SignedJob| job.entries_since == 0;
            signed.with_value(|signed| signed.get(id).is_some_and(settled))
        };
        let covers = shelf.covers.read();
        let ids = covers.iter().map(|cover| cover.id.clone());
        let (settled, open): (Vec<String>, Vec<String>) = ids.partition(is_settled);
        [open, settled].concat()
    };
    let row = move |id: String| {
        let job = signed.with_value(|signed| signed.get(&id).cloned());
        let cover = Memo::new(move |_| {
            let covers = shelf.covers.read();
            let found = covers.iter().find(|cover| cover.id == id).cloned();
            found.unwrap_or_default()
        });
        (move || view! { <Row cover=cover.get() job=job.clone() /> }).into_any()
    };
    view! {
        <section>
            <h2>{person.office_word(|office| office.desk_signed)}</h2>
            <ul class="cars" data-test="signed-jobs"><Rows names=Signal::derive(names) row=Callback::new(row) /></ul>
        </section>
    }
}

#[component]
fn Row(cover: Cover, job: Option<SignedJob>) -> impl IntoView {
    let person = person();
    let (office, language) = (person.office(), person.language.get().code());
    let line = |what: &str, text: &str| {
        let signed = SignedStatement::parse(text).ok()?;
        let said = signed.statement();
        let at = platform::moment(said.at_ms, language);
        Some(format!("{what} {} · {at}", said.who.name))
    };
    let said = job.as_ref().map_or_else(
        || vec![office.not_signed.to_owned()],
        |job| {
            let first = line(office.signed_by, &job.signed);
            let second = job.countersigned.as_ref();
            let second = second.map_or_else(
                || Some(office.not_countersigned.to_owned()),
                |text| line(office.countersigned_by, text),
            );
            [first, second].into_iter().flatten().collect()
        },
    );
    let since = job.and_then(|job| match job.entries_since {
        0 => None,
        1 => Some(office.entry_since.to_owned()),
        many => Some(office.entries_since.replacen("{}", &many.to_string(), 1)),
    });
    view! {
        <li>
            <a class="car" href=Route::Book(cover.id.clone(), Tab::Sign).href()>
                <b class="number">{cover.number}</b>
                <span class="vehicle">{cover.vehicle}</span>
                <span class="stage">{said.join(" · ")}</span>
                {since.map(|since| view! { <span class="since changed">{since}</span> })}
            </a>
        </li>
    }
}
