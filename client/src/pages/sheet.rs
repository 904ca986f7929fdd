//! The dimension sheet of a book: which one it is judged by, and what another would change.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::book::Intention;
use shared::library::{Effect, Pinned, Sheet, SheetLine, effect, pinned};
use shared::speech::counted;

use super::office::Brought;
use crate::components::safety::Safety;
use crate::measuring::sheets;
use crate::net::NetError;
use crate::state::book::book;
use crate::state::person::person;
use crate::state::session::session;

/// What is shown of what a sheet would change.
const SHOWN: usize = 20;

/// The page.
#[component]
pub fn SheetPage() -> impl IntoView {
    let (person, book, session) = (person(), book(), session());
    let library = move || person.library();
    let answer = RwSignal::new(None::<Result<Vec<SheetLine>, NetError>>);
    let refused = RwSignal::new(None::<String>);
    let search = RwSignal::new(String::new());
    spawn_local(async move {
        let own = session.sheets().await;
        let all = match (own, session.shared_sheets().await) {
            (Ok(own), Ok(shared)) => Ok(own.into_iter().chain(shared).collect()),
            (Ok(_), Err(error)) | (Err(error), _) => Err(error),
        };
        drop(answer.try_set(Some(all)));
    });
    let act = Callback::new(move |intention: Intention| {
        let done = book.act(&intention).err();
        refused.set(done.map(|why| person.voice().refused(&why)));
    });
    let now = move || match &book.job.read().sheet {
        None => library().no_sheet.to_owned(),
        Some(sheet) => library()
            .pinned
            .replacen("{}", &sheet.name, 1)
            .replacen("{}", &sheet.revision.to_string(), 1)
            .replacen("{}", &person.voice().range(sheet.spreads_mm()), 1),
    };
    let has_sheet = move || book.job.read().sheet.is_some();
    let show = move |lines: Vec<SheetLine>| {
        let lines = StoredValue::new(lines);
        // Others read on; what is opened here stays open.
        let vin = Memo::new(move |_| book.job.read().card.vin.clone());
        let hits = Memo::new(move |_| {
            lines.with_value(|lines| fitting(lines, &search.get(), vin.get().as_deref()))
        });
        let none = move || {
            let none = match lines.with_value(Vec::is_empty) {
                true => library().empty_here,
                false => library().no_hit,
            };
            hits.read()
                .is_empty()
                .then(|| view! { <p class="empty">{none}</p> })
        };
        let key = |(line, fits): &(SheetLine, bool)| (line.id.clone(), line.revision, *fits);
        view! {
            {none}
            <ul class="people" data-test="fitting">
                <For each=move || hits.get() key let:hit>
                    <Candidate line=hit.0 fits=hit.1 act />
                </For>
            </ul>
        }
    };
    view! {
        <div class="sheet-page">
            <section>
                <h2>{person.word(|words| words.dimension_sheet)}</h2>
                <p class="quiet">{person.library_word(|library| library.sheet_why)}</p>
                <p data-test="pinned">{now}</p>
                <p role="alert" class="error">{move || refused.get()}</p>
                <Show when=has_sheet>
                    <button type="button" data-test="unpin" on:click=move |_| act.run(Intention::PinSheet { sheet: None })>
                        {person.library_word(|library| library.unpin)}
                    </button>
                </Show>
            </section>
            <section>
                <label class="field">
                    <span>{person.library_word(|library| library.search)}</span>
                    <input type="search" name="sheet-search" prop:value=search on:input=move |event| search.set(event_target_value(&event)) />
                </label>
                <Brought answer show />
            </section>
            <Safety />
        </div>
    }
}

/// Sheets that every word and the number fit, best first; with whether their pattern says so.
fn fitting(lines: &[SheetLine], text: &str, vin: Option<&str>) -> Vec<(SheetLine, bool)> {
    let heads: Vec<Sheet> = lines.iter().map(head).collect();
    shared::library::find(&heads, text, vin)
        .into_iter()
        .filter_map(|hit| Some((lines.get(hit.index)?.clone(), hit.vin_bits.is_some())))
        .collect()
}

/// As much of a sheet as a search looks at.
fn head(line: &SheetLine) -> Sheet {
    let mut head = Sheet::blank(&line.summary.name, line.summary.origin);
    head.revision = line.revision;
    head.body = line.summary.body.clone();
    head
}

/// A sheet that could be pinned, with what that would change.
#[component]
fn Candidate(line: SheetLine, fits: bool, act: Callback<Intention>) -> impl IntoView {
    let (person, book, session) = (person(), book(), session());
    let library = move || person.library();
    let open = RwSignal::new(false);
    let answer = RwSignal::new(None::<Result<(Pinned, Vec<Effect>), NetError>>);
    let (listed, revision) = (StoredValue::new(line.clone()), line.revision);
    let (name, said) = (line.summary.name.clone(), sheets::line(library(), &line));
    let is_newer = move || {
        let job = book.job.read();
        let pinned = job.sheet.as_ref();
        pinned.is_some_and(|pinned| pinned.name == line.summary.name && pinned.revision < revision)
    };
    let newer = library()
        .newer_here
        .replacen("{}", &revision.to_string(), 1);
    let look = move |_| {
        open.update(|open| *open = !*open);
        spawn_local(async move {
            let read = session.sheet_of(&listed.get_value()).await;
            let job = book.job.get_untracked();
            let found = read.map(|sheet| (pinned(&sheet, &job), effect(&job, &sheet)));
            drop(answer.try_set(Some(found)));
        });
    };
    let show = move |(copy, effects): (Pinned, Vec<Effect>)| {
        let job = book.job.get_untracked();
        let left = [
            (copy.unknown.len(), library().unknown_one, library().unknown),
            (copy.loose.len(), library().loose_one, library().loose),
        ];
        let missing = left.map(|(count, one, many)| {
            let text = counted(one, many, count);
            (count > 0).then(|| view! { <p>{text}</p> })
        });
        let lines = effects.iter().take(SHOWN).map(|found| {
            let line = sheets::effect(person.voice(), library(), &job, found);
            view! { <li class:turned=found.turns()>{line}</li> }
        });
        let heading = match effects.is_empty() {
            true => library().nothing_changes,
            false => library().changes,
        };
        let pin = move |_| {
            act.run(Intention::PinSheet {
                sheet: Some(copy.sheet.clone()),
            });
            open.set(false);
        };
        view! {
            {missing}
            <p>{heading}</p>
            <ul class="lines" data-test="effects">{lines.collect_view()}</ul>
            <button type="button" class="primary" data-test="pin" on:click=pin>{library().pin}</button>
        }
    };
    view! {
        <li class="person">
            <button type="button" class="head" data-test="look" aria-expanded=move || open.get().to_string() on:click=look>
                <b>{name}</b>
                <small>{said} {fits.then(|| format!(" · {}", library().fits))}</small>
                <Show when=is_newer.clone()><small>{newer.clone()}</small></Show>
            </button>
            <Show when=move || open.get()>
                <Brought answer show />
            </Show>
        </li>
    }
}
