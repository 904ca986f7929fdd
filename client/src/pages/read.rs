//! Read: the screen that is used most. Nothing is chosen twice; the book answers at once.

use std::sync::Arc;

use leptos::prelude::*;
use shared::ids::{PointId, ReadingId, SetupId, StageId};
use shared::job::{Job, Reading, Taken};

use crate::components::keypad::{Keypad, Press};
use crate::components::readings::GrowingLines;
use crate::components::safety::Safety;
use crate::measuring::answer::Question;
use crate::measuring::entry::{Entry, Key};
use crate::measuring::history;
use crate::measuring::propose::{Here, Proposal, Why, propose};
use crate::measuring::sentences::Voice;
use crate::measuring::task::{BeamSide, Kind, Task, likely_side};
use crate::pages::book::Bay;
use crate::pages::no_points::NoPoints;
use crate::platform;
use crate::state::book::{Book, book};
use crate::state::person::person;

pub mod answer;
pub mod chooser;
pub mod selects;

use answer::AnswerLine;
use chooser::Chooser;
use selects::{Selects, SideSwitch};

/// What is being entered on this screen.
#[derive(Debug, Clone, Copy)]
pub struct Reader {
    pub(crate) book: Book,
    /// The number so far.
    entry: RwSignal<Entry>,
    /// A task that a person chose instead of the proposed one.
    pub(crate) chosen: RwSignal<Option<Task>>,
    /// The task in hand: chosen by a person, or proposed.
    proposal: Memo<Option<Proposal>>,
    /// The point read last.
    last: RwSignal<Option<PointId>>,
    /// The switch, when a person turned it.
    turned: RwSignal<Option<BeamSide>>,
    /// A reading that waits for a word because it is far from the rest.
    pub(crate) question: RwSignal<Option<Question>>,
    /// The reading that is being answered.
    pub(crate) answered: RwSignal<Option<ReadingId>>,
    /// A word that goes with the next reading.
    note: RwSignal<String>,
    /// Why the last entry was not taken.
    pub(crate) error: RwSignal<Option<String>>,
}

impl Reader {
    fn new(book: Book) -> Self {
        let (chosen, last) = (RwSignal::new(None), RwSignal::new(None));
        Self {
            book,
            entry: RwSignal::default(),
            chosen,
            proposal: Memo::new(move |_| proposal(book, chosen, last)),
            last,
            turned: RwSignal::new(None),
            question: RwSignal::new(None),
            answered: RwSignal::new(None),
            note: RwSignal::new(String::new()),
            error: RwSignal::new(None),
        }
    }

    pub(crate) fn kind(&self) -> Kind {
        kind(self.book)
    }

    /// The task in hand: chosen by a person, or proposed.
    pub(crate) fn proposal(&self) -> Option<Proposal> {
        self.proposal.get()
    }

    fn side(&self) -> BeamSide {
        let job = self.book.job.get();
        let fallback = BeamSide::Beam(shared::job::Beam::Above);
        let Some(proposal) = self.proposal() else {
            return fallback;
        };
        let likely = likely_side(&job, &proposal.task, self.book.setup.get().as_ref());
        match self.turned.get() {
            Some(side) if std::mem::discriminant(&side) == std::mem::discriminant(&likely) => side,
            _ => likely,
        }
    }

    /// The task in hand as it would be taken; its value says nothing yet.
    pub(crate) fn asked(&self) -> Option<Taken> {
        let task = self.proposal()?.task;
        let setup = self.book.setup.get();
        let setup = setup.as_ref().filter(|_| task.kind.needs_setup());
        task.taken(setup, self.side(), 0.0)
    }

    /// Types a number in, with the switch as it was read.
    pub(crate) fn type_in(&self, entry: Entry, side: Option<BeamSide>) {
        self.error.set(None);
        self.question.set(None);
        self.entry.set(entry);
        if side.is_some() {
            self.turned.set(side);
        }
    }

    /// Is something half entered?
    fn is_unfinished(&self) -> bool {
        let note = self.note.read();
        !self.entry.read().is_empty() || self.question.read().is_some() || !note.trim().is_empty()
    }

    fn press(&self, press: Press, voice: Voice) {
        self.error.set(None);
        match press {
            Press::Key(key) => self.entry.update(|entry| entry.press(key)),
            Press::Touches => self.enter(0.0, "0".to_owned(), voice),
            Press::Enter => {
                let entry = self.entry.get_untracked();
                match entry.value_mm(voice.figures.unit) {
                    Ok(value) => self.enter(
                        value,
                        format!("{} {}", entry.shown(), voice.figures.unit_name()),
                        voice,
                    ),
                    Err(error) => self.error.set(Some(voice.not_taken(error))),
                }
            }
        }
    }

