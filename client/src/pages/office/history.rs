//! The history of a body: what was measured on it, job after job, with plots.

use std::sync::Arc;

use gloo_timers::future::TimeoutFuture;
use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::job::Job;
use shared::library::{History, Quantity, Sample, Series, Visit, history};
use shared::solve::solve;

use crate::components::series_plot::{Place, SeriesPlot};
use crate::measuring::sheets::quantity;
use crate::measuring::signed::stage_label;
use crate::platform;
use crate::state::person::{Person, person};
use crate::state::shelf::shelf;

/// Jobs of one body.
#[derive(Debug, Clone)]
struct Group {
    name: String,
    jobs: Vec<Job>,
}

/// A body's jobs with what they say together.
#[derive(Debug)]
struct Told {
    jobs: Vec<Job>,
    history: History,
}

/// The part.
#[component]
pub fn HistoryDesk() -> impl IntoView {
    let (person, shelf) = (person(), shelf());
    let groups = RwSignal::new(None::<Vec<Group>>);
    let told = RwSignal::new(None::<Arc<Told>>);
    let loaded = StoredValue::new(false);
    Effect::new(move || {
        if !shelf.ready.get() || loaded.get_value() {
            return;
        }
        loaded.set_value(true);
        spawn_local(async move {
            let covers = shelf.covers.get_untracked().into_iter();
            let here = covers.filter(|cover| cover.here).map(|cover| cover.id);
            let jobs = shelf.jobs(here).await;
            drop(groups.try_set(Some(grouped(&jobs))));
        });
    });
    let choose = move |event: leptos::ev::Event| {
        let chosen = event_target_value(&event);
        told.set(None);
        spawn_local(async move {
            // The choice is drawn first.
            TimeoutFuture::new(30).await;
            let groups = groups.get_untracked().unwrap_or_default();
            let Some(group) = groups.into_iter().find(|group| group.name == chosen) else {
                return;
            };
            drop(told.try_set(Some(Arc::new(tell(group.jobs)))));
        });
    };
    let options = move || {
        let option = |group: Group| {
            let name = group.name.clone();
            let count = group.jobs.len().to_string();
            let jobs = person.library().history_jobs.replacen("{}", &count, 1);
            view! { <option value=name>{group.name} " · " {jobs}</option> }
        };
        let groups = groups.get().unwrap_or_default();
        groups.into_iter().map(option).collect_view()
    };
    let is_empty = move || groups.read().as_ref().is_some_and(Vec::is_empty);
    let is_loading = move || groups.read().is_none();
    view! {
        <section>
            <h2>{person.library_word(|library| library.history_title)}</h2>
            <p class="quiet">{person.library_word(|library| library.history_why)}</p>
            <Show when=is_loading><p role="status" class="empty">{person.word(|words| words.loading)}</p></Show>
            <Show when=is_empty><p class="empty">{person.library_word(|library| library.history_none)}</p></Show>
            <Show when=move || !is_empty() && !is_loading()>
                <label class="field">
                    <span>{person.library_word(|library| library.history_body)}</span>
                    <select name="body" on:change=choose>
                        <option value="">"–"</option>
                        {options}
                    </select>
                </label>
            </Show>
            {move || told.get().map(|told| view! { <Body told /> })}
        </section>
    }
}

/// Jobs with the same VIN (one car that came again), and those with the same sheet (cars of one kind),
/// where there are at least two.
fn grouped(jobs: &[Job]) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for job in jobs {
        let vin = job.card.vin.clone().filter(|vin| !vin.is_empty());
        let sheet = job.sheet.as_ref().map(|sheet| sheet.name.clone());
        for name in [vin, sheet].into_iter().flatten() {
            match groups.iter_mut().find(|group| group.name == name) {
                Some(group) => group.jobs.push(job.clone()),
                None => groups.push(Group {
                    name,
                    jobs: vec![job.clone()],
                }),
            }
        }
    }
    groups.retain(|group| group.jobs.len() > 1);
    groups
}

