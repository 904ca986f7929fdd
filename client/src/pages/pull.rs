//! Pull: what to pull, one to four pairs watched while pulling, and all stages beside each other.

use leptos::prelude::*;
use shared::book::Intention;
use shared::ids::{PointId, StageId};
use shared::job::{Load, Stage, StageKind};

use super::no_points::NoPoints;
use super::read::Choice;
use crate::components::field::Choices;
use crate::components::mark::{Mark, verdict_word};
use crate::components::pick::{PickField, StageField};
use crate::components::rows::Rows;
use crate::components::safety::Safety;
use crate::components::stage_table::StageTable;
use crate::components::trend_line::TrendLine;
use crate::measuring::propose::{Here, answer_to};
use crate::measuring::sentences::Voice;
use crate::measuring::task::{Kind, Task, label};
use crate::measuring::trend::{MOST_WATCHED, Trend, leading, same_in, to_watch, trends};
use crate::platform;
use crate::state::book::{Book, book};
use crate::state::person::person;
use crate::state::route::{Route, Tab};
use shared::speech::Quantity;

/// The screen.
#[component]
pub fn PullPage() -> impl IntoView {
    let (person, book) = (person(), book());
    let voice = move || person.voice();
    let all = RwSignal::new(false);
    let views = move || {
        let words = voice().measuring;
        vec![
            (false, words.now.to_owned()),
            (true, words.all_stages.to_owned()),
        ]
    };
    let found = Memo::new(move |_| {
        let (job, result) = (book.job.get(), book.result.get());
        result
            .map(|result| trends(&job, &result))
            .unwrap_or_default()
    });
    let table = move || {
        let job = book.job.get();
        let trends = found.get();
        if job.stages.len() < 2 || trends.is_empty() {
            return view! { <p class="empty">{voice().measuring.stages_empty}</p> }.into_any();
        }
        view! { <StageTable job trends voice=voice() /> }.into_any()
    };
    view! {
        <div class="pull">
            <Choices label=person.measuring_word(|words| words.pull_tab) options=Signal::derive(views) chosen=all choose=move |to| all.set(to) />
            <Show when=move || all.get() fallback=move || view! { <Now book found voice=Signal::derive(voice) /> }>
                {table}
            </Show>
            <Safety />
        </div>
    }
}

/// Name under which the pairs that a person watches are kept, after their book.
const WATCHED: &str = "watched";

/// What a person chose to watch of this book since the window was opened.
fn kept_watch(book: Book) -> Option<Vec<PointId>> {
    let text = platform::kept_here(WATCHED)?;
    let mut words = text.split_whitespace();
    let is_own = words.next() == Some(book.id.get_value().as_str());
    is_own.then(|| words.filter_map(|id| PointId::parse(id).ok()).collect())
}

fn keep_watch(book: Book, list: &[PointId]) {
    let mut text = book.id.get_value();
    for id in list {
        text.push(' ');
        text.push_str(id.as_str());
    }
    platform::keep_here(WATCHED, &text);
}

