//! A practice car beside its truth, in plain sentences.

use leptos::prelude::*;
use shared::result::Judged;
use shared::simulate::practice::{Compared, Comparison, Outcome, Practice, compare};
use shared::speech::fill;

use crate::components::safety::Safety;
use crate::measuring::sentences::Voice;
use crate::state::book::{Book, book};
use crate::state::person::person;
use crate::state::practice::{PracticeCar, practice_car};
use crate::text::practice::Practice as Words;

/// The page; empty for a real car.
#[component]
pub fn TruthPage() -> impl IntoView {
    let (person, book) = (person(), book());
    let is_shown = RwSignal::new(false);
    let told = move || {
        let car = practice_car()?;
        Some(match is_shown.get() {
            true => view! { <Told book car voice=person.voice() words=person.practice() /> }.into_any(),
            false => {
                view! {
                    <p>{person.practice_word(|words| words.compare_first)}</p>
                    <button type="button" class="primary" data-test="show-truth" on:click=move |_| is_shown.set(true)>
                        {person.practice_word(|words| words.show_truth)}
                    </button>
                }
                .into_any()
            }
        })
    };
    view! {
        <div class="truth" aria-live="polite">{told}</div>
        <Safety />
    }
}

/// What was found, what was missed, how far off it all was.
#[component]
fn Told(book: Book, car: PracticeCar, voice: Voice, words: &'static Words) -> impl IntoView {
    let (job, result) = (book.job.get(), book.result.get()?);
    let practice = car.0.get_value();
    let found = compare(&practice, &job, &result);
    let line = |pair: &Compared| {
        let truth = Judged {
            value: Some(pair.true_mm),
            ..Judged::default()
        };
        let truth = voice.quantity(pair.quantity, &truth);
        let said = voice.quantity(pair.quantity, &pair.found);
        let said = words.not_settled.replacen("{}", &said, 1);
        let (label, in_truth) = (voice.label(&job, &pair.left), words.in_truth);
        view! { <li>{format!("{label}: {in_truth} {truth}; {said}")}</li> }
    };
    let list = |name: &'static str, outcome: Outcome| {
        let mut lines = found
            .pairs
            .iter()
            .filter(|pair| pair.outcome == outcome)
            .map(line);
        let lines = match lines.next() {
            None => view! { <li>{words.none}</li> }.into_any(),
            Some(first) => view! { {first} {lines.collect_view()} }.into_any(),
        };
        view! {
            <section>
                <h2>{name}</h2>
                <ul class="lines told">{lines}</ul>
            </section>
        }
    };
    let straight = found
        .pairs
        .iter()
        .filter(|pair| pair.outcome == Outcome::Straight);
    let straight = fill(words.straight, &[&straight.count().to_string()]);
    let carried = carried(&practice, &found, voice, words, &job);
    Some(view! {
        <ul class="lines told" data-test="told">
            {sums(&found, voice, words).into_iter().chain(carried).map(|line| view! { <li>{line}</li> }).collect_view()}
            <li>{straight}</li>
        </ul>
        {list(words.found, Outcome::Found)}
        {list(words.missed, Outcome::Missed)}
        {list(words.open, Outcome::Open)}
        {list(words.alarms, Outcome::FalseAlarm)}
    })
}

/// How many readings, how many of them misread, and how honest the spreads were.
fn sums(found: &Comparison, voice: Voice, words: &Words) -> Vec<String> {
    let number = |count: usize| count.to_string();
    let slips = [found.slips, found.slips_counting].map(number);
    let mut lines = vec![
        fill(words.used, &[&number(found.readings)]),
        fill(words.slips, &[&slips[0], &slips[1]]),
    ];
    match found.spread_mm.zip(found.error_mm) {
        None => lines.push(words.nothing_judged.to_owned()),
        Some((spread, error)) => {
            let (spread, error) = (voice.figures.spread(spread), voice.figures.size(error));
            lines.push(fill(words.spread, &[&spread, &error]));
            let counts = [found.within_twice, found.judged].map(number);
            lines.push(fill(words.honest, &[&counts[0], &counts[1]]));
        }
    }
    lines
}

/// What the blow moved, and which reference was bent.
fn carried(
    practice: &Practice,
    found: &Comparison,
    voice: Voice,
    words: &Words,
    job: &shared::job::Job,
) -> Vec<String> {
    let struck = voice.member(job, &practice.struck);
    let ways = voice.ways(&practice.moved_mm.map(Some));
    let named = match &found.cause {
        None => words.named_none.to_owned(),
        Some(member) if *member == practice.struck => words.named.to_owned(),
        Some(member) => fill(words.named_other, &[&voice.member(job, member)]),
    };
    let mut lines = vec![format!(
        "{}. {named}",
        fill(words.struck, &[&struck, &ways])
    )];
    if let Some(((id, up), (_, is_seen))) = practice.bent.as_ref().zip(found.bent.as_ref()) {
        let bent = fill(
            words.bent,
            &[&voice.point(job, id), &voice.figures.size(*up)],
        );
        let seen = if *is_seen {
            words.bent_seen
        } else {
            words.bent_unseen
        };
        lines.push(format!("{bent} {seen}"));
    }
    lines
}
