//! Body: the car from above, from the left and from the front, as the readings see it.

use leptos::prelude::*;
use shared::book::Intention;
use shared::ids::{PointId, StageId};
use shared::result::{JobResult, StageResult};

use crate::components::body_view::{BodyView, Layer, fitting_all};
use crate::components::field::Choices;
use crate::components::legend::Legend;
use crate::components::mark::{Mark, verdict_word};
use crate::components::pick::{PickField, StageField};
use crate::components::readings::ReadingLines;
use crate::measuring::drawing::{EXAGGERATIONS, View, pair_of, spots};
use crate::measuring::history;
use crate::measuring::sentences::Voice;
use crate::pages::no_points::NoPoints;
use crate::pages::photo_button::PhotoButton;
use crate::platform;
use crate::state::book::{Book, book};
use crate::state::person::person;
use crate::state::photos::About;
use shared::speech::Quantity;

/// The screen.
#[component]
pub fn BodyPage() -> impl IntoView {
    let (person, book) = (person(), book());
    let words = move || person.measuring();
    let view = RwSignal::new(View::Plan);
    let step = RwSignal::new(None::<usize>);
    let tapped = RwSignal::new(None::<PointId>);
    let other = RwSignal::new(None::<StageId>);
    let layer = move |stage: Option<StageId>| {
        let (job, result) = (book.job.get(), book.result.get());
        let found = result
            .as_ref()
            .and_then(|result| result.stages.iter().find(|s| Some(&s.id) == stage.as_ref()));
        spots(&job, found)
    };
    // A stage is not compared with itself.
    let compared = move || {
        other
            .get()
            .filter(|id| Some(id) != book.stage.read().as_ref())
    };
    let layers = Memo::new(move |_| {
        let mut layers = vec![Layer {
            spots: layer(book.stage.get()),
            faint: false,
        }];
        if let Some(stage) = compared() {
            layers.push(Layer {
                spots: layer(Some(stage)),
                faint: true,
            });
        }
        layers
    });
    let window = Memo::new(move |_| {
        let job = book.job.get();
        crate::measuring::drawing::Window::around(
            job.points
                .values()
                .map(|point| view.get().project(point.place_mm)),
        )
    });
    let exaggeration = move || match step.get() {
        Some(step) => EXAGGERATIONS[step.min(EXAGGERATIONS.len() - 1)],
        None => fitting_all(&layers.read(), window.get()),
    };
    let views = move || {
        vec![
            (View::Plan, words().plan.to_owned()),
            (View::Side, words().side_view.to_owned()),
            (View::Front, words().front_view.to_owned()),
        ]
    };
    let legend = move || {
        let job = book.job.read();
        let label = |id: StageId| {
            let stage = job.stages.iter().find(|stage| stage.id == id);
            stage.map(|stage| stage.label.clone())
        };
        let shown = book.stage.get().and_then(label);
        let both = shown.zip(compared().and_then(label));
        view! { <Legend voice=person.voice() both /> }
    };
    let moving = RwSignal::new(false);
    let error = RwSignal::new(None::<String>);
    let move_point = Callback::new(move |(id, by): (PointId, [f64; 2])| {
        let job = book.job.get_untracked();
        let Some(point) = job.points.get(&id) else {
            return;
        };
        let place_mm = view
            .get_untracked()
            .dragged(point.place_mm, by)
            .map(f64::round);
        let placed = book.act(&Intention::PlacePoint {
            id,
            place_mm,
            place_sigma_mm: point.place_sigma_mm,
        });
        error.set(placed.err().map(|refused| person.voice().refused(&refused)));
    });
    let name = move |id: PointId| person.voice().point(&book.job.read_untracked(), &id);
    let slid = move || {
        EXAGGERATIONS
            .iter()
            .position(|known| (*known - exaggeration()).abs() < 0.1)
            .unwrap_or(0)
    };
    view! {
        <div class="body-page">
            <StageField label=person.measuring_word(|words| words.stage) job=book.job stage=book.stage choose=move |to| book.stage.set(to) />
            <Choices label=person.word(|words| words.body_tab) options=Signal::derive(views) chosen=view choose=move |to| view.set(to) />
            <Show when=move || book.job.read().points.is_empty()>
                <p class="empty">{person.measuring_word(|words| words.no_points)}</p>
            </Show>
            <NoPoints book />
            <div class="body-and-numbers" hidden=move || book.job.read().points.is_empty()>
                <div>
                    <BodyView job=book.job name ways=Signal::derive(move || person.voice().sides()) layers view window exaggeration=Signal::derive(exaggeration) tapped moving moved=move_point />
                    {legend}
                </div>
                <div>
                    {move || match tapped.get() {
                        Some(id) => view! { <Numbers book id /> }.into_any(),
                        None => view! { <p class="empty">{words().tap_point}</p> }.into_any(),
                    }}
                    <button type="button" data-test="move-points" aria-pressed=move || moving.get().to_string() on:click=move |_| moving.update(|on| *on = !*on)>
                        {person.measuring_word(|words| words.move_points)}
                    </button>
                    <Show when=move || moving.get()><p class="quiet" role="status">{person.measuring_word(|words| words.moving)}</p></Show>
                    <p role="alert" class="error">{move || error.get()}</p>
                    <label class="slider">
                        <span>{person.measuring_word(|words| words.exaggeration)} " × " {exaggeration}</span>
                        <input
                            type="range"
                            name="exaggeration"
                            min="0"
                            max=EXAGGERATIONS.len() - 1
                            prop:value=slid
                            on:input=move |event| step.set(event_target_value(&event).parse().ok())
                        />
                    </label>
                    <Overlay book compared=Signal::derive(compared) other />
                </div>
            </div>
        </div>
    }
}

