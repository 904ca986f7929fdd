//! Links for the adjuster of one job: made, copied, listed, taken back.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::wire::{LinkLine, MakeLink};

use super::office::Each;
use super::sign_in::error_text;
use crate::components::field::{Choices, Field};
use crate::net::NetError;
use crate::platform;
use crate::state::book::book;
use crate::state::person::person;
use crate::state::session::session;
use crate::state::shelf::shelf;

/// The section of a book's page.
#[component]
pub fn Links() -> impl IntoView {
    let (person, book, session, shelf) = (person(), book(), session(), shelf());
    let office = move || person.office();
    let lines = RwSignal::new(None::<Vec<LinkLine>>);
    let error = RwSignal::new(None::<NetError>);
    let (label, days) = (RwSignal::new(String::new()), RwSignal::new(30_u32));
    let made = RwSignal::new(None::<String>);
    let fetch = Callback::new(move |()| {
        spawn_local(async move {
            if let Ok(list) = session.links(Some(&book.id.get_value())).await {
                drop(lines.try_set(Some(list)));
            }
        });
    });
    Effect::new(move || {
        if shelf.online.get() {
            fetch.run(());
        }
    });
    let is_here = Memo::new(move |_| lines.read().is_some());
    let options = move || {
        [7_u32, 30, 90]
            .map(|days| (days, office().days.replacen("{}", &days.to_string(), 1)))
            .to_vec()
    };
    let make = move |_| {
        let link = MakeLink {
            label: label.get_untracked(),
            days: days.get_untracked(),
        };
        spawn_local(async move {
            let sent = link.label.clone();
            match session.make_link(&book.id.get_value(), link).await {
                Ok(link) => {
                    made.set(Some(format!("{}{}", platform::origin(), link.link)));
                    // The next one may be half typed by now.
                    if label.get_untracked() == sent {
                        label.set(String::new());
                    }
                    error.set(None);
                }
                Err(refused) => error.set(Some(refused)),
            }
            fetch.run(());
        });
    };
    view! {
        <section>
            <h2>{person.office_word(|office| office.link_title)}</h2>
            <p class="quiet">{person.office_word(|office| office.link_why)}</p>
            <Field name="link-label" label=person.office_word(|office| office.link_for) value=label />
            <Choices label=person.office_word(|office| office.link_days) options=Signal::derive(options) chosen=days choose=move |to| days.set(to) />
            <button
                type="button"
                data-test="make-link"
                disabled=move || label.read().trim().is_empty() || !book.badge.get().online
                on:click=make
            >
                {person.office_word(|office| office.link_make)}
            </button>
            <p role="alert" class="error">{move || error.get().map(|error| error_text(person.words(), &error))}</p>
            {move || made.get().map(|link| view! { <Handed link why=office().link_once /> })}
            {move || match is_here.get() {
                false => view! { <p class="empty">{person.office_word(|office| office.links_later)}</p> }.into_any(),
                true => view! { <LinkList list=Signal::derive(move || lines.get().unwrap_or_default()) none=person.office_word(|office| office.links_none) names=Callback::new(|_| None) fetch /> }.into_any(),
            }}
        </section>
    }
}

/// A link to hand over, with a button that copies it.
#[component]
pub fn Handed(
    /// The whole link.
    link: String,
    /// What it is for.
    why: &'static str,
) -> impl IntoView {
    let person = person();
    let copied = RwSignal::new(None::<bool>);
    let text = link.clone();
    let copy = move |_| {
        let text = text.clone();
        spawn_local(async move {
            let _ = copied.try_set(Some(platform::copy(&text).await));
        });
    };
    let said = move || {
        copied.get().map(|done| match done {
            true => person.office().copied,
            false => person.office().not_copied,
        })
    };
    view! {
        <div class="handed" role="status">
            <p>{why}</p>
            <code class="link" data-test="link">{link}</code>
            <button type="button" on:click=copy>{person.office_word(|office| office.copy)}</button>
            <span class="quiet" aria-live="polite">{said}</span>
        </div>
    }
}

/// Links with who made them and how they stand; each can be taken back.
#[component]
pub fn LinkList(
    /// The links.
    list: Signal<Vec<LinkLine>>,
    /// What stands there when there are none.
    none: Signal<&'static str>,
    /// What a job is called; none where all are of one job.
    names: Callback<String, Option<String>>,
    /// Asks for the list anew.
    fetch: Callback<()>,
) -> impl IntoView {
    let row = move |line| view! { <Line line names fetch /> }.into_any();
    view! {
        <Show when=move || list.read().is_empty()><p class="empty">{none}</p></Show>
        <ul class="lines" data-test="links"><Each list name=|line: &LinkLine| line.id.clone() row=Callback::new(row) /></ul>
    }
}

/// One link.
#[component]
fn Line(
    line: Signal<LinkLine>,
    names: Callback<String, Option<String>>,
    fetch: Callback<()>,
) -> impl IntoView {
    let (person, session) = (person(), session());
    let office = move || person.office();
    let when = move |text: &str| platform::moment_of(text, person.language.get().code());
    let has_run_out = move || line.read().expires_at.get(..19) <= platform::now_text().get(..19);
    let is_good = Memo::new(move |_| line.read().revoked_at.is_none() && !has_run_out());
    let state = move || {
        let (line, office) = (line.read(), office());
        match &line.revoked_at {
            Some(at) => format!("{} {}", office.revoked_on, when(at)),
            None if has_run_out() => format!("{} {}", office.ran_out_on, when(&line.expires_at)),
            None => format!("{} {}", office.good_until, when(&line.expires_at)),
        }
    };
    let opened = move || match &line.read().last_used_at {
        None => office().never_opened.to_owned(),
        Some(at) => format!("{} {}", office().last_opened, when(at)),
    };
    let revoke = move |_| {
        let id = line.read_untracked().id.clone();
        spawn_local(async move {
            // What failed is still listed as good.
            drop(session.revoke_link(&id).await);
            fetch.run(());
        });
    };
    let name = Memo::new(move |_| {
        let line = line.read();
        let job = names.run(line.book.clone());
        let parts = [job, Some(line.label.clone())].into_iter().flatten();
        parts.collect::<Vec<_>>().join(" · ")
    });
    let of = move || format!("{}: {}", office().revoke, name.read());
    view! {
        <li class="link-line" class:gone=move || !is_good.get()>
            <span>
                <b>{name}</b>
                <small>{state} " · " {move || office().made_by} " " {move || line.read().made_by.clone()} " · " {opened}</small>
            </span>
            <Show when=move || is_good.get()>
                <button type="button" data-test="revoke-link" aria-label=of on:click=revoke>{person.office_word(|office| office.revoke)}</button>
            </Show>
        </li>
    }
}