fn tell(jobs: Vec<Job>) -> Told {
    let results: Vec<_> = jobs.iter().map(solve).collect();
    let visits: Vec<Visit<'_>> = jobs
        .iter()
        .zip(&results)
        .map(|(job, result)| Visit { job, result })
        .collect();
    let history = history(&visits);
    Told { jobs, history }
}

/// What differs, and a plot per quantity.
#[component]
fn Body(told: Arc<Told>) -> impl IntoView {
    let person = person();
    let (library, figures) = (person.library(), person.figures());
    let voice = person.voice();
    let job = |visit: usize| told.jobs.get(visit).cloned().unwrap_or_default();
    let when = |visit: usize| job(visit).card.number;
    let lines: Vec<_> = told
        .history
        .between
        .iter()
        .map(|between| {
            let values = [
                quantity(voice, &job(between.to.visit), &between.quantity),
                figures.length(between.change_mm),
                figures.length(2.0 * between.sigma_mm),
                when(between.from.visit),
                when(between.to.visit),
            ];
            let line = values
                .iter()
                .fold(library.differs_line.to_owned(), |text, value| {
                    text.replacen("{}", value, 1)
                });
            view! { <li>{line}</li> }
        })
        .collect();
    let heading = match lines.is_empty() {
        true => library.differs_none,
        false => library.differs,
    };
    let is_plotted = |series: &&Series| series.samples.len() > 1;
    let plotted = told.history.series.iter().filter(is_plotted);
    let differs = |series: &Series| {
        let mut between = told.history.between.iter();
        between.any(|between| between.quantity == series.quantity)
    };
    // What differs is looked at first; the rest waits until somebody asks.
    let (first, rest): (Vec<&Series>, Vec<&Series>) = plotted.partition(|series| differs(series));
    let [first, rest] = [first, rest].map(|some| {
        some.into_iter()
            .map(|series| plotted_one(person, &told.jobs, series))
            .collect::<Vec<_>>()
    });
    let rest = (!rest.is_empty()).then(|| {
        let count = library
            .differs_rest
            .replacen("{}", &rest.len().to_string(), 1);
        view! {
            <details class="concern" open=first.is_empty() data-test="plots-rest">
                <summary>{count}</summary>
                <div class="plots">{rest}</div>
            </details>
        }
    });
    view! {
        <p>{heading}</p>
        <ul class="lines" data-test="differs">{lines}</ul>
        <div class="plots" data-test="plots">{first}</div>
        {rest}
    }
}

/// The plot of one quantity.
fn plotted_one(person: Person, jobs: &[Job], series: &Series) -> impl IntoView + use<> {
    let job = |visit: usize| jobs.get(visit).cloned().unwrap_or_default();
    let figures = person.figures();
    let first = series.samples.first().map_or(0, |sample| sample.visit);
    let name = quantity(person.voice(), &job(first), &series.quantity);
    let language = person.language.get_untracked().code();
    let place = |sample: &Sample| {
        let of = job(sample.visit);
        let at = sample.at_ms.map(|at| platform::moment(at, language));
        let said = [
            Some(of.card.number.clone()),
            Some(stage_label(&of, &sample.stage)),
            at,
            Some(figures.length(sample.value_mm)),
        ];
        Place {
            visit: sample.visit,
            name: of.card.number,
            value_mm: sample.value_mm,
            sigma_mm: sample.sigma_mm,
            said: said.into_iter().flatten().collect::<Vec<_>>().join(" · "),
        }
    };
    let places: Vec<Place> = series.samples.iter().map(place).collect();
    let is_width = matches!(&series.quantity, Quantity::Pair(_, _, "width_mm"));
    let from_zero = !is_width && matches!(series.quantity, Quantity::Pair(..));
    view! {
        <figure class="series">
            <figcaption>{name.clone()}</figcaption>
            <SeriesPlot places label=name from_zero band_mm=None figures />
        </figure>
    }
}
