//! Findings: plain sentences, worst first; each opens its numbers and the readings behind them.

use leptos::prelude::*;
use shared::book::Intention;
use shared::ids::PointId;
use shared::verdict::Verdict;

use super::no_points::NoPoints;
use super::read::Choice;
use crate::components::mark::{Mark, verdict_word};
use crate::components::pick::StageField;
use crate::components::readings::ReadingLines;
use crate::components::rows::Rows;
use crate::components::safety::Safety;
use crate::measuring::concerns::{Concern, concerns, conflicts, named};
use crate::measuring::conflict;
use crate::measuring::history;
use crate::measuring::sentences::Voice;
use crate::measuring::task::{Kind, Task};
use crate::state::book::{Book, book};
use crate::state::person::person;
use crate::state::route::{Route, Tab};

pub mod doubts;

use doubts::{Bent, Doubt, ReadAgain, Reasons};

/// The screen.
#[component]
pub fn FindingsPage() -> impl IntoView {
    let (person, book) = (person(), book());
    let voice = move || person.voice();
    provide_context(Reasons::default());
    let list = Memo::new(move |_| {
        let (job, result, findings) = (book.job.get(), book.result.get()?, book.findings.get());
        let of_stage = book.stage.get().and_then(|id| {
            let stage = result.stages.iter().find(|stage| stage.id == id)?;
            Some(concerns(&job, &result, stage, &findings))
        });
        // What two people set differently is asked before anything was read.
        let asked = || Some(conflicts(&findings)).filter(|asked| !asked.is_empty());
        of_stage.or_else(asked).map(named)
    });
    let has = move |is: fn(&Concern) -> bool| {
        let list = list.read();
        list.iter().flatten().any(|(_, concern)| is(concern))
    };
    // A point may be called otherwise while nothing else changes.
    let labels = Memo::new(move |_| {
        let job = book.job.read();
        let points = job.points.values().map(|point| point.label.clone());
        points.collect::<Vec<_>>()
    });
    // What is opened, or half written, stays with what it is about when others read on.
    let names = Signal::derive(move || {
        let list = list.read();
        let names = list.iter().flatten().map(|(name, _)| name.clone());
        names.collect::<Vec<_>>()
    });
    let one = move |name: String| {
        let concern = Memo::new(move |before: Option<&Option<Concern>>| {
            let list = list.read();
            let now = list.iter().flatten().find(|(known, _)| *known == name);
            let now = now.map(|(_, concern)| concern.clone());
            now.or_else(|| before.cloned().flatten())
        });
        let item = move || {
            labels.track();
            concern
                .get()
                .map(|concern| view! { <Item book concern voice=voice() /> })
        };
        item.into_any()
    };
    let rule = move || book.result.get().map(|result| voice().rule(&result));
    view! {
        <div class="findings">
            <StageField label=person.measuring_word(|words| words.stage) job=book.job stage=book.stage choose=move |to| book.stage.set(to) />
            <NoPoints book />
            {move || {
                let says_something = has(|concern| !matches!(concern, Concern::CannotTell(_)));
                let is_calm = says_something && !has(is_outside);
                let empty = (!says_something).then(|| view! { <p class="empty">{voice().measuring.findings_empty}</p> });
                let calm = is_calm.then(|| view! { <p>{voice().measuring.nothing_out}</p> });
                view! { {empty} {calm} }
            }}
            <div class="concerns">
                <Rows names row=Callback::new(one) />
            </div>
            <p class="rule">{rule}</p>
            <Safety />
        </div>
    }
}

fn is_outside(concern: &Concern) -> bool {
    matches!(concern, Concern::Pair { judged, .. } if judged.verdict == Some(Verdict::Outside))
}

