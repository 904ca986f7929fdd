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
    let found = move || {
        let id = reader.answered.get()?;
        let (job, result) = (reader.book.job.get(), reader.book.result.get());
        let reading = job.readings.iter().find(|reading| reading.id == id)?;
        let foreseen = reader.book.foreseen.get();
        let foreseen = foreseen.filter(|(of, _)| *of == id).map(|(_, pair)| pair);
        Some((
            answer(&job, result.as_deref(), foreseen.as_ref(), reading),
            voice.get().reading(&job, reading),
        ))
    };
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
            {move || match (reader.question.get(), found()) {
                (Some(question), _) => {
                    let text = voice.get().far(&question);
                    view! {
                        <p><b>{text}</b></p>
                        <div class="row">
                            <button type="button" class="first" data-test="read-again" on:click=move |_| {
                                reader.question.set(None);
                                reader.press(super::Press::Key(super::Key::Clear), voice.get_untracked());
                            }>{voice.get().measuring.read_again}</button>
                            <button type="button" data-test="keep" on:click=move |_| reader.record(&question.reading, voice.get_untracked())>
                                {voice.get().measuring.keep_it}
                            </button>
                        </div>
                    }
                        .into_any()
                }
                (None, Some((answer, reading))) => view! { <Said reader answer reading voice=voice.get() /> }.into_any(),
                (None, None) => view! { <p class="how">{voice.get().how(reader.kind())}</p> }.into_any(),
            }}
        </div>
    }
}

/// The answer to a reading that was recorded.
#[component]
fn Said(reader: Reader, answer: Answer, reading: String, voice: Voice) -> impl IntoView {
    let job = reader.book.job.get_untracked();
    let difference = answer.judged.as_ref().filter(|(_, judged)| judged.value.is_some()).map(|(quantity, judged)| {
        let mark = judged.verdict.map(|verdict| view! { <Mark verdict /> <b>{verdict_word(voice.words, verdict)}</b> " · " });
        view! { <p class="difference">{mark} {voice.quantity(*quantity, judged)} <small>" " {voice.doubt(judged)}</small></p> }
    });
    let other = answer.unread_half.as_ref().map(|id| {
        view! { <p>{voice.measuring.read_other_half} " " {voice.point(&job, id)}</p> }
    });
    let is_doubted = matches!(answer.check, Some(Check::Suspect(_)));
    let check = answer.check.as_ref().map(|check| voice.check(check));
    let (doubt, check) = if is_doubted {
        (check, None)
    } else {
        (None, check)
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
    let doubt = doubt.map(|text| {
        view! {
            <div class="row doubted">
                <p><span class="doubt-mark" aria-hidden="true">"?"</span> " " <b>{text}</b></p>
                <button type="button" data-test="read-it-again" on:click=again>{voice.measuring.read_again}</button>
            </div>
        }
    });
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
        let Some(id) = reader.answered.get_untracked() else {
            return;
        };
        let why = voice.measuring.undo.to_owned();
        match reader
            .book
            .act(&Intention::SetReadingAside { reading: id, why })
        {
            Ok(()) => {
                reader.answered.set(None);
                reader.let_go();
            }
            Err(refused) => reader.error.set(Some(refused.to_string())),
        }
    };
    view! {
        <div class="row">
            <div class="said"><p>{reading}</p> <small>{check}</small></div>
            <PhotoButton about />
            <button type="button" data-test="undo" on:click=undo>{voice.measuring.undo}</button>
        </div>
        {doubt}
        {difference}
        {other}
    }
}
