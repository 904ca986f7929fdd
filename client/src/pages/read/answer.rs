//! What the book says to a reading: the question when it is far off, else the pair's difference.

use leptos::prelude::*;
use shared::book::Intention;

use super::Reader;
use crate::components::mark::{Mark, verdict_word};
use crate::measuring::answer::{Answer, Check, answer};
use crate::measuring::sentences::Voice;
use crate::measuring::task::Task;
use crate::pages::photo_button::PhotoButton;
use crate::platform;
use crate::state::photos::About;
use crate::state::shelf::shelf;

/// How long after an entry the answer to it may still grow.
const GROWS_MS: i64 = 1_000;

/// The line above the keypad.
#[component]
pub fn AnswerLine(
    /// What is being entered.
    reader: Reader,
    /// The language.
    #[prop(into)]
    voice: Signal<Voice>,
) -> impl IntoView {
    let found = Memo::new(move |_| {
        let id = reader.answered.get()?;
        let (job, result) = (reader.book.job.get(), reader.book.result.get());
        let reading = job.readings.iter().find(|reading| reading.id == id)?;
        let foreseen = reader.book.foreseen.get();
        let foreseen = foreseen.filter(|(of, _)| *of == id).map(|(_, pair)| pair);
        Some(Found {
            answer: answer(&job, result.as_deref(), foreseen.as_ref(), reading),
            reading: voice.get().reading(&job, reading),
        })
    });
    // What stays as it is from reading to reading is not drawn anew: less to wait for, and a button
    // under a finger stays the same button.
    let shows =
        Memo::new(
            move |_| match (reader.question.read().is_some(), found.read().is_some()) {
                (true, _) => Shows::Question,
                (false, true) => Shows::Answer,
                (false, false) => Shows::How,
            },
        );
    // Whoever scrolled down to Enter sees what the book says to it, also when a notice comes over the page.
    let notices = shelf().notices;
    let line = NodeRef::new();
    let show = move || {
        if let Some(line) = line.get_untracked() {
            platform::bring_into_view(line);
        }
    };
    let said_ms = StoredValue::new(0);
    Effect::new(move || {
        notices.track();
        if reader.question.read().is_some() || reader.answered.read().is_some() {
            said_ms.set_value(platform::now_ms());
            show();
        }
    });
    // It grows by what the solution adds. Later on, and under a finger that goes on, the page stays.
    Effect::new(move || {
        reader.book.result.track();
        let is_fresh = platform::now_ms() - said_ms.get_value() < GROWS_MS;
        if is_fresh && !untrack(|| reader.is_unfinished()) {
            show();
        }
    });
    view! {
        <div node_ref=line class="answer" role="status" aria-live="polite" data-test="answer">
            {move || match shows.get() {
                Shows::Question => view! { <Asked reader voice /> }.into_any(),
                Shows::Answer => view! { <Said reader found voice /> }.into_any(),
                Shows::How => view! { <p class="how">{move || voice.get().how(reader.kind())}</p> }.into_any(),
            }}
        </div>
    }
}

/// What stands in the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Shows {
    /// A number is far from the rest.
    Question,
    /// What a recorded reading says.
    Answer,
    /// How to hold the tape.
    How,
}

/// A recorded reading, and what the book makes of it.
#[derive(Debug, Clone, PartialEq)]
struct Found {
    answer: Answer,
    /// The reading in words.
    reading: String,
}

/// The question before a number counts that is far from the rest.
#[component]
fn Asked(reader: Reader, voice: Signal<Voice>) -> impl IntoView {
    let text = move || {
        reader
            .question
            .get()
            .map(|question| voice.get().far(&question))
    };
    // What it is about, also for whoever looks up from under the car.
    let of = move || {
        let question = reader.question.get()?;
        Some(
            voice
                .get()
                .reading(&reader.book.job.read(), &question.reading),
        )
    };
    let keep = move |_| {
        if let Some(question) = reader.question.get_untracked() {
            reader.record(&question.reading, voice.get_untracked());
        }
    };
    let again = move |_| {
        reader.question.set(None);
        reader.press(super::Press::Key(super::Key::Clear), voice.get_untracked());
    };
    view! {
        <p class="quiet">{of}</p>
        <p><b>{text}</b></p>
        <div class="row">
            <button type="button" class="first" data-test="read-again" on:click=again>{move || voice.get().measuring.read_again}</button>
            <button type="button" data-test="keep" on:click=keep>{move || voice.get().measuring.keep_it}</button>
        </div>
    }
}