/// Another stage, drawn faint below.
#[component]
fn Overlay(
    book: Book,
    compared: Signal<Option<StageId>>,
    other: RwSignal<Option<StageId>>,
) -> impl IntoView {
    let person = person();
    let options = move || {
        let (job, now) = (book.job.get(), book.stage.get());
        let stages = job.stages.iter();
        let others = stages.filter(|stage| Some(&stage.id) != now.as_ref());
        let others = others.map(|stage| (stage.id.to_string(), stage.label.clone()));
        let none = (String::new(), person.measuring().no_overlay.to_owned());
        [none].into_iter().chain(others).collect()
    };
    let chosen = move || compared.get().map(|id| id.to_string()).unwrap_or_default();
    view! {
        <Show when=move || { book.job.read().stages.len() > 1 }>
            <PickField
                name="overlay"
                label=person.measuring_word(|measuring| measuring.overlay)
                options=Signal::derive(options)
                chosen=Signal::derive(chosen)
                choose=move |id: String| other.set(StageId::parse(&id).ok())
            />
        </Show>
    }
}

/// The numbers of one point and its pair, and the readings behind them. They follow what others read;
/// a name that is half typed stays.
#[component]
fn Numbers(book: Book, id: PointId) -> impl IntoView {
    let person = person();
    let voice = move || person.voice();
    let of = StoredValue::new(id.clone());
    let is_trusted = Memo::new(move |_| {
        let job = book.job.read();
        of.with_value(|id| job.points.get(id).is_some_and(|point| point.trusted))
    });
    let heading = move || {
        let voice = voice();
        let name = of.with_value(|id| voice.point(&book.job.read(), id));
        let trusted = is_trusted
            .get()
            .then(|| format!(" · {}", voice.words.trusted));
        view! { {name} {trusted} }
    };
    // The book answers a refusal on the screen of points; here nothing else can go wrong.
    let trust = move |_| {
        drop(book.act(&Intention::TrustPoint {
            id: of.get_value(),
            trusted: !is_trusted.get_untracked(),
        }))
    };
    let trust_word = move || match is_trusted.get() {
        true => voice().measuring.stop_trusting,
        false => voice().measuring.trust_it,
    };
    let about = Callback::new(move |()| About {
        stage: book.stage.get_untracked(),
        point: Some(of.get_value()),
        ..About::default()
    });
    // On a phone the numbers stand below the drawing.
    let top = NodeRef::new();
    Effect::new(move || {
        if let Some(top) = top.get() {
            platform::bring_into_view(top);
        }
    });
    view! {
        <section class="numbers" data-test="numbers">
            <div node_ref=top>
                <h2>{heading}</h2>
                {move || of_pair(book, &of.get_value(), voice())}
            </div>
            {move || of_point(book, &of.get_value(), voice())}
            <Rename book id />
            <PhotoButton about />
            <button type="button" on:click=trust>{trust_word}</button>
        </section>
    }
}

