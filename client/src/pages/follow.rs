//! The adjuster's page: one job, live and read only, opened with a link.
//!
//! It has no control that writes: what can be tapped chooses what is shown.

use leptos::prelude::*;
use shared::ids::StageId;
use shared::proof::statement::SignedStatement;
use shared::speech::not_read_again;
use shared::verdict::Verdict;

use super::photos::AlbumPart;
use super::report::ReportPart;
use crate::components::body_view::{BodyView, Layer};
use crate::components::field::Choices;
use crate::components::legend::Legend;
use crate::components::mark::{Count, Mark, verdict_word};
use crate::components::pick::StageField;
use crate::components::safety::Safety;
use crate::components::signed::{Signed, SignedLine};
use crate::measuring::concerns::{Concern, concerns};
use crate::measuring::doubts::Doubted;
use crate::measuring::drawing::{View, Window, fitting_exaggeration, spots};
use crate::measuring::sentences::Voice;
use crate::measuring::signed::stage_label;
use crate::measuring::unread::unread_line;
use crate::platform;
use crate::state::album::{Album, Whose};
use crate::state::follow::{Followed, Standing};
use crate::state::held::cover::stage_counts;
use crate::state::person::person;
use crate::state::report::Source;
use crate::state::route::entitle_after;
use crate::state::signing::SignOff;
use crate::text::Language;

/// The page.
#[component]
pub fn FollowPage(
    /// Token of the link.
    token: String,
) -> impl IntoView {
    let person = person();
    let office = move || person.office();
    let followed = Followed::open(token);
    let album = Album::open(Whose::Followed(followed));
    let card = move || followed.job.read().card.clone();
    entitle_after(move || {
        followed.job.track();
        followed.result.track();
    });
    let standing = move || match followed.standing.get() {
        Standing::Opening => person.words().loading,
        Standing::Live => office().follow_live,
        Standing::Lost => office().follow_lost,
        Standing::Ended => office().follow_ended,
    };
    let from = move || {
        let (shop, until) = followed.opened.get()?;
        let until = platform::moment_of(&until, person.language.get().code());
        Some(format!("{shop} · {} {until}", office().good_until))
    };
    let languages = || {
        [Language::English, Language::Spanish]
            .map(|language| (language, language.own_name().to_owned()))
            .to_vec()
    };
    let has_ended = move || followed.standing.get() == Standing::Ended;
    let is_here = move || followed.result.read().is_some();
    let ended = move || match is_here() {
        true => office().follow_ended_why,
        false => office().follow_ended_none,
    };
    view! {
        <main class="page follow">
            <header class="bar">
                <h1><b class="number">{move || card().number}</b> " " <span class="vehicle">{move || card().vehicle}</span></h1>
                <span class="badge" role="status" data-test="standing" class:offline=move || followed.standing.get() != Standing::Live>{standing}</span>
            </header>
            <Choices label=person.word(|words| words.language) options=Signal::derive(languages) chosen=person.language choose=move |to| person.language.set(to) />
            <p class="quiet">{from}</p>
            <Show when=has_ended><p class="notice" role="alert" data-test="ended">{ended}</p></Show>
            <Show when=is_here>
                <div class="follow-parts">
                    <div>
                        <Progress followed />
                        <Signatures followed />
                        <section class="photos">
                            <h2>{person.word(|words| words.photos)}</h2>
                            <AlbumPart album can_hide=false />
                        </section>
                        <ReportPart source=Source::Followed(followed) />
                    </div>
                    <Stage followed />
                </div>
            </Show>
            <Show when=move || !has_ended()><p class="quiet">{person.office_word(|office| office.follow_why)}</p></Show>
            <Safety />
        </main>
    }
}

/// Verdicts per stage, in their order.
#[component]
fn Progress(followed: Followed) -> impl IntoView {
    let person = person();
    let rows = move || {
        let (job, result) = (followed.job.get(), followed.result.get()?);
        let words = person.words();
        let row = |stage: &shared::job::Stage| {
            let found = result.stages.iter().find(|found| found.id == stage.id);
            let [outside, unproven, within] = found.map(stage_counts).unwrap_or_default();
            view! {
                <li>
                    <b>{stage.label.clone()}</b>
                    <span class="counts">
                        <Count verdict=Verdict::Outside count=outside word=words.outside_count />
                        <Count verdict=Verdict::Unproven count=unproven word=words.unproven_count />
                        <Count verdict=Verdict::Within count=within word=words.within_count />
                    </span>
                </li>
            }
        };
        Some(job.stages.iter().map(row).collect_view())
    };
    view! {
        <section>
            <h2>{person.word(|words| words.stages)}</h2>
            <ol class="lines progress" data-test="progress">{rows}</ol>
        </section>
    }
}