/// The answer to a reading that was recorded.
#[component]
fn Said(reader: Reader, found: Memo<Option<Found>>, voice: Signal<Voice>) -> impl IntoView {
    let reading = move || found.get().map(|found| found.reading);
    let difference = Memo::new(move |_| {
        let (quantity, judged) = found.get()?.answer.judged?;
        judged.value?;
        let voice = voice.get();
        let verdict = judged
            .verdict
            .map(|verdict| (verdict, verdict_word(voice.words, verdict)));
        Some((
            verdict,
            voice.quantity(quantity, &judged),
            voice.doubt(&judged),
        ))
    });
    let difference = move || {
        let (verdict, text, doubt) = difference.get()?;
        let mark =
            verdict.map(|(verdict, word)| view! { <Mark verdict /> " " <b>{word}</b> " · " });
        Some(view! { <p class="difference">{mark} {text} <small>" " {doubt}</small></p> })
    };
    let other = Memo::new(move |_| {
        let id = found.get()?.answer.unread_half?;
        let voice = voice.get();
        let point = voice.point(&reader.book.job.get(), &id);
        Some(format!("{} {point}", voice.measuring.read_other_half))
    });
    let other = move || other.get().map(|text| view! { <p>{text}</p> });
    let check = Memo::new(move |_| {
        let check = found.get()?.answer.check?;
        let is_doubted = matches!(check, Check::Suspect(_));
        Some((is_doubted, voice.get().check(&check)))
    });
    let checked = move || {
        Some(check.get()?)
            .filter(|(is_doubted, _)| !is_doubted)
            .map(|(_, text)| text)
    };
    let of = move || {
        let id = reader.answered.get()?;
        let job = reader.book.job.get();
        job.readings.iter().find(|one| one.id == id).cloned()
    };
    // Choosing its task again makes the next number replace it.
    let again = move |_| {
        if let Some(task) = untrack(of).as_ref().and_then(Task::of) {
            reader.book.kind.set(task.kind.name().to_owned());
            reader.choose(task);
        }
    };
    let doubt = move || {
        let (_, text) = check.get().filter(|(is_doubted, _)| *is_doubted)?;
        Some(view! {
            <div class="row doubted">
                <p><span class="doubt-mark" aria-hidden="true">"?"</span> " " <b>{text}</b></p>
                <button type="button" data-test="read-it-again" on:click=again>{move || voice.get().measuring.read_again}</button>
            </div>
        })
    };
    let about = Callback::new(move |()| {
        let reading = of();
        About {
            stage: reading.as_ref().map(|one| one.stage.clone()),
            point: reading.and_then(|one| one.taken.points().next().cloned()),
            reading: reader.answered.get(),
            caption: String::new(),
        }
    });
    let undo = move |_| {
        let Some(undone) = untrack(of) else {
            return;
        };
        let why = voice.get_untracked().measuring.undo.to_owned();
        let reading = undone.id.clone();
        match reader
            .book
            .act(&Intention::SetReadingAside { reading, why })
        {
            Ok(()) => reader.take_back(&undone),
            Err(refused) => reader
                .error
                .set(Some(voice.get_untracked().refused(&refused))),
        }
    };
    view! {
        <div class="row">
            <div class="said"><p>{reading}</p> <small>{checked}</small></div>
            <PhotoButton about />
            <button type="button" data-test="undo" on:click=undo>{move || voice.get().measuring.undo}</button>
        </div>
        {doubt}
        {difference}
        {other}
    }
}
