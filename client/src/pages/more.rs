//! What is set up once: points, stages, lasers and their set-ups, files.

pub mod lasers;
pub mod setups;

use leptos::prelude::*;
use shared::book::Intention;
use shared::ids::{PointId, StageId};
use shared::job::{Load, Point, Side, Stage, StageKind};

use crate::components::field::{Choices, Field};
use crate::components::safety::Safety;
use crate::platform;
use crate::state::book::book;
use crate::state::person::person;
use crate::state::practice::is_practice;
use crate::state::route::{Route, Tab};
use lasers::Lasers;
use setups::Setups;

/// The page.
#[component]
pub fn MorePage() -> impl IntoView {
    let (person, book) = (person(), book());
    let error = RwSignal::new(None::<String>);
    let act = Callback::new(move |intention: Intention| {
        error.set(
            book.act(&intention)
                .err()
                .map(|refused| person.voice().refused(&refused)),
        );
    });
    let save = move |_| {
        let number = book.job.read_untracked().card.number.clone();
        // A browser that refuses a download says so itself.
        let _ = platform::save_file(&format!("{number}.baybook"), &book.bytes());
    };
    let left_out = RwSignal::new(Vec::<String>::new());
    let save_job = move |_| {
        let number = book.job.read_untracked().card.number.clone();
        match book.job_file() {
            Some(Ok((text, findings))) => {
                let _ = platform::save_file(&format!("{number}.json"), text.as_bytes());
                let lines = findings
                    .iter()
                    .map(|finding| format!("{} {}", finding.subject, finding.values.join(" / ")));
                left_out.set(lines.collect());
            }
            Some(Err(too_much)) => error.set(Some(too_much.to_string())),
            None => {}
        }
    };
    // A practice car is neither signed nor judged by a sheet, and no file of it leaves this phone.
    let is_real = !is_practice(&book.id.get_value());
    view! {
        <div class="more">
            <p role="alert" class="error">{move || error.get()}</p>
            <Show when=move || is_real>
                <a class="button primary" data-test="go-sign" href=move || Route::Book(book.id.get_value(), Tab::Sign).href()>
                    {person.word(|words| words.sign_and_share)}
                </a>
                <a class="button" data-test="go-sheet" href=move || Route::Book(book.id.get_value(), Tab::Sheet).href()>
                    {person.word(|words| words.dimension_sheet)}
                </a>
                <a class="button" data-test="go-photos" href=move || Route::Book(book.id.get_value(), Tab::Photos).href()>
                    {person.word(|words| words.photos)} {move || format!(" ({})", book.photos.read().len())}
                </a>
            </Show>
            <Stages act />
            <Setups act />
            <Lasers act />
            <Points act />
            <section hidden=!is_real>
                <button type="button" on:click=save>{person.word(|words| words.export_book)}</button>
                <button type="button" data-test="export-job" on:click=save_job>{person.word(|words| words.export_job)}</button>
                <Show when=move || !left_out.read().is_empty()>
                    <p role="status">{person.word(|words| words.export_left)}</p>
                    <ul class="lines">{move || left_out.get().into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
                </Show>
            </section>
            <Safety />
        </div>
    }
}

#[component]
fn Stages(act: Callback<Intention>) -> impl IntoView {
    let (person, book) = (person(), book());
    let words = move || person.words();
    let label = RwSignal::new(String::new());
    let kind = RwSignal::new((StageKind::Pull, Some(Load::Under)));
    let kinds = move || {
        let words = words();
        let pull = |load: &str| format!("{} · {load}", words.of_pull);
        vec![
            (
                (StageKind::AsReceived, None),
                words.of_as_received.to_owned(),
            ),
            ((StageKind::Pull, Some(Load::Under)), pull(words.load_under)),
            (
                (StageKind::Pull, Some(Load::Released)),
                pull(words.load_released),
            ),
            ((StageKind::Final, None), words.of_final.to_owned()),
        ]
    };
    let begin = move |_| {
        let Ok(id) = StageId::parse(&platform::fresh_id().to_string()) else {
            return;
        };
        let (of, load) = kind.get_untracked();
        let typed = label.get_untracked();
        let word = kinds()
            .into_iter()
            .find(|(known, _)| *known == (of, load))
            .map(|(_, word)| word)
            .unwrap_or_default();
        let label_text = if typed.trim().is_empty() {
            word
        } else {
            typed.trim().to_owned()
        };
        act.run(Intention::BeginStage {
            stage: Stage {
                id: id.clone(),
                label: label_text,
                of,
                load,
            },
        });
        book.stage.set(Some(id));
        label.set(String::new());
    };
    view! {
        <section>
            <h2>{person.word(|words| words.stages)}</h2>
            <ol class="lines">
                {move || book.job.get().stages.iter().map(|stage| view! { <li>{stage.label.clone()}</li> }).collect_view()}
            </ol>
            <Choices label=person.word(|words| words.begin_stage) options=Signal::derive(kinds) chosen=kind choose=move |to| kind.set(to) />
            <Field name="stage" label=person.word(|words| words.stage_label) value=label />
            <button type="button" data-test="begin-stage" on:click=begin>{person.word(|words| words.begin_stage)}</button>
        </section>
    }
}

#[component]
fn Points(act: Callback<Intention>) -> impl IntoView {
    let (person, book) = (person(), book());
    let words = move || person.words();
    let label = RwSignal::new(String::new());
    let add = move |centre: bool| {
        let name = label.get_untracked().trim().to_owned();
        if name.is_empty() {
            return;
        }
        let fresh = platform::fresh_id().to_string();
        let id = |ending: &str| PointId::parse(&format!("{fresh}{ending}")).ok();
        let point = |side, mirror, y| Point {
            label: name.clone(),
            side,
            mirror,
            place_mm: [0.0, y, 500.0],
            place_sigma_mm: Some(2000.0),
            trusted: false,
            member: None,
        };
        if centre {
            if let Some(id) = id("") {
                act.run(Intention::AddPoint {
                    id,
                    point: point(Side::Centre, None, 0.0),
                });
            }
        } else if let (Some(left), Some(right)) = (id("-L"), id("-R")) {
            act.run(Intention::AddPoint {
                id: left.clone(),
                point: point(Side::Left, Some(right.clone()), -500.0),
            });
            act.run(Intention::AddPoint {
                id: right,
                point: point(Side::Right, Some(left), 500.0),
            });
        }
        label.set(String::new());
    };
    let lines = move || {
        let line = |(id, point): (&PointId, &Point)| view! { <PointLine id=id.clone() point=point.clone() act /> };
        book.job.get().points.iter().map(line).collect_view()
    };
    view! {
        <section>
            <h2>{person.word(|words| words.points)}</h2>
            <p>{person.word(|words| words.trust_why)}</p>
            <ul class="lines">{lines}</ul>
            <Field name="point" label=person.word(|words| words.label) value=label />
            <button type="button" on:click=move |_| add(false)>{move || format!("+ {} / {}", words().left, words().right)}</button>
            <button type="button" on:click=move |_| add(true)>{move || format!("+ {}", words().centre)}</button>
        </section>
    }
}

/// One point with its switch of trust.
#[component]
fn PointLine(id: PointId, point: Point, act: Callback<Intention>) -> impl IntoView {
    let person = person();
    let words = move || person.words();
    let (side, trusted) = (point.side, point.trusted);
    let side_word = move || match side {
        Side::Left => words().left,
        Side::Right => words().right,
        Side::Centre => words().centre,
    };
    let turn = move |_| {
        act.run(Intention::TrustPoint {
            id: id.clone(),
            trusted: !trusted,
        })
    };
    view! {
        <li class="point-line">
            <span>{point.label.clone()} " · " {side_word}</span>
            <button type="button" aria-pressed=trusted.to_string() on:click=turn>
                {move || if trusted { words().trusted } else { words().not_trusted }}
            </button>
        </li>
    }
}