/// The quantities of the pair of a point in the stage in work.
fn of_pair(book: Book, id: &PointId, voice: Voice) -> AnyView {
    let (result, stage) = (book.result.get(), book.stage.get());
    let pair = in_stage(result.as_deref(), stage.as_ref()).and_then(|stage| pair_of(stage, id));
    let lines = pair.map(|pair| {
        let line = |quantity: Quantity| {
            let judged = quantity.of(pair);
            let mark = judged.verdict.map(|verdict| view! { <Mark verdict /> " " {verdict_word(voice.words, verdict)} " · " });
            let name = judged.value.is_none().then(|| format!("{}: ", voice.quantity_name(quantity)));
            view! { <li>{mark} {name} {voice.quantity(quantity, judged)} <small>" " {voice.doubt(judged)}</small></li> }
        };
        Quantity::ALL.map(line).collect_view()
    });
    view! { <ul class="quantities">{lines}</ul> }.into_any()
}

/// The coordinates of a point in the stage in work, and the readings behind it and its pair.
fn of_point(book: Book, id: &PointId, voice: Voice) -> AnyView {
    let words = voice.measuring;
    let (job, result, stage_id) = (book.job.get(), book.result.get(), book.stage.get());
    let stage = in_stage(result.as_deref(), stage_id.as_ref());
    let point = stage.and_then(|stage| stage.points.get(id));
    let table = point.map(|point| {
        let names = [words.length, words.width_axis, words.height_axis];
        let axis = |axis: usize| {
            let value = if point.measured[axis] {
                format!(
                    "{} {}",
                    voice.figures.length(point.xyz_mm[axis]),
                    voice.figures.spread(point.sigma_mm[axis])
                )
            } else {
                words.missing.to_owned()
            };
            view! { <tr><th scope="row">{names[axis]}</th><td>{value}</td></tr> }
        };
        view! { <table>{[0, 1, 2].map(axis).collect_view()}</table> }
    });
    let pair = stage.and_then(|stage| pair_of(stage, id));
    let points: Vec<PointId> = pair.map_or_else(
        || vec![id.clone()],
        |pair| vec![pair.left.clone(), pair.right.clone()],
    );
    let lines = stage_id
        .as_ref()
        .map(|stage| history::behind(&job, result.as_deref(), stage, &points))
        .unwrap_or_default();
    view! { {table} <ReadingLines lines job voice /> }.into_any()
}

fn in_stage<'a>(result: Option<&'a JobResult>, stage: Option<&StageId>) -> Option<&'a StageResult> {
    let mut stages = result?.stages.iter();
    stages.find(|found| Some(&found.id) == stage)
}

/// Renames a point.
#[component]
fn Rename(book: Book, id: PointId) -> impl IntoView {
    let person = person();
    let begun = book.job.read_untracked();
    let begun = begun.points.get(&id).map(|point| point.label.clone());
    let begun = StoredValue::new(begun.unwrap_or_default());
    let label = RwSignal::new(begun.get_value());
    let rename = move |_| {
        let label = label.get_untracked().trim().to_owned();
        // Untouched, it would undo what somebody else has called the point meanwhile.
        if !label.is_empty() && label != begun.get_value() {
            begun.set_value(label.clone());
            // A point that is drawn is in the book, so the book takes its new name.
            drop(book.act(&Intention::RenamePoint {
                id: id.clone(),
                label,
            }));
        }
    };
    view! {
        <div class="row aside">
            <input
                name="label"
                aria-label=person.word(|words| words.label)
                prop:value=label
                on:input=move |event| label.set(event_target_value(&event))
            />
            <button type="button" data-test="rename" on:click=rename>{person.measuring_word(|measuring| measuring.rename)}</button>
        </div>
    }
}
