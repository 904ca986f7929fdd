//! The shop's log in plain words, with filters, and its signed head.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::proof::leaf::{Event, Leaf};
use shared::wire::Person as Listed;

use super::job_numbers;
use crate::measuring::log_words::{Names, kind, sentence};
use crate::net::NetError;
use crate::pages::sign_in::error_text;
use crate::platform;
use crate::state::office::LogFilter;
use crate::state::person::person;
use crate::state::session::session;
use crate::state::shelf::shelf;

/// The part.
#[component]
pub fn LogDesk() -> impl IntoView {
    let (person, session, shelf) = (person(), session(), shelf());
    let office = move || person.office();
    let filter = RwSignal::new(LogFilter::default());
    let people = RwSignal::new(Vec::<Listed>::new());
    let entries = RwSignal::new(Vec::<Leaf>::new());
    let below = RwSignal::new(None::<u64>);
    let head = RwSignal::new(None::<(String, String)>);
    let error = RwSignal::new(None::<NetError>);
    spawn_local(async move {
        // Without names the ids stand in the list.
        if let Ok(list) = session.people().await {
            drop(people.try_set(list));
        }
    });
    let fetch = move |from: Option<u64>| {
        let asked = filter.get_untracked();
        spawn_local(async move {
            match session.log(&asked, from).await {
                Ok(page) if filter.try_get_untracked() == Some(asked) => {
                    entries.update(|entries| {
                        if from.is_none() {
                            entries.clear();
                        }
                        entries.extend(page.entries);
                    });
                    below.set(page.below);
                    head.set(Some((page.head, page.key)));
                    error.set(None);
                }
                // Another question was asked meanwhile.
                Ok(_) => {}
                Err(refused) => drop(error.try_set(Some(refused))),
            }
        });
    };
    Effect::new(move || {
        filter.track();
        fetch(None);
    });
    let names = move || Names {
        jobs: job_numbers(shelf),
        people: people
            .get()
            .into_iter()
            .map(|listed| (listed.user, listed.name))
            .collect(),
    };
    let rows = move || {
        let (names, language) = (names(), person.language.get().code());
        let row = |leaf: &Leaf| {
            let who = leaf.who.as_ref().map(|who| who.name.clone());
            let text = sentence(person.words(), office(), &names, leaf);
            view! {
                <li>
                    <span>{text}<small>{platform::moment(leaf.at_ms, language)} {who.map(|who| format!(" · {who}"))}</small></span>
                    <small>"#" {leaf.index}</small>
                </li>
            }
        };
        entries.read().iter().map(row).collect_view()
    };
    view! {
        <section>
            <h2>{person.office_word(|office| office.desk_log)}</h2>
            <p class="quiet">{person.office_word(|office| office.log_why)}</p>
            <Filters filter people />
            <p role="alert" class="error">{move || error.get().map(|error| error_text(person.words(), &error))}</p>
            <ol class="lines log" data-test="log">{rows}</ol>
            <Show when=move || entries.read().is_empty() && error.read().is_none()><p class="empty">{person.office_word(|office| office.log_none)}</p></Show>
            <Show when=move || below.get().is_some()>
                <button type="button" data-test="older" on:click=move |_| fetch(below.get_untracked())>{person.office_word(|office| office.log_older)}</button>
            </Show>
            {move || head.get().map(|(head, key)| view! {
                <details class="concern">
                    <summary>{office().log_head}</summary>
                    <div>
                        <p class="quiet">{office().log_head_why}</p>
                        <pre class="head-note">{head}</pre>
                        <code class="link">{key}</code>
                    </div>
                </details>
            })}
        </section>
    }
}

/// What is looked for.
#[component]
fn Filters(filter: RwSignal<LogFilter>, people: RwSignal<Vec<Listed>>) -> impl IntoView {
    let (person, shelf) = (person(), shelf());
    let office = move || person.office();
    // In one order, so that they stay where they are while others read on.
    let numbers = Memo::new(move |_| {
        let mut numbers: Vec<(String, String)> = job_numbers(shelf)
            .into_iter()
            .map(|(id, number)| (number, id))
            .collect();
        numbers.sort_unstable();
        numbers
    });
    let job = Memo::new(move |_| filter.read().job.clone());
    let jobs = move || {
        let option = |(number, id): (String, String)| {
            let is_chosen = *job.read() == id;
            view! { <option value=id prop:selected=is_chosen>{number}</option> }
        };
        numbers.get().into_iter().map(option).collect_view()
    };
    let persons = move || {
        let option = |listed: Listed| view! { <option value=listed.user>{listed.name}</option> };
        people.get().into_iter().map(option).collect_view()
    };
    let kinds = move || {
        let option =
            |name: &'static str| view! { <option value=name>{kind(office(), name)}</option> };
        Event::KINDS.into_iter().map(option).collect_view()
    };
    view! {
        <div class="filters">
            <label>
                <span>{person.office_word(|office| office.job)}</span>
                <select name="job" on:change=move |event| filter.update(|filter| filter.job = event_target_value(&event))>
                    <option value="">{person.office_word(|office| office.all_jobs)}</option>
                    {jobs}
                </select>
            </label>
            <label>
                <span>{person.office_word(|office| office.person)}</span>
                <select name="person" on:change=move |event| filter.update(|filter| filter.person = event_target_value(&event))>
                    <option value="">{person.office_word(|office| office.all_people)}</option>
                    {persons}
                </select>
            </label>
            <label>
                <span>{person.office_word(|office| office.kind)}</span>
                <select name="kind" on:change=move |event| filter.update(|filter| filter.kind = event_target_value(&event))>
                    <option value="">{person.office_word(|office| office.all_kinds)}</option>
                    {kinds}
                </select>
            </label>
        </div>
    }
}
