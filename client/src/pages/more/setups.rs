//! Set-ups of the laser: how its plumb beam runs, which laser it is, where it stands.

use leptos::prelude::*;
use shared::book::Intention;
use shared::ids::{SetupId, ToolId};
use shared::job::{Plumb, Setup, ToolKind};

use crate::components::field::Choices;
use crate::components::stand_plan::StandPlan;
use crate::measuring::laser_check::stand;
use crate::platform;
use crate::state::book::book;
use crate::state::person::person;
use crate::text::Speaks;

/// The list and the form.
#[component]
pub fn Setups(
    /// What a person does, done.
    act: Callback<Intention>,
) -> impl IntoView {
    let (person, book) = (person(), book());
    let words = move || person.words();
    let plumb = RwSignal::new(Some(Plumb::Lengthwise));
    let tool = RwSignal::new(None::<ToolId>);
    let stands = RwSignal::new(None::<[f64; 2]>);
    let options = move || {
        let words = words();
        vec![
            (Some(Plumb::Lengthwise), words.plumb_lengthwise.to_owned()),
            (Some(Plumb::Crosswise), words.plumb_crosswise.to_owned()),
            (None, words.plumb_none.to_owned()),
        ]
    };
    let add = move |_| {
        let Ok(id) = SetupId::parse(&platform::fresh_id().to_string()) else {
            return;
        };
        let label = (book.job.read_untracked().setups.len() + 1).to_string();
        let setup = Setup {
            label,
            plumb: plumb.get_untracked(),
            tool: tool.get_untracked(),
            // Without its laser's checks a place says nothing.
            stands_mm: stands
                .get_untracked()
                .filter(|_| tool.read_untracked().is_some()),
        };
        act.run(Intention::AddSetup {
            id: id.clone(),
            setup,
        });
        book.setup.set(Some(id));
        stands.set(None);
    };
    let lines = move || {
        let job = book.job.get();
        let line = |setup: &Setup| {
            let of = |plumb| options().into_iter().find(|(known, _)| *known == plumb);
            let laser = setup.tool.as_ref().and_then(|tool| job.tools.get(tool));
            let laser = laser.map(|tool| format!(" · {}", tool.label));
            view! { <li>{setup.label.clone()} " · " {of(setup.plumb).map(|(_, word)| word)} {laser}</li> }
        };
        job.setups.values().map(line).collect_view()
    };
    view! {
        <section>
            <h2>{person.word(|words| words.setups)}</h2>
            <ul class="lines">{lines}</ul>
            <Choices label=person.word(|words| words.add_setup) options=Signal::derive(options) chosen=plumb choose=move |to| plumb.set(to) />
            <WhichLaser tool stands />
            <button type="button" data-test="add-setup" on:click=add>{person.word(|words| words.add_setup)}</button>
        </section>
    }
}

/// Which laser, and where it stands; nothing while the book knows none.
#[component]
fn WhichLaser(tool: RwSignal<Option<ToolId>>, stands: RwSignal<Option<[f64; 2]>>) -> impl IntoView {
    let (person, book) = (person(), book());
    let words = move || person.language.get().laser();
    let lasers = move || {
        let job = book.job.get();
        let own = job
            .tools
            .iter()
            .filter(|(_, tool)| tool.kind == ToolKind::Laser);
        let mut all: Vec<(Option<ToolId>, String)> = own
            .map(|(id, tool)| (Some(id.clone()), tool.label.clone()))
            .collect();
        all.push((None, words().none.to_owned()));
        all
    };
    let any = move || lasers().len() > 1;
    let points = move || {
        let job = book.job.get();
        job.points
            .values()
            .map(|point| [point.place_mm[1], point.place_mm[0]])
            .collect::<Vec<_>>()
    };
    let where_ = move || {
        let front = points()
            .iter()
            .map(|[_, x]| *x)
            .fold(f64::INFINITY, f64::min);
        match stands.get() {
            Some(at) if front.is_finite() => stand(at, front, person.figures(), words()),
            _ => words().stands_unknown.to_owned(),
        }
    };
    let label = move || format!("{}: {}", words().stands, where_());
    view! {
        <Show when=any>
            <Choices label=person.laser_word(|words| words.of_setup) options=Signal::derive(lasers) chosen=tool choose=move |to| tool.set(to) />
            <Show when=move || tool.read().is_some()>
                <p>{person.laser_word(|words| words.stands_why)}</p>
                <StandPlan points=Signal::derive(points) stands label=Signal::derive(label) />
                <p role="status">{where_}</p>
                <Show when=move || stands.read().is_some()>
                    <button type="button" on:click=move |_| stands.set(None)>{person.laser_word(|words| words.forget)}</button>
                </Show>
            </Show>
        </Show>
    }
}