/// One sentence that opens.
#[component]
fn Item(book: Book, concern: Concern, voice: Voice) -> impl IntoView {
    let job = book.job.get_untracked();
    let words = voice.measuring;
    let marked = |verdict: Verdict, text: String| {
        view! { <Mark verdict /> " " <b>{verdict_word(voice.words, verdict)}</b> " · " {text} }
            .into_any()
    };
    let behind = move |points: Vec<PointId>| view! { <Behind book points voice /> }.into_any();
    match concern {
        Concern::Pair {
            left,
            right,
            quantity,
            judged,
        } => {
            let label = crate::measuring::task::label(&job, &left).to_owned();
            let spread = judged.sigma.map(|sigma| voice.figures.spread(sigma));
            let text = format!(
                "{label}: {} {}",
                voice.quantity(quantity, &judged),
                spread.unwrap_or_default()
            );
            let verdict = judged.verdict.unwrap_or(Verdict::Unproven);
            let detail =
                view! { <p>{voice.doubt(&judged)}</p> {behind(vec![left, right])} }.into_any();
            view! { <Fold summary=marked(verdict, text) detail /> }.into_any()
        }
        Concern::Point {
            point,
            axis,
            deviation_mm,
            sigma_mm,
            verdict,
            tolerance_mm,
        } => {
            let text = format!(
                "{}: {} {}",
                voice.point(&job, &point),
                voice.deviation(axis, deviation_mm),
                voice.figures.spread(sigma_mm)
            );
            let own = voice
                .own_tolerance(tolerance_mm)
                .map(|own| view! { <p>{own}</p> });
            let detail = view! { {own} {behind(vec![point])} }.into_any();
            view! { <Fold summary=marked(verdict, text) detail /> }.into_any()
        }
        Concern::Suspect(suspect) => view! { <Doubt book suspect voice /> }.into_any(),
        Concern::Bent(test) => view! { <Bent book test voice /> }.into_any(),
        Concern::Conflict(finding) => {
            let text = conflict::question(voice, &job, &finding);
            let choice = |(value, shown): (&String, String)| {
                let (subject, value) = (finding.subject.clone(), value.clone());
                let text = format!("{}: {shown}", words.keep_value);
                // What is chosen stands on the screen, so the book knows it.
                let keep = move |_| {
                    drop(book.act(&Intention::ChooseValue {
                        subject: subject.clone(),
                        value: value.clone(),
                    }));
                };
                view! { <button type="button" data-test="keep-value" on:click=keep>{text}</button> }
            };
            let shown = conflict::choices(voice, &job, &finding);
            let choices = finding.values.iter().zip(shown).map(choice).collect_view();
            let name = text.clone();
            view! {
                <div class="concern question" role="group" aria-label=name data-test="conflict">
                    <p>{text}</p>
                    <div class="row">{choices}</div>
                </div>
            }
            .into_any()
        }
        Concern::Cause(cause) => {
            let text = format!("{}: {}", words.cause, voice.cause(&job, &cause));
            let reasons = voice.cause_reasons(&job, &cause);
            let lines = reasons
                .into_iter()
                .map(|reason| view! { <li>{reason}</li> })
                .collect_view();
            let detail =
                view! { <ul class="reasons">{lines}</ul> {behind(cause.explains)} }.into_any();
            view! { <Fold summary=view! { <b>{text}</b> }.into_any() detail /> }.into_any()
        }
        Concern::Pull(pull) => {
            let member = voice.member(&job, &pull.member);
            let text = format!(
                "{} {}: {member} · {}",
                words.pull,
                pull.order,
                voice.ways(&pull.move_mm)
            );
            let over = voice.ways(&pull.overpull_mm);
            let over = (!over.is_empty()).then(|| view! { <p>{words.over} " " {over}</p> });
            let go = move |_| Route::Book(book.id.get_value(), Tab::Pull).go();
            let detail = view! {
                {over}
                {behind(pull.watch)}
                <button type="button" on:click=go>{words.watch}</button>
            };
            view! { <Fold summary=view! { {text} }.into_any() detail=detail.into_any() /> }
                .into_any()
        }
        Concern::Next(next) => {
            let kind = Kind::named(&next.kind).unwrap_or_default();
            let choice = Choice {
                task: Task {
                    kind,
                    point: next.point.clone(),
                    to: next.to.clone(),
                },
                corrects: None,
            };
            let to = next
                .to
                .as_ref()
                .map(|to| format!(" → {}", voice.point(&job, to)));
            let text = format!(
                "{}: {} · {}{}",
                words.next,
                voice.kind(kind),
                voice.point(&job, &next.point),
                to.unwrap_or_default()
            );
            let after = next.sigma_after_mm.map(|after| {
                format!(
                    "{} {} {}",
                    settles(voice, &next.settles),
                    "→",
                    voice.figures.spread(after)
                )
            });
            let detail = view! { <p>{after}</p> <ReadAgain book choice voice /> }.into_any();
            view! { <Fold summary=view! { {text} }.into_any() detail /> }.into_any()
        }
        Concern::CannotTell(cannot) => {
            view! { <p class="cannot">{voice.cannot(&cannot.what)}</p> }.into_any()
        }
    }
}

/// What a reading would settle, in the person's language.
fn settles(voice: Voice, names: &[String]) -> String {
    let said = names.iter().map(|name| {
        let (label, what) = name.rsplit_once(": ").unwrap_or((name, ""));
        let what = match what {
            "length" => voice.measuring.length,
            "centre" => voice.words.centre,
            "width" => voice.measuring.width_axis,
            _ => voice.measuring.height_axis,
        };
        format!("{label}: {what}")
    });
    said.collect::<Vec<_>>().join("; ")
}

/// A sentence that opens what is behind it.
#[component]
fn Fold(summary: AnyView, detail: AnyView) -> impl IntoView {
    view! {
        <details class="concern">
            <summary>{summary}</summary>
            <div>{detail}</div>
        </details>
    }
}

/// The readings behind a sentence.
#[component]
fn Behind(book: Book, points: Vec<PointId>, voice: Voice) -> impl IntoView {
    let (job, result) = (book.job.get_untracked(), book.result.get_untracked());
    let stage = book.stage.get_untracked();
    let lines = stage
        .map(|stage| history::behind(&job, result.as_deref(), &stage, &points))
        .unwrap_or_default();
    view! { <ReadingLines lines job voice /> }
}