/// The stage in work: pulls, watched pairs, the next stage.
#[component]
fn Now(book: Book, found: Memo<Vec<Trend>>, voice: Signal<Voice>) -> impl IntoView {
    let chosen = RwSignal::new(kept_watch(book));
    // What is watched stays for as long as the stage is in work: others read meanwhile, and somebody
    // at the chain looks at the same card.
    let begun = Memo::new(move |before: Option<&(Option<StageId>, Vec<PointId>)>| {
        let stage = book.stage.get();
        if let Some(same) = before.filter(|(of, list)| *of == stage && !list.is_empty()) {
            return same.clone();
        }
        let list = match (book.result.get(), &stage) {
            (Some(result), Some(stage)) => to_watch(&book.job.get(), &result, stage),
            _ => Vec::new(),
        };
        (stage, list)
    });
    let watched = Memo::new(move |_| chosen.get().unwrap_or_else(|| begun.get().1));
    let choose = move |list: Vec<PointId>| {
        keep_watch(book, &list);
        chosen.set(Some(list));
    };
    let stop = Callback::new(move |left: PointId| {
        let rest = watched.get_untracked().into_iter().filter(|id| *id != left);
        choose(rest.collect());
    });
    let names = Signal::derive(move || {
        let watched = watched.read();
        watched.iter().map(PointId::to_string).collect::<Vec<_>>()
    });
    let card = move |left: String| {
        let Ok(left) = PointId::parse(&left) else {
            return ().into_any();
        };
        let of = left.clone();
        // The same quantity for as long as the stage has it.
        let trend = Memo::new(move |before: Option<&Option<Trend>>| {
            let stage = book.stage.get();
            let trends = found.get();
            let before = before.and_then(Option::as_ref);
            let same = before.and_then(|before| same_in(&trends, before, stage.as_ref()));
            same.or_else(|| leading(&trends, &of, stage.as_ref()))
                .cloned()
        });
        let card = move || {
            let (left, trend, stage) = (left.clone(), trend.get(), book.stage.get());
            view! { <Watched book left trend stage voice=voice.get() stop /> }
        };
        card.into_any()
    };
    // In the order of the car's points: which pair is worst changes with each reading.
    let others = move || {
        let (job, watched, found) = (book.job.get(), watched.read(), found.read());
        let is_other =
            |id: &&PointId| !watched.contains(id) && found.iter().any(|trend| trend.left == **id);
        let option = |id: &PointId| (id.to_string(), label(&job, id).to_owned());
        let none = (String::new(), "–".to_owned());
        let others = job.points.keys().filter(is_other).map(option);
        [none].into_iter().chain(others).collect::<Vec<_>>()
    };
    let others = Memo::new(move |_| others());
    let has_more =
        Memo::new(move |_| watched.read().len() < MOST_WATCHED && others.read().len() > 1);
    let has_any = Memo::new(move |_| has_more.get() || !watched.read().is_empty());
    let watch = move |id: String| {
        if let Ok(id) = PointId::parse(&id) {
            let mut list = watched.get_untracked();
            list.push(id);
            choose(list);
        }
    };
    view! {
        <Stages book voice />
        <NoPoints book />
        <Pulls book has_more has_any voice />
        <Show when=move || has_any.get()>
            <h2>{move || voice.get().measuring.watch}</h2>
            <p class="quiet">{move || voice.get().measuring.watch_why}</p>
        </Show>
        <div class="watched" aria-live="polite">
            <Rows names row=Callback::new(card) />
        </div>
        <Show when=move || has_more.get()>
            <PickField
                name="watch"
                label=Signal::derive(move || voice.get().measuring.watch_more)
                options=others
                chosen=Signal::derive(String::new)
                choose=watch
            />
        </Show>
    }
}

/// The stage, and the two buttons that begin the next one.
#[component]
fn Stages(book: Book, voice: Signal<Voice>) -> impl IntoView {
    let error = RwSignal::new(None::<String>);
    let begin = move |load: Load| {
        let Ok(id) = StageId::parse(&platform::fresh_id().to_string()) else {
            return;
        };
        let words = voice.get_untracked().words;
        let of_load = |load| match load {
            Load::Under => words.load_under,
            Load::Released => words.load_released,
        };
        let pulls = book.job.read_untracked();
        let under = |stage: &&Stage| stage.pulled() == Some(Load::Under);
        let count = pulls.stages.iter().filter(under).count();
        let number = count + usize::from(load == Load::Under);
        drop(pulls);
        let stage = Stage {
            id: id.clone(),
            label: format!("{} {}, {}", words.of_pull, number.max(1), of_load(load)),
            of: StageKind::Pull,
            load: Some(load),
        };
        match book.act(&Intention::BeginStage { stage }) {
            Ok(()) => book.stage.set(Some(id)),
            Err(refused) => error.set(Some(voice.get_untracked().refused(&refused))),
        }
    };
    view! {
        <StageField label=Signal::derive(move || voice.get().measuring.stage) job=book.job stage=book.stage choose=move |to| book.stage.set(to) />
        <p class="caution">{person().word(|words| words.safety_pull)}</p>
        <div class="row">
            <button type="button" data-test="begin-load" on:click=move |_| begin(Load::Under)>{move || voice.get().measuring.begin_load}</button>
            <button type="button" data-test="begin-released" on:click=move |_| begin(Load::Released)>{move || voice.get().measuring.begin_released}</button>
        </div>
        <p role="alert" class="error">{move || error.get()}</p>
    }
}

