//! Lasers and their checks.

use leptos::prelude::*;
use shared::book::Intention;
use shared::ids::ToolId;
use shared::job::{Tool, ToolKind};
use shared::tools::{Check, Slope};
use shared::units::Unit;

use crate::components::field::Field;
use crate::measuring::figures::LengthUnit;
use crate::measuring::laser_check::{Beam, found, known, refusal, sentence};
use crate::platform;
use crate::state::book::book;
use crate::state::person::person;
use crate::text::Speaks;

/// Standard uncertainty of a cross-line laser's beam where nobody checked it, millimetres.
const BEAM_SIGMA_MM: f64 = 0.5;
/// The same, for each metre of distance.
const BEAM_PER_M_MM: f64 = 0.1;

/// The list, a form to add one, and the open check.
#[component]
pub fn Lasers(
    /// What a person does, done.
    act: Callback<Intention, bool>,
) -> impl IntoView {
    let (person, book) = (person(), book());
    let words = move || person.language.get().laser();
    let label = RwSignal::new(String::new());
    let open = RwSignal::new(None::<(ToolId, Beam)>);
    let add = move |_| {
        let name = label.get_untracked().trim().to_owned();
        let Ok(id) = ToolId::parse(&platform::fresh_id().to_string()) else {
            return;
        };
        if name.is_empty() {
            return;
        }
        let tool = Tool {
            kind: ToolKind::Laser,
            label: name,
            sigma_mm: BEAM_SIGMA_MM,
            per_m_mm: BEAM_PER_M_MM,
            level_check: None,
            plumb_check: None,
        };
        act.run(Intention::AddTool { id, tool });
        label.set(String::new());
    };
    let lines = move || {
        let job = book.job.get();
        let lasers = job
            .tools
            .iter()
            .filter(|(_, tool)| tool.kind == ToolKind::Laser);
        let line = |(id, tool): (&ToolId, &Tool)| {
            let (figures, words) = (person.figures(), words());
            let says = [Beam::Level, Beam::Plumb].map(|beam| known(beam, tool, figures, words));
            let button = |beam: Beam, word: &'static str| {
                let id = id.clone();
                view! { <button type="button" on:click=move |_| open.set(Some((id.clone(), beam)))>{word}</button> }
            };
            view! {
                <li class="laser">
                    <b>{tool.label.clone()}</b>
                    {says.map(|said| view! { <span>{said}</span> })}
                    <div class="row">{button(Beam::Level, words.check_level)} {button(Beam::Plumb, words.check_plumb)}</div>
                </li>
            }
        };
        lasers.map(line).collect_view()
    };
    let check = move || {
        let (id, beam) = open.get()?;
        let done = Callback::new(move |()| open.set(None));
        Some(view! { <CheckForm id beam act done /> })
    };
    view! {
        <section data-test="lasers">
            <h2>{person.laser_word(|words| words.lasers)}</h2>
            <p>{person.laser_word(|words| words.lasers_why)}</p>
            <ul class="lines">{lines}</ul>
            {check}
            <Field name="laser" label=person.laser_word(|words| words.name) value=label />
            <button type="button" data-test="add-laser" on:click=add>{person.laser_word(|words| words.add)}</button>
        </section>
    }
}

/// The fields of one check, with what they say as soon as they say something.
#[component]
fn CheckForm(
    id: ToolId,
    beam: Beam,
    act: Callback<Intention, bool>,
    done: Callback<()>,
) -> impl IntoView {
    let (person, book) = (person(), book());
    let words = move || person.language.get().laser();
    let fields: Vec<RwSignal<String>> = beam
        .fields(words())
        .iter()
        .map(|_| RwSignal::new(String::new()))
        .collect();
    let typed = fields.clone();
    let slope = Memo::new(move |_| {
        let unit = match person.unit.get() {
            LengthUnit::Millimetre => Unit::Millimetre,
            LengthUnit::InchDecimal | LengthUnit::InchFraction => Unit::Inch,
        };
        let typed: Vec<String> = typed.iter().map(|field| field.get()).collect();
        found(beam, &typed, unit)
    });
    let says = move || match slope.get() {
        None => String::new(),
        Some(Ok(slope)) => sentence(beam, slope, person.figures(), words()),
        Some(Err(error)) => refusal(error, words()).to_owned(),
    };
    let record = move |_| {
        let Some(Ok(Slope {
            mm_per_m,
            sigma_mm_per_m,
        })) = slope.get_untracked()
        else {
            return;
        };
        let Some(mut tool) = book.job.read_untracked().tools.get(&id).cloned() else {
            return;
        };
        let check = Some(Check {
            mm_per_m,
            sigma_mm_per_m,
            at: platform::now_text(),
            by: book.me(),
        });
        match beam {
            Beam::Level => tool.level_check = check,
            Beam::Plumb => tool.plumb_check = check,
        }
        act.run(Intention::AddTool {
            id: id.clone(),
            tool,
        });
        done.run(());
    };
    let (title, how) = match beam {
        Beam::Level => (words().check_level, words().level_how),
        Beam::Plumb => (words().check_plumb, words().plumb_how),
    };
    let inputs = beam.fields(words()).into_iter().zip(fields);
    let in_unit = Signal::derive(move || person.figures().unit_name());
    view! {
        <div class="check" role="group" aria-label=title>
            <h3>{title}</h3>
            <p>{how}</p>
            <p class="caution">{person.word(|words| words.safety_beam)}</p>
            {inputs.map(|(label, value)| view! { <Field name="check" label=Signal::stored(label) value inputmode="decimal" unit=in_unit /> }).collect_view()}
            <p role="status">{says}</p>
            <div class="row">
                <button type="button" class="primary" data-test="record-check" disabled=move || !matches!(slope.get(), Some(Ok(_))) on:click=record>
                    {person.laser_word(|words| words.record)}
                </button>
                <button type="button" on:click=move |_| done.run(())>{person.word(|words| words.cancel)}</button>
            </div>
        </div>
    }
}
