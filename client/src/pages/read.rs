//! Read: the screen that is used most. Nothing is chosen twice; the book answers at once.

use std::collections::BTreeSet;
use std::sync::Arc;

use leptos::prelude::*;
use shared::adjust::sorting::gather;
use shared::job::Job;

use crate::components::keypad::{Keypad, Press};
use crate::components::readings::GrowingLines;
use crate::components::safety::Safety;
use crate::measuring::entry::Key;
use crate::measuring::history;
use crate::measuring::task::Kind;
use crate::pages::book::Bay;
use crate::pages::no_points::NoPoints;
use crate::pages::trust_offer::TrustOffer;
use crate::platform;
use crate::state::book::book;
use crate::state::person::person;

pub mod answer;
pub mod choice;
pub mod chooser;
mod half;
mod hold;
mod others;
pub mod reader;
pub mod selects;

use answer::AnswerLine;
pub use choice::Choice;
use chooser::Chooser;
pub use reader::Reader;
use selects::{Selects, SideSwitch};

/// The screen.
#[component]
pub fn ReadPage() -> impl IntoView {
    let person = person();
    let reader = Reader::new(book());
    provide_context(reader);
    let voice = move || person.voice();
    let again = platform::kept("read-again");
    if let Some(choice) = again.and_then(|text| Choice::from_line(&text)) {
        platform::forget("read-again");
        reader.book.kind.set(choice.task.kind.name().to_owned());
        reader.take_up(choice);
    } else {
        half::bring_back(&reader, person.unit.get_untracked());
    }
    // A hardware tape types digits and Enter, wherever the thumb is.
    let typed = window_event_listener(leptos::ev::keydown, move |event| {
        let in_field = event_target_is_field(&event);
        if in_field || event.ctrl_key() || event.meta_key() || event.alt_key() {
            return;
        }
        let press = match event.key().as_str() {
            "Enter" if !event_target_is_button(&event) => Press::Enter,
            "Backspace" => Press::Key(Key::Back),
            "Escape" => Press::Key(Key::Clear),
            key => match key.chars().next() {
                Some(c)
                    if key.chars().count() == 1
                        && (c.is_ascii_digit() || ".,/ ".contains(c))
                        && !(c == ' ' && event_target_is_button(&event)) =>
                {
                    Press::Key(Key::Character(c))
                }
                _ => return,
            },
        };
        event.prevent_default();
        reader.press(press, untrack(voice));
    });
    on_cleanup(move || typed.remove());
    // The others see what is read next.
    let place = Memo::new(move |_| {
        let task = reader.proposal()?.task;
        Some(voice().point(&reader.book.job.read(), &task.point))
    });
    let online = Memo::new(move |_| reader.book.badge.read().online);
    // Who comes later has not heard it.
    let company = Memo::new(move |_| -> BTreeSet<String> {
        let others = reader.book.others().into_iter();
        gather(others.map(|other| other.from))
    });
    Effect::new(move || {
        company.track();
        if let Some(place) = place.get().filter(|_| online.get()) {
            reader.book.at(&place);
        }
    });
    let bay = use_context::<Option<Bay>>().flatten();
    let listed = after_the_answer(reader.book.job);
    let lines = Memo::new(move |_| {
        let (job, result) = (listed.get(), reader.book.result.get());
        let stage = reader.book.stage.get();
        stage.map_or_else(Vec::new, |stage| {
            let lines = history::lines(&job, result.as_deref(), &stage);
            lines.into_iter().map(Arc::new).collect()
        })
    });
    view! {
        <div class="read" class:asked=move || reader.question.read().is_some()>
            <TrustOffer book=reader.book />
            <Selects reader />
            <Chooser reader voice=Signal::derive(voice) />
            <NoPoints book=reader.book />
            {bay.map(|bay| (bay.tape)(reader, Signal::derive(voice)))}
            <AnswerLine reader voice=Signal::derive(voice) />
            <div class="dock">
            <div class="entry">
                <SideSwitch reader voice=Signal::derive(voice) />
                <output class="number-shown" aria-live="polite" data-test="entry" data-unfinished=move || reader.is_unfinished()>
                    {move || reader.entry.get().shown()} " " <small>{move || voice().figures.unit_name()}</small>
                </output>
            </div>
            <p role="alert" class="error">{move || reader.error.get()}</p>
            <Keypad
                unit=person.unit
                can_touch=Signal::derive(move || matches!(reader.kind(), Kind::Height | Kind::Offset))
                names=Signal::derive(move || {
                    let words = voice().measuring;
                    [words.touches, words.enter, words.take_back]
                })
                decimal=Signal::derive(move || if person.language.get() == crate::text::Language::Spanish { ',' } else { '.' })
                press=move |press| reader.press(press, untrack(voice))
            />
            </div>
            <input
                name="note"
                placeholder=move || voice().measuring.note_prompt
                aria-label=move || voice().measuring.note_prompt
                prop:value=reader.note
                on:input=move |event| reader.note.set(event_target_value(&event))
            />
            <section class="recent">
                <h2>{move || voice().measuring.readings_of_stage}</h2>
                <Show
                    when=move || !lines.read().is_empty()
                    fallback=move || view! { <p class="empty">{voice().measuring.none_yet}</p> }
                >
                    <GrowingLines lines job=listed voice=Signal::derive(voice) />
                </Show>
            </section>
            <Safety />
        </div>
    }
}

/// The car as the list of readings shows it: one frame behind, because what the book answers stands
/// above it and is waited for.
fn after_the_answer(job: RwSignal<Arc<Job>>) -> RwSignal<Arc<Job>> {
    let listed = RwSignal::new(job.get_untracked());
    Effect::new(move || {
        let newest = job.get();
        if listed.read_untracked().readings.is_empty() {
            listed.set(newest);
            return;
        }
        leptos::task::spawn_local(async move {
            platform::painted().await;
            // The page may be gone by then.
            if let Some(newest) = job.try_get_untracked() {
                drop(listed.try_set(newest));
            }
        });
    });
    listed
}

fn event_target_is_field(event: &web_sys::KeyboardEvent) -> bool {
    target_matches(event, "input, select, textarea")
}

fn event_target_is_button(event: &web_sys::KeyboardEvent) -> bool {
    target_matches(event, "button, a, summary")
}

fn target_matches(event: &web_sys::KeyboardEvent, selector: &str) -> bool {
    use wasm_bindgen::JsCast;
    let element = event
        .target()
        .and_then(|target| target.dyn_into::<web_sys::Element>().ok());
    element.is_some_and(|element| element.matches(selector).unwrap_or(false))
}