/// What to pull, in order.
#[component]
fn Pulls(
    book: Book,
    has_more: Memo<bool>,
    has_any: Memo<bool>,
    voice: Signal<Voice>,
) -> impl IntoView {
    move || {
        let voice = voice.get();
        let (job, stage) = (book.job.get(), book.stage.get());
        let result = book.result.get();
        if result.is_none() && !job.readings.is_empty() {
            // What the readings say is being worked out.
            return ().into_any();
        }
        let pulls = result.and_then(|result| {
            let stage = result
                .stages
                .iter()
                .find(|s| Some(&s.id) == stage.as_ref())?;
            Some(stage.pulls.clone())
        });
        let Some(pulls) = pulls.filter(|pulls| !pulls.is_empty()) else {
            let words = voice.measuring;
            let says = match has_any.get() {
                true => words.pull_empty,
                // Nothing to compare the two sides by: what every empty part of a book says to do.
                false => words.findings_empty,
            };
            let choose = has_more.get().then_some(words.pull_choose);
            return view! { <p class="empty" data-test="no-pull">{says} " " {choose}</p> }
                .into_any();
        };
        let line = |pull: &shared::result::Pull| {
            let over = voice.ways(&pull.overpull_mm);
            let over = (!over.is_empty())
                .then(|| view! { <small>{voice.measuring.over} " " {over}</small> });
            view! { <li><b>{voice.member(&job, &pull.member)}</b> " " {voice.ways(&pull.move_mm)} {over}</li> }
        };
        view! {
            <h2>{voice.measuring.pull_order}</h2>
            <ol class="pulls">{pulls.iter().map(line).collect_view()}</ol>
            <p class="quiet">{voice.measuring.pull_safety}</p>
        }
        .into_any()
    }
}

/// One pair, large enough to read from the pull's side.
#[component]
fn Watched(
    book: Book,
    left: PointId,
    trend: Option<Trend>,
    stage: Option<StageId>,
    voice: Voice,
    stop: Callback<PointId>,
) -> impl IntoView {
    let job = book.job.get_untracked();
    let words = voice.measuring;
    let name = label(&job, &left).to_owned();
    let quantity = trend
        .as_ref()
        .map_or(Quantity::RightHigher, |trend| trend.quantity);
    let step = trend
        .as_ref()
        .zip(stage.as_ref())
        .and_then(|(trend, stage)| trend.at(stage).cloned());
    let figure = step
        .as_ref()
        .and_then(|step| step.left())
        .map_or_else(|| "–".to_owned(), |left| voice.figures.size(left));
    let said = step.as_ref().map_or_else(
        || words.missing.to_owned(),
        |step| voice.quantity(quantity, &step.judged),
    );
    let spread = step
        .as_ref()
        .and_then(|step| step.judged.sigma)
        .map(|sigma| voice.figures.spread(sigma));
    let mark = step
        .as_ref()
        .and_then(|step| step.judged.verdict)
        .map(|verdict| {
            view! { <Mark verdict /> " " {verdict_word(voice.words, verdict)} }
        });
    let moved = trend
        .as_ref()
        .zip(stage.as_ref())
        .and_then(|(trend, stage)| trend.moved(stage));
    let moved = moved.map(|moved| {
        let real = step.as_ref().is_some_and(|step| step.real == Some(true));
        let said = voice.movement(&moved);
        view! { <p class="moved" class:real=real>{said} " " {words.since} " · " {voice.reality(real)}</p> }
    });
    let kind = match quantity {
        Quantity::RightHigher => Kind::Height,
        Quantity::CentreRight => Kind::Offset,
        Quantity::RightRearward | Quantity::Width => Kind::Span,
    };
    let task = Task {
        kind,
        to: kind
            .has_two_points()
            .then(|| job.points.get(&left).and_then(|p| p.mirror.clone()))
            .flatten(),
        point: left.clone(),
    };
    let here = stage.map(|stage| Here {
        stage,
        setup: book.setup.get_untracked(),
        kind,
    });
    let read = move |_| {
        // The car has moved: what was read before in this stage is read anew.
        let job = book.job.get_untracked();
        let before = here.as_ref().and_then(|here| answer_to(&job, here, &task));
        let choice = Choice {
            corrects: before.map(|reading| reading.id.clone()),
            task: task.clone(),
        };
        platform::keep("read-again", &choice.to_line());
        Route::Book(book.id.get_value(), Tab::Read).go();
    };
    let graph = trend.map(|trend| view! { <TrendLine trend label=name.clone() voice /> });
    view! {
        <article class="watch" data-test="watched">
            <h3>{name.clone()}</h3>
            <p class="figure">{figure} " " <small>{spread}</small></p>
            <p>{mark} " · " {said}</p>
            {moved}
            {graph}
            <div class="row">
                <button type="button" on:click=read>{voice.words.read}</button>
                <button type="button" on:click=move |_| stop.run(left.clone())>{words.unwatch}</button>
            </div>
        </article>
    }
}
