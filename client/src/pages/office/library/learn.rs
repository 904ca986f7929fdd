//! A sheet learned from undamaged cars that are on this device.

use std::collections::HashSet;

use gloo_timers::future::TimeoutFuture;
use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::job::Job;
use shared::library::{Body, Learned, Learning, SheetLine, Source, learn, sound};

use super::take::KeepSheet;
use crate::measuring::sheets::learned;
use crate::pages::office::Each;
use crate::platform;
use crate::state::held::Cover;
use crate::state::person::person;
use crate::state::session::session;
use crate::state::shelf::shelf;

/// Assumed between cars where too few tell (common practice: one or two millimetres).
const BETWEEN_MM: f64 = 1.0;

/// The section.
#[component]
pub fn LearnSheet(
    /// Sheets that are there.
    known: Signal<Vec<SheetLine>>,
    /// Asks for them anew.
    fetch: Callback<()>,
) -> impl IntoView {
    let (person, session, shelf) = (person(), session(), shelf());
    let chosen = RwSignal::new(HashSet::<String>::new());
    let busy = RwSignal::new(false);
    let found = RwSignal::new(None::<Learned>);
    let cars = Memo::new(move |_| {
        let covers = shelf.covers.read();
        let here = covers.iter().filter(|cover| cover.here);
        here.cloned().collect::<Vec<_>>()
    });
    let car = move |car| view! { <Car car chosen /> }.into_any();
    let start = move |_| {
        busy.set(true);
        spawn_local(async move {
            // The button is drawn first.
            TimeoutFuture::new(30).await;
            let jobs = shelf.jobs(chosen.get_untracked()).await;
            let me = session.me.get_untracked().map(|me| me.name);
            let learned = from(&jobs, me.unwrap_or_default());
            // The page may be gone by now.
            drop(found.try_set(Some(learned)));
            let _ = busy.try_set(false);
        });
    };
    let lines = move || {
        let found = found.get()?;
        let lines = learned(person.library(), person.figures(), &found);
        let lines = lines.into_iter().map(|line| view! { <li>{line}</li> });
        Some(view! { <ul class="lines" data-test="learned">{lines.collect_view()}</ul> })
    };
    let sheet = move || {
        let sheet = found.get().map(|found| found.sheet);
        sheet
            .filter(|sheet| !sheet.points.is_empty())
            .map(|sheet| view! { <KeepSheet sheet known done=fetch /> })
    };
    view! {
        <section>
            <h2>{person.library_word(|library| library.learn_title)}</h2>
            <p class="quiet">{person.library_word(|library| library.learn_why)}</p>
            <ul class="lines" data-test="learn-cars"><Each list=cars.into() name=|car: &Cover| car.id.clone() row=Callback::new(car) /></ul>
            <button type="button" data-test="learn" disabled=move || busy.get() || chosen.read().is_empty() on:click=start>
                {person.library_word(|library| library.learn)}
            </button>
            <div aria-live="polite">{lines}</div>
            {sheet}
        </section>
    }
}

/// A car, to be learned from or not.
#[component]
fn Car(car: Signal<Cover>, chosen: RwSignal<HashSet<String>>) -> impl IntoView {
    let id = StoredValue::new(car.read_untracked().id.clone());
    let turn = move |event: leptos::ev::Event| {
        let id = id.get_value();
        chosen.update(|chosen| match event_target_checked(&event) {
            true => drop(chosen.insert(id)),
            false => drop(chosen.remove(&id)),
        });
    };
    let is_chosen = move || id.with_value(|id| chosen.read().contains(id));
    view! {
        <li>
            <label class="choice">
                <input type="checkbox" name="car" prop:checked=is_chosen on:change=turn />
                <span>
                    <b>{move || car.read().number.clone()}</b> " " {move || car.read().vehicle.clone()} " "
                    <small>{move || car.read().stage.clone()}</small>
                </span>
            </label>
        </li>
    }
}

/// Learns from the last stage of each job, all of its points.
fn from(jobs: &[Job], by: String) -> Learned {
    let source = |job: &Job| job.stages.last().map(|stage| stage.id.clone());
    let sources: Vec<Source<'_>> = jobs
        .iter()
        .filter_map(|job| {
            Some(Source {
                name: job.card.number.clone(),
                job,
                stage: source(job)?,
                sound: sound(job, &[]),
            })
        })
        .collect();
    let name = jobs.first().map(|job| job.card.vehicle.clone());
    let learning = Learning {
        name: name.clone().unwrap_or_default(),
        revision: 1,
        body: Body {
            model: name.unwrap_or_default(),
            ..Body::default()
        },
        by,
        at: platform::now_text(),
        before: None,
        prior_between_mm: BETWEEN_MM,
    };
    learn(&sources, &learning)
}
