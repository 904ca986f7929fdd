//! The task in hand, and how to choose another one.

use leptos::prelude::*;
use shared::ids::PointId;

use super::Reader;
use crate::components::pick::PickField;
use crate::measuring::propose::{Here, Why, is_read, tasks};
use crate::measuring::sentences::Voice;
use crate::measuring::task::Task;

/// The proposed point with its reason; a tap opens the list of all.
#[component]
pub fn Chooser(
    /// What is being entered.
    reader: Reader,
    /// The language.
    #[prop(into)]
    voice: Signal<Voice>,
) -> impl IntoView {
    let open = RwSignal::new(false);
    let name = move |task: &Task| {
        let (voice, job) = (voice.get(), reader.book.job.get());
        match &task.to {
            None => voice.point(&job, &task.point),
            Some(to) => format!(
                "{} → {}",
                voice.point(&job, &task.point),
                voice.point(&job, to)
            ),
        }
    };
    let now = move || {
        let words = voice.get().measuring;
        match reader.proposal() {
            Some(proposal) => {
                let why = match proposal.why {
                    Why::OtherSide => words.why_other_side,
                    Why::Settles => words.why_settles,
                    Why::Unread => words.why_unread,
                    Why::Chosen => words.why_chosen,
                    Why::TakenBack => words.why_taken_back,
                    Why::ReadMeanwhile => words.why_meanwhile,
                };
                view! { <b class="point" data-test="task">{name(&proposal.task)}</b> <small>{why}</small> }.into_any()
            }
            None if reader.book.job.read().points.is_empty() => {
                view! { <b>{words.no_points}</b> }.into_any()
            }
            None if reader.book.job.read().stages.is_empty() => {
                view! { <b>{words.no_stage}</b> }.into_any()
            }
            None => view! { <b>{words.all_read}</b> }.into_any(),
        }
    };
    let list = move || {
        let job = reader.book.job.get();
        let here = Here {
            stage: reader.book.stage.get()?,
            setup: reader.book.setup.get(),
            kind: reader.kind(),
        };
        let item = |task: Task| {
            let done = is_read(&job, &here, &task);
            let text = name(&task);
            let choose = move |_| {
                reader.choose(task.clone());
                open.set(false);
            };
            view! { <li><button type="button" class:done=done on:click=choose>{text} {done.then_some(" ✓")}</button></li> }
        };
        Some(tasks(&job, here.kind).into_iter().map(item).collect_view())
    };
    view! {
        <button type="button" class="task" aria-expanded=move || open.get().to_string() on:click=move |_| open.update(|open| *open = !*open)>
            {now}
        </button>
        <Show when=move || open.get()>
            <Spans reader voice />
            <ul class="choose" data-test="choose">{list}</ul>
        </Show>
    }
}

/// Any two points, for spans and diagonals.
#[component]
fn Spans(reader: Reader, #[prop(into)] voice: Signal<Voice>) -> impl IntoView {
    let from = RwSignal::new(None::<PointId>);
    let options = Signal::derive(move || {
        let (job, voice) = (reader.book.job.read(), voice.get());
        let option = |id: &PointId| (id.to_string(), voice.point(&job, id));
        let none = (String::new(), "–".to_owned());
        [none]
            .into_iter()
            .chain(job.points.keys().map(option))
            .collect()
    });
    let choose_to = move |id: String| {
        let (Some(point), Ok(to)) = (from.get_untracked(), PointId::parse(&id)) else {
            return;
        };
        if point != to {
            reader.choose(Task {
                kind: untrack(|| reader.kind()),
                point,
                to: Some(to),
            });
        }
    };
    view! {
        <Show when=move || reader.kind().has_two_points()>
            <div class="selects two">
                <PickField
                    name="from"
                    label=Signal::derive(move || voice.get().measuring.from)
                    options
                    chosen=Signal::derive(move || from.get().map(|id| id.to_string()).unwrap_or_default())
                    choose=move |id: String| from.set(PointId::parse(&id).ok())
                />
                <PickField
                    name="to"
                    label=Signal::derive(move || voice.get().measuring.to)
                    options
                    chosen=Signal::derive(String::new)
                    choose=choose_to
                />
            </div>
        </Show>
    }
}