    /// Takes a number: asks when it is far from the rest, else records it.
    fn enter(&self, value_mm: f64, entered: String, voice: Voice) {
        let (Some(proposal), Some(stage)) =
            (untrack(|| self.proposal()), self.book.stage.get_untracked())
        else {
            return;
        };
        let setup = self
            .book
            .setup
            .get_untracked()
            .filter(|_| proposal.task.kind.needs_setup());
        let Some(taken) = proposal
            .task
            .taken(setup.as_ref(), untrack(|| self.side()), value_mm)
        else {
            self.error.set(Some(voice.measuring.no_setup.to_owned()));
            return;
        };
        let Ok(id) = ReadingId::parse(&platform::fresh_id().to_string()) else {
            return;
        };
        let far = self
            .book
            .expect(&stage, &taken, None)
            .filter(|expected| expected.contradicts(value_mm));
        let reading = Reading {
            id,
            stage: stage.clone(),
            replaces: self.replaces(&stage, setup.as_ref(), &proposal),
            taken,
            sigma_mm: None,
            tool: None,
            origin_mm: 0.0,
            by: self.book.me(),
            at: platform::now_text(),
            entered,
            note: self.note.get_untracked().trim().to_owned(),
            set_aside: None,
        };
        match far {
            Some(expected) => self.question.set(Some(Question {
                reading,
                expected_mm: expected.value_mm,
                more_mm: value_mm - expected.value_mm,
            })),
            None => self.record(&reading, voice),
        }
    }

    /// A task that a person chose again corrects its earlier reading.
    fn replaces(
        &self,
        stage: &StageId,
        setup: Option<&SetupId>,
        proposal: &Proposal,
    ) -> Option<ReadingId> {
        if proposal.why != Why::Chosen {
            return None;
        }
        let job = self.book.job.get_untracked();
        let answers = |reading: &&Reading| proposal.task.is_answered_by(reading, stage, setup);
        job.counting_readings()
            .filter(answers)
            .last()
            .map(|reading| reading.id.clone())
    }

    pub(crate) fn record(&self, reading: &Reading, voice: Voice) {
        match self.book.record(reading) {
            Ok(()) => {
                self.entry.set(Entry::default());
                self.note.set(String::new());
                self.question.set(None);
                self.chosen.set(None);
                self.turned.set(None);
                self.last.set(reading.taken.points().next().cloned());
                self.answered.set(Some(reading.id.clone()));
            }
            Err(refused) => self
                .error
                .set(Some(format!("{} {refused}", voice.words.edit_refused))),
        }
    }
}

fn kind(book: Book) -> Kind {
    Kind::named(&book.kind.get()).unwrap_or_default()
}

fn proposal(
    book: Book,
    chosen: RwSignal<Option<Task>>,
    last: RwSignal<Option<PointId>>,
) -> Option<Proposal> {
    let here = Here {
        stage: book.stage.get()?,
        setup: book.setup.get(),
        kind: kind(book),
    };
    if let Some(task) = chosen.get().filter(|task| task.kind == here.kind) {
        return Some(Proposal {
            task,
            why: Why::Chosen,
        });
    }
    let result = book.result.get();
    propose(
        &book.job.read(),
        result.as_deref(),
        &here,
        last.read().as_ref(),
    )
}

/// The screen.
#[component]
pub fn ReadPage() -> impl IntoView {
    let person = person();
    let reader = Reader::new(book());
    provide_context(reader);
    let voice = move || person.voice();
    let again = platform::kept("read-again");
    if let Some(task) = again.and_then(|text| chooser::parse_task(&text)) {
        platform::forget("read-again");
        reader.book.kind.set(task.kind.name().to_owned());
        reader.chosen.set(Some(task));
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
    Effect::new(move || {
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
            <Selects reader />
            <Chooser reader voice=Signal::derive(voice) />
            <NoPoints book=reader.book />
            {bay.map(|bay| (bay.tape)(reader, Signal::derive(voice)))}
            <AnswerLine reader voice=Signal::derive(voice) />
            <div class="dock">
            <div class="entry">
                <SideSwitch reader voice=Signal::derive(voice) />
                <output class="number-shown" aria-live="polite" data-test="entry" data-unfinished=move || reader.is_unfinished()>
                    {move || reader.entry.get().shown()} <small>{move || voice().figures.unit_name()}</small>
                </output>
            </div>
            <p role="alert" class="error">{move || reader.error.get()}</p>
            <Keypad
                inches=person.inches
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
