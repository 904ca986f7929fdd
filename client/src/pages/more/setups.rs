//! Set-ups of the laser: how its plumb beam runs, which laser it is, where it stands.

use leptos::prelude::*;
use shared::book::{Intention, SetupPart};
use shared::ids::{SetupId, ToolId};
use shared::job::{Plumb, Setup, Taken, ToolKind};

use crate::components::field::{Choices, Field};
use crate::components::rows::Rows;
use crate::components::stand_plan::StandPlan;
use crate::measuring::laser_check::stand;
use crate::platform;
use crate::state::book::book;
use crate::state::person::{Person, person};
use crate::text::Speaks;

/// How a plumb beam may run, with the words.
fn runs(person: Person) -> Signal<Vec<(Option<Plumb>, String)>> {
    Signal::derive(move || {
        let words = person.words();
        vec![
            (Some(Plumb::Lengthwise), words.plumb_lengthwise.to_owned()),
            (Some(Plumb::Crosswise), words.plumb_crosswise.to_owned()),
            (None, words.plumb_none.to_owned()),
        ]
    })
}

/// What is typed and chosen of a set-up.
#[derive(Clone, Copy)]
struct Draft {
    label: RwSignal<String>,
    plumb: RwSignal<Option<Plumb>>,
    tool: RwSignal<Option<ToolId>>,
    stands: RwSignal<Option<[f64; 2]>>,
}

impl Draft {
    fn of(setup: &Setup) -> Self {
        Self {
            label: RwSignal::new(setup.label.clone()),
            plumb: RwSignal::new(setup.plumb),
            tool: RwSignal::new(setup.tool.clone()),
            stands: RwSignal::new(setup.stands_mm),
        }
    }

    fn made(self) -> Setup {
        let tool = self.tool.get_untracked();
        // Without its laser's checks a place says nothing.
        let stands_mm = self.stands.get_untracked().filter(|_| tool.is_some());
        Setup {
            label: self.label.read_untracked().trim().to_owned(),
            plumb: self.plumb.get_untracked(),
            tool,
            stands_mm,
        }
    }
}

/// The list, the open set-up, and a form to add one.
#[component]
pub fn Setups(
    /// What a person does, done.
    act: Callback<Intention, bool>,
) -> impl IntoView {
    let (person, book) = (person(), book());
    let draft = Draft::of(&Setup {
        plumb: Some(Plumb::Lengthwise),
        ..Setup::default()
    });
    let open = RwSignal::new(None::<(SetupId, Setup)>);
    let add = move |_| {
        let Ok(id) = SetupId::parse(&platform::fresh_id().to_string()) else {
            return;
        };
        let mut setup = draft.made();
        if setup.label.is_empty() {
            setup.label = (book.job.read_untracked().setups.len() + 1).to_string();
        }
        act.run(Intention::AddSetup {
            id: id.clone(),
            setup,
        });
        book.setup.set(Some(id));
        draft.label.set(String::new());
        draft.stands.set(None);
    };
    let names = move || {
        book.job
            .read()
            .setups
            .keys()
            .map(SetupId::to_string)
            .collect()
    };
    let row = move |name: String| {
        let Ok(id) = SetupId::parse(&name) else {
            return ().into_any();
        };
        let key = id.clone();
        let says = move || {
            let job = book.job.read();
            let setup = job.setups.get(&key)?;
            let run = runs(person).get();
            let run = run.into_iter().find(|(known, _)| *known == setup.plumb);
            let laser = setup.tool.as_ref().and_then(|tool| job.tools.get(tool));
            let laser = laser.map(|tool| format!(" · {}", tool.label));
            Some(view! { {setup.label.clone()} " · " {run.map(|(_, word)| word)} {laser} })
        };
        let change = move |_| {
            let setup = book.job.read_untracked().setups.get(&id).cloned();
            open.set(setup.map(|setup| (id.clone(), setup)));
        };
        view! {
            <li>
                <span>{says}</span>
                <button type="button" data-test="change-setup" on:click=change>{person.word(|words| words.amend)}</button>
            </li>
        }
        .into_any()
    };
    let form = move || {
        let (id, setup) = open.get()?;
        let done = Callback::new(move |()| open.set(None));
        Some(view! { <SetupForm id setup act done /> })
    };
    view! {
        <section>
            <h2>{person.word(|words| words.setups)}</h2>
            <ul class="lines">
                <Rows names=Signal::derive(names) row=Callback::new(row) />
            </ul>
            {form}
            <Choices label=person.word(|words| words.add_setup) options=runs(person) chosen=draft.plumb choose=move |to| draft.plumb.set(to) />
            <Field name="setup" label=person.word(|words| words.setup_name) value=draft.label />
            <WhichLaser tool=draft.tool stands=draft.stands />
            <button type="button" data-test="add-setup" on:click=add>{person.word(|words| words.add_setup)}</button>
        </section>
    }
}

/// A set-up as it was opened, to be named, completed and corrected. Only what differs is written.
#[component]
fn SetupForm(
    id: SetupId,
    setup: Setup,
    act: Callback<Intention, bool>,
    done: Callback<()>,
) -> impl IntoView {
    let (person, book) = (person(), book());
    let draft = Draft::of(&setup);
    let title = setup.label.clone();
    let own = id.clone();
    let is_read = Memo::new(move |_| {
        let job = book.job.read();
        let from_beam = |taken: &Taken| {
            let of_plumb = !matches!(taken, Taken::Height { .. });
            of_plumb && taken.setup() == Some(&own)
        };
        job.readings.iter().any(|reading| from_beam(&reading.taken))
    });
    let nameless = move || draft.label.read().trim().is_empty();
    let hint = move || match nameless() {
        true => person.words().needs_name.to_owned(),
        false => String::new(),
    };
    let save = move |_| {
        let made = draft.made();
        let mut says = Vec::new();
        if made.label != setup.label {
            says.push(SetupPart::Label(made.label));
        }
        // Somebody may have read from it since the choice was made.
        if made.plumb != setup.plumb && !is_read.get_untracked() {
            says.push(SetupPart::Plumb(made.plumb));
        }
        if made.tool != setup.tool {
            says.push(SetupPart::Tool(made.tool));
        }
        if made.stands_mm != setup.stands_mm {
            says.push(SetupPart::Stands(made.stands_mm));
        }
        let id = id.clone();
        if says.is_empty() || act.run(Intention::DescribeSetup { id, says }) {
            done.run(());
        }
    };
    let plumb = move || {
        if is_read.get() {
            return view! { <p>{person.word(|words| words.beam_is_read)}</p> }.into_any();
        }
        view! {
            <Choices label=person.laser_word(|words| words.plumb_beam) options=runs(person) chosen=draft.plumb choose=move |to| draft.plumb.set(to) />
        }
        .into_any()
    };
    view! {
        <div class="check" role="group" aria-label=title data-test="setup-form">
            <Field name="setup" label=person.word(|words| words.setup_name) value=draft.label hint=Signal::derive(hint) />
            {plumb}
            <WhichLaser tool=draft.tool stands=draft.stands />
            <div class="row">
                <button type="button" data-test="save-setup" disabled=nameless on:click=save>{person.word(|words| words.save)}</button>
                <button type="button" on:click=move |_| done.run(())>{person.word(|words| words.cancel)}</button>
            </div>
        </div>
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
