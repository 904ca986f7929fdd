//! All jobs with their sign-offs, and what changed since.

use std::collections::HashMap;

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::ids::StageId;
use shared::proof::statement::SignedStatement;
use shared::wire::{JobLine, ShopRules, SignedJob};

use super::Brought;
use super::changes::Changes;
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
    let (person, session, shelf) = (person(), session(), shelf());
    let signed: HashMap<String, SignedJob> = jobs
        .into_iter()
        .map(|job| (job.book.clone(), job))
        .collect();
    let signed = StoredValue::new(signed);
    // Told with the shop's list: most books need not be opened to know what their stage is called.
    let latest = RwSignal::new(None::<Vec<JobLine>>);
    spawn_local(async move {
        let lines = session.job_lines().await.unwrap_or_default();
        drop(latest.try_set(Some(lines)));
    });
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
        let has_changed = job.as_ref().is_some_and(|job| job.entries_since > 0);
        // Beside what is drawn anew with the car, so that an open list stays open.
        let changes = has_changed.then(|| view! { <Changes book=id.clone() /> });
        let cover = Memo::new(move |_| {
            let covers = shelf.covers.read();
            let found = covers.iter().find(|cover| cover.id == id).cloned();
            found.unwrap_or_default()
        });
        let row = move || view! { <Row cover=cover.get() job=job.clone() latest /> };
        view! { <li>{row} {changes}</li> }.into_any()
    };
    view! {
        <section>
            <h2>{person.office_word(|office| office.desk_signed)}</h2>
            <ul class="cars" data-test="signed-jobs"><Rows names=Signal::derive(names) row=Callback::new(row) /></ul>
        </section>
    }
}

/// What the signed stage is called; the book says it when the shop's list tells another stage.
fn stage_name(
    book: String,
    stage: StageId,
    latest: RwSignal<Option<Vec<JobLine>>>,
) -> RwSignal<Option<String>> {
    let (shelf, name) = (shelf(), RwSignal::new(None));
    Effect::new(move || {
        let latest = latest.read();
        let Some(lines) = &*latest else {
            return;
        };
        let line = lines.iter().find(|line| line.book == book);
        let told = line.and_then(|line| line.stage.as_ref());
        if let Some(told) = told.filter(|told| told.id == stage.as_str()) {
            name.set(Some(told.label.clone()));
            return;
        }
        let (book, stage) = (book.clone(), stage.clone());
        spawn_local(async move {
            shelf.load(&book).await;
            let label = shelf.with_book(&book, |held| {
                let job = held.view().job;
                let mut stages = job.stages.iter();
                let signed = stages.find(|known| known.id == stage)?;
                Some(signed.label.clone())
            });
            // The page may be gone by now; a book that is still on its way draws the row anew.
            drop(name.try_set(label.flatten()));
        });
    });
    name
}

#[component]
fn Row(
    cover: Cover,
    job: Option<SignedJob>,
    latest: RwSignal<Option<Vec<JobLine>>>,
) -> impl IntoView {
    let person = person();
    let (office, language) = (person.office(), person.language.get().code());
    let line = |what: &str, signed: &SignedStatement| {
        let said = signed.statement();
        let at = platform::moment(said.at_ms, language);
        format!("{what} {} · {at}", said.who.name)
    };
    let parse = |text: &String| SignedStatement::parse(text).ok();
    let signed = job.as_ref().and_then(|job| parse(&job.signed));
    let stage = signed.as_ref().map(|signed| {
        let name = stage_name(
            cover.id.clone(),
            signed.statement().claims.stage.clone(),
            latest,
        );
        let name = move || name.get().map(|name| view! { <b>{name}</b> " · " });
        view! { <span data-test="signed-stage">{name}</span> }
    });
    let first = signed.map(|signed| line(office.signed_by, &signed));
    let second = first.is_some().then(|| {
        let second = job.as_ref().and_then(|job| job.countersigned.as_ref());
        let second = second.and_then(parse);
        let none = || office.not_countersigned.to_owned();
        second.map_or_else(none, |second| line(office.countersigned_by, &second))
    });
    let said = match first {
        None => office.not_signed.to_owned(),
        Some(first) => [first]
            .into_iter()
            .chain(second)
            .collect::<Vec<_>>()
            .join(" · "),
    };
    let since = job.and_then(|job| match job.entries_since {
        0 => None,
        1 => Some(office.entry_since.to_owned()),
        many => Some(office.entries_since.replacen("{}", &many.to_string(), 1)),
    });
    view! {
        <a class="car" href=Route::Book(cover.id.clone(), Tab::Sign).href()>
            <b class="number">{cover.number}</b>
            <span class="vehicle">{cover.vehicle}</span>
            <span class="stage">{stage} {said}</span>
            {since.map(|since| view! { <span class="since changed">{since}</span> })}
        </a>
    }
}
