//! Findings: plain sentences, worst first; each opens its numbers and the readings behind them.

use leptos::prelude::*;
use shared::book::Intention;
use shared::ids::{PointId, ReadingId};
use shared::result::{Suspect, TrustTest};
use shared::verdict::Verdict;

use super::no_points::NoPoints;
use super::read::chooser::write_task;
use crate::components::mark::{Mark, verdict_word};
use crate::components::readings::ReadingLines;
use crate::components::safety::Safety;
use crate::measuring::concerns::{Concern, concerns, conflicts};
use crate::measuring::conflict;
use crate::measuring::history;
use crate::measuring::sentences::Voice;
use crate::measuring::task::{Kind, Task};
use crate::platform;
use crate::state::book::{Book, book};
use crate::state::person::person;
use crate::state::route::{Route, Tab};

/// The screen.
#[component]
pub fn FindingsPage() -> impl IntoView {
    let (person, book) = (person(), book());
    let voice = move || person.voice();
    let stages = move || {
        let current = book.stage.get();
        let option = |stage: &shared::job::Stage| {
            view! { <option value=stage.id.to_string() selected=current.as_ref() == Some(&stage.id)>{stage.label.clone()}</option> }
        };
        book.job.get().stages.iter().map(option).collect_view()
    };
    let list = move || {
        let (job, result, findings) = (book.job.get(), book.result.get()?, book.findings.get());
        let of_stage = book.stage.get().and_then(|id| {
            let stage = result.stages.iter().find(|stage| stage.id == id)?;
            Some(concerns(&job, &result, stage, &findings))
        });
        // What two people set differently is asked before anything was read.
        of_stage.or_else(|| Some(conflicts(&findings)).filter(|asked| !asked.is_empty()))
    };
    let rule = move || book.result.get().map(|result| voice().rule(&result));
    view! {
        <div class="findings">
            <label class="field">
                <span>{move || voice().measuring.stage}</span>
                <select name="stage" on:change=move |event| book.stage.set(shared::ids::StageId::parse(&event_target_value(&event)).ok())>{stages}</select>
            </label>
            <NoPoints book />
            {move || match list() {
                None => view! { <p class="empty">{voice().measuring.findings_empty}</p> }.into_any(),
                Some(list) => {
                    let says_something = list.iter().any(|concern| !matches!(concern, Concern::CannotTell(_)));
                    let outside = list.iter().any(|c| matches!(c, Concern::Pair { judged, .. } if judged.verdict == Some(Verdict::Outside)));
                    let empty = (!says_something).then(|| view! { <p class="empty">{voice().measuring.findings_empty}</p> });
                    let calm = (says_something && !outside).then(|| view! { <p>{voice().measuring.nothing_out}</p> });
                    let items = list.into_iter().map(|concern| view! { <Item book concern voice=voice() /> }).collect_view();
                    view! { {empty} {calm} <div class="concerns">{items}</div> }.into_any()
                }
            }}
            <p class="rule">{rule}</p>
            <Safety />
        </div>
    }
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
            let choice = |value: &String| {
                let (subject, value) = (finding.subject.clone(), value.clone());
                let shown = conflict::shown(voice, &subject, &value);
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
            let choices = finding.values.iter().map(choice).collect_view();
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
            let task = Task {
                kind,
                point: next.point.clone(),
                to: next.to.clone(),
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
            let detail = view! { <p>{after}</p> <ReadAgain book task voice /> }.into_any();
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

/// A suspect: what it may be, and what to do.
#[component]
fn Doubt(book: Book, suspect: Suspect, voice: Voice) -> impl IntoView {
    let job = book.job.get_untracked();
    let words = voice.measuring;
    let own = [suspect.reading.to_string()];
    // Where the readings cannot tell which of them is wrong, none of them is named alone.
    let is_group = suspect.one_of.len() > 1;
    let names = if is_group {
        &suspect.one_of[..]
    } else {
        &own[..]
    };
    let texts: Vec<String> = names.iter().map(|name| voice.row(&job, name)).collect();
    let says = if is_group {
        words.one_wrong
    } else {
        words.suspect_says
    };
    let slip = suspect
        .slip_code
        .as_deref()
        .filter(|_| !is_group)
        .map(|code| format!(" · {} {}", words.slip, voice.slip(code)));
    let summary = view! {
        <span class="doubt-mark" aria-hidden="true">"?"</span>
        " "
        <b>{texts.join(&format!(" {} ", words.or))}</b>
        " "
        {says}
        {format!(" · {} {}", words.error_about, voice.figures.size(suspect.error_mm))}
        {slip}
    };
    let part = |(name, text): (&String, &String)| {
        let reading = job
            .readings
            .iter()
            .find(|reading| reading.id.as_str() == name);
        let act = reading.map(|reading| {
            let again = Task::of(reading).map(|task| view! { <ReadAgain book task voice /> });
            view! {
                <div class="row">{again}</div>
                <SetAside book reading=reading.id.clone() voice />
            }
        });
        let which = is_group.then(|| view! { <p><b>{text.clone()}</b></p> });
        view! { <div class="doubted-part">{which} {act}</div> }
    };
    let parts = names.iter().zip(&texts).map(part).collect_view();
    let group = is_group.then(|| view! { <p>{words.one_of}</p> });
    view! { <Fold summary=summary.into_any() detail=view! { {group} {parts} }.into_any() /> }
}

/// A reference that does not fit.
#[component]
fn Bent(book: Book, test: TrustTest, voice: Voice) -> impl IntoView {
    let job = book.job.get_untracked();
    let words = voice.measuring;
    let labels: Vec<String> = test.points.iter().map(|id| voice.point(&job, id)).collect();
    let size = test
        .error_mm
        .map(|error| voice.figures.size(error))
        .unwrap_or_default();
    let summary = view! {
        <span class="doubt-mark" aria-hidden="true">"?"</span>
        " "
        <b>{labels.join(" / ")}</b>
        {format!(" {} {size} ({})", words.trust_says, voice.axis(&test.axis))}
    };
    let rows = test
        .one_of
        .iter()
        .map(|name| view! { <li>{voice.row(&job, name)}</li> })
        .collect_view();
    let group = (test.one_of.len() > 1)
        .then(|| view! { <p>{words.one_of}</p> <ul class="lines">{rows}</ul> });
    let stop = |id: &PointId| {
        let (text, id) = (
            format!("{}: {}", words.stop_trusting, voice.point(&job, id)),
            id.clone(),
        );
        let act = move |_| {
            drop(book.act(&Intention::TrustPoint {
                id: id.clone(),
                trusted: false,
            }))
        };
        view! { <button type="button" on:click=act>{text}</button> }
    };
    let buttons = test.points.iter().map(stop).collect_view();
    view! { <Fold summary=summary.into_any() detail=view! { {group} <div class="row">{buttons}</div> }.into_any() /> }
}

/// Goes to Read with a task in hand.
#[component]
fn ReadAgain(book: Book, task: Task, voice: Voice) -> impl IntoView {
    let go = move |_| {
        platform::keep("read-again", &write_task(&task));
        Route::Book(book.id.get_value(), Tab::Read).go();
    };
    view! { <button type="button" data-test="go-read" on:click=go>{voice.measuring.read_again}</button> }
}

/// Leaves a reading out, with a reason.
#[component]
fn SetAside(book: Book, reading: ReadingId, voice: Voice) -> impl IntoView {
    let why = RwSignal::new(String::new());
    let error = RwSignal::new(None::<String>);
    let act = move |_| {
        let intention = Intention::SetReadingAside {
            reading: reading.clone(),
            why: why.get_untracked(),
        };
        error.set(
            book.act(&intention)
                .err()
                .map(|refused| refused.to_string()),
        );
    };
    view! {
        <div class="row aside">
            <input name="why" placeholder=voice.measuring.because_prompt aria-label=voice.measuring.because_prompt prop:value=why on:input=move |event| why.set(event_target_value(&event)) />
            <button type="button" data-test="set-aside" disabled=move || why.read().trim().is_empty() on:click=act>{voice.measuring.set_aside}</button>
        </div>
        <p class="error" role="alert">{move || error.get()}</p>
    }
}