/// The body and the findings of one stage: the last one at the start, or one that is chosen.
#[component]
fn Stage(followed: Followed) -> impl IntoView {
    let person = person();
    let chosen = RwSignal::new(None::<StageId>);
    let view = RwSignal::new(View::Plan);
    // The last one when the page was opened; a stage that is begun meanwhile takes nobody away from
    // what they read.
    let stage = Memo::new(move |before: Option<&Option<StageId>>| {
        let job = followed.job.read();
        let last = || job.stages.last().map(|stage| stage.id.clone());
        let before = before.cloned().flatten();
        chosen.get().or(before).or_else(last)
    });
    let layers = Memo::new(move |_| {
        let (job, result) = (followed.job.get(), followed.result.get());
        let id = stage.get();
        let found = result
            .as_ref()
            .and_then(|result| result.stages.iter().find(|s| Some(&s.id) == id.as_ref()));
        vec![Layer {
            spots: spots(&job, found),
            faint: false,
        }]
    });
    let window = Memo::new(move |_| {
        let job = followed.job.get();
        let places = job.points.values().map(|point| point.place_mm);
        Window::around(places.map(|place| view.get().project(place)))
    });
    let exaggeration = move || fitting_exaggeration(&layers.get()[0].spots, window.get());
    let views = move || {
        let words = person.measuring();
        vec![
            (View::Plan, words.plan.to_owned()),
            (View::Side, words.side_view.to_owned()),
            (View::Front, words.front_view.to_owned()),
        ]
    };
    let findings = move || {
        let (job, result) = (followed.job.get(), followed.result.get()?);
        let id = stage.get()?;
        let found = result.stages.iter().find(|found| found.id == id)?;
        let list = concerns(&job, &result, found, &followed.findings.get());
        let voice = person.voice();
        let lines: Vec<_> = list
            .iter()
            .filter_map(|concern| line(voice, &job, concern))
            .map(|(verdict, text)| {
                let mark = verdict.map(|verdict| {
                    view! { <Mark verdict /> " " <b>{verdict_word(voice.words, verdict)}</b> " · " }
                });
                view! { <li>{mark} {text}</li> }
            })
            .collect();
        let none = lines
            .is_empty()
            .then(|| view! { <p class="empty">{voice.measuring.nothing_out}</p> });
        let rule = voice.rule(&result);
        let unread = not_read_again(&result, &id);
        let unread = (!unread.is_empty()).then(|| {
            let line = |one| view! { <li>{unread_line(voice, &job, one)}</li> };
            let lines = unread.iter().map(line).collect_view();
            let title = person.office_word(|office| office.unread_title);
            view! { <h3>{title}</h3> <ul class="findings-read" data-test="unread">{lines}</ul> }
        });
        Some(
            view! { {none} <ul class="findings-read" data-test="findings">{lines}</ul> {unread} <p class="rule">{rule}</p> },
        )
    };
    view! {
        <section>
            <h2>{person.word(|words| words.findings)}</h2>
            <StageField label=person.measuring_word(|words| words.stage) job=followed.job stage choose=move |to| chosen.set(to) />
            <Choices label=person.word(|words| words.body_tab) options=Signal::derive(views) chosen=view choose=move |to| view.set(to) />
            <BodyView job=followed.job name=move |id| person.voice().point(&followed.job.read_untracked(), &id) ways=Signal::derive(move || person.voice().sides()) layers view window exaggeration=Signal::derive(exaggeration) still=true tapped=RwSignal::new(None) moving=Signal::derive(|| false) moved=Callback::new(|_| {}) />
            {move || view! { <Legend voice=person.voice() /> }}
            <p class="quiet">{person.measuring_word(|measuring| measuring.exaggeration)} " × " {exaggeration}</p>
            {findings}
        </section>
    }
}

/// What an adjuster is told of a concern; what is for those who measure is left out.
fn line(
    voice: Voice,
    job: &shared::job::Job,
    concern: &Concern,
) -> Option<(Option<Verdict>, String)> {
    let words = voice.measuring;
    Some(match concern {
        Concern::Pair {
            left,
            quantity,
            judged,
            ..
        } => {
            let label = crate::measuring::task::label(job, left);
            let text = format!(
                "{label}: {} {}",
                voice.quantity(*quantity, judged),
                voice.doubt(judged)
            );
            (judged.verdict, text)
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
                voice.point(job, point),
                voice.deviation(*axis, *deviation_mm),
                voice.figures.spread(*sigma_mm)
            );
            let own = voice.own_tolerance(*tolerance_mm);
            let parts: Vec<String> = [Some(text), own].into_iter().flatten().collect();
            (Some(*verdict), parts.join(" · "))
        }
        Concern::Suspect(suspect) => (None, one_sentence(voice.suspect(job, suspect))),
        Concern::Bent(test) => (None, one_sentence(voice.bent(job, test))),
        Concern::Cause(cause) => (
            None,
            format!("{}: {}", words.cause, voice.cause(job, cause)),
        ),
        Concern::CannotTell(cannot) => (None, voice.cannot(&cannot.what).to_owned()),
        Concern::Conflict(_) | Concern::Pull(_) | Concern::Next(_) => return None,
    })
}

fn one_sentence(Doubted { about, says }: Doubted) -> String {
    format!("{about} {says}")
}

/// Sign-offs, and what came since.
#[component]
fn Signatures(followed: Followed) -> impl IntoView {
    let person = person();
    let office = move || person.office();
    let item = move |one: SignOff| {
        let language = person.language.get().code();
        let line = |signed: &SignedStatement| SignedLine {
            name: signed.statement().who.name.clone(),
            at: platform::moment(signed.statement().at_ms, language),
            code: signed.code(),
        };
        let said = one.signed.statement();
        let stage = stage_label(&followed.job.get(), &said.claims.stage);
        let joined: Vec<SignedLine> = one.joined.iter().map(line).collect();
        let (counts, since) = (said.claims.counts, followed.since(&said.heads));
        view! { <Signed stage first=line(&one.signed) joined counts since office=office() words=person.words() /> }
    };
    view! {
        <section>
            <h2>{person.office_word(|office| office.signatures)}</h2>
            {move || match followed.signed.get() {
                list if list.is_empty() => view! { <p class="empty">{office().signatures_none_yet}</p> }.into_any(),
                list => view! { <div class="signatures">{list.into_iter().map(item).collect_view()}</div> }.into_any(),
            }}
        </section>
    }
}
