//! A sheet from a file: read here, shown, and kept when its person says so.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::library::{
    Comparison, OriginKind, Pattern, Sheet, SheetLine, compare, parse_bytes, read_table,
};

use crate::components::field::Field;
use crate::components::refusals::Refusals;
use crate::measuring::sheets::comparison;
use crate::net::NetError;
use crate::pages::sign_in::error_text;
use crate::platform;
use crate::state::library::Place;
use crate::state::person::person;
use crate::state::session::session;
use shared::wire::Code;

/// The section.
#[component]
pub fn TakeSheet(
    /// Sheets that are there.
    known: Signal<Vec<SheetLine>>,
    /// Asks for them anew.
    fetch: Callback<()>,
) -> impl IntoView {
    let person = person();
    let taken = RwSignal::new(None::<Sheet>);
    let refused = RwSignal::new(Vec::<String>::new());
    let take = move |event: leptos::ev::Event| {
        let field: web_sys::HtmlInputElement = event_target(&event);
        spawn_local(async move {
            let name = field.files().and_then(|files| files.get(0));
            let name = name.map(|file| file.name()).unwrap_or_default();
            let Some(bytes) = platform::chosen_file(&field).await else {
                return;
            };
            match read(&name, &bytes) {
                Ok(sheet) => {
                    refused.set(Vec::new());
                    taken.set(Some(sheet));
                }
                Err(lines) => {
                    taken.set(None);
                    refused.set(lines);
                }
            }
            // The same file may be chosen again once it is mended.
            field.set_value("");
        });
    };
    view! {
        <section>
            <h2>{person.library_word(|library| library.take_title)}</h2>
            <p class="quiet">{person.library_word(|library| library.take_why)}</p>
            <label class="button file">
                <input type="file" class="sr" name="sheet-file" accept=".csv,.json,text/csv,application/json" on:change=take />
                {person.library_word(|library| library.file)}
            </label>
            <Refusals heading=person.library_word(|library| library.refused) lines=refused />
            {move || taken.get().map(|sheet| view! { <KeepSheet sheet known done=fetch /> })}
        </section>
    }
}

/// Reads a file of either kind; a table's name is that of its file.
fn read(name: &str, bytes: &[u8]) -> Result<Sheet, Vec<String>> {
    let said = |refusals: Vec<_>| {
        let lines = refusals.iter().map(shared::jobfile::Refusal::to_string);
        lines.collect::<Vec<_>>()
    };
    let start = bytes.iter().find(|byte| !byte.is_ascii_whitespace());
    if start == Some(&b'{') {
        return parse_bytes(bytes).map_err(said);
    }
    let stem = name.rsplit_once('.').map_or(name, |(stem, _)| stem);
    let mut head = Sheet::blank(stem, OriginKind::Imported);
    // A suggestion: it is asked for before the sheet is kept.
    head.body.model = stem.to_owned();
    head.origin.source = name.to_owned();
    read_table(bytes, &head).map_err(said)
}

/// A sheet that is to be kept: what it is called and where it goes.
#[component]
pub fn KeepSheet(
    /// The sheet.
    sheet: Sheet,
    /// Sheets that are there.
    known: Signal<Vec<SheetLine>>,
    /// Called when it is kept.
    done: Callback<()>,
) -> impl IntoView {
    let (person, session) = (person(), session());
    let (name, source) = (
        RwSignal::new(sheet.name.clone()),
        RwSignal::new(sheet.origin.source.clone()),
    );
    let (maker, model) = (
        RwSignal::new(sheet.body.maker.clone()),
        RwSignal::new(sheet.body.model.clone()),
    );
    let vin = sheet.body.vin.map(|pattern| pattern.to_string());
    let vin = RwSignal::new(vin.unwrap_or_default());
    let place = RwSignal::new(Place::New);
    let against = RwSignal::new(None::<Comparison>);
    let said = RwSignal::new(None::<Result<SheetLine, String>>);
    let sheet = StoredValue::new(sheet);
    let choose = move |event: leptos::ev::Event| {
        let chosen = event_target_value(&event);
        let line = known.get_untracked();
        let line = line.into_iter().find(|line| line.id == chosen);
        against.set(None);
        place.set(line.as_ref().map_or(Place::New, |line| {
            Place::After(line.id.clone(), line.revision)
        }));
        let Some(line) = line else { return };
        name.set(line.summary.name.clone());
        maker.set(line.summary.body.maker.clone());
        model.set(line.summary.body.model.clone());
        spawn_local(async move {
            if let Ok(before) = session.sheet(&line.id, line.revision).await {
                let found = sheet.with_value(|sheet| compare(&before, sheet));
                drop(against.try_set(Some(found)));
            }
        });
    };
    let busy = RwSignal::new(false);
    // A second tap would make the same sheet once more.
    let is_done = move || busy.get() || matches!(*said.read(), Some(Ok(_)));
    let keep = move |_| {
        let mut new = sheet.get_value();
        new.name = name.get_untracked().trim().to_owned();
        new.origin.source = source.get_untracked().trim().to_owned();
        new.body.maker = maker.get_untracked().trim().to_owned();
        new.body.model = model.get_untracked().trim().to_owned();
        let typed = vin.get_untracked();
        new.body.vin = match typed.trim() {
            "" => None,
            text => match text.parse::<Pattern>() {
                Ok(pattern) => Some(pattern),
                Err(wrong) => {
                    let why = person.library().vin_wrong;
                    said.set(Some(Err(why.replacen("{}", &wrong.to_string(), 1))));
                    return;
                }
            },
        };
        busy.set(true);
        spawn_local(async move {
            let kept = session.keep_sheet(&place.get_untracked(), &new).await;
            let is_late = |error: &NetError| matches!(error, NetError::Refused(refusal) if refusal.code == Code::Taken);
            said.set(Some(kept.map_err(|error| match is_late(&error) {
                true => person.library().newer.to_owned(),
                false => error_text(person.words(), &error),
            })));
            busy.set(false);
            done.run(());
        });
    };
    let options = move || {
        let option = |line: SheetLine| {
            let text = person.library().place_after;
            let text = text.replacen("{}", &line.summary.name, 1);
            let text = text.replacen("{}", &line.revision.to_string(), 1);
            // The list may be fetched again, longer than it was.
            let is_chosen = matches!(&*place.read(), Place::After(id, _) if *id == line.id);
            view! { <option value=line.id prop:selected=is_chosen>{text}</option> }
        };
        known.get().into_iter().map(option).collect_view()
    };
    let differs = move || {
        let lines = comparison(person.library(), person.figures(), &against.get()?);
        Some(
            lines
                .into_iter()
                .map(|line| view! { <li>{line}</li> })
                .collect_view(),
        )
    };
    let told = move || {
        said.get().map(|said| match said {
            Ok(line) => {
                let text = person.library().kept;
                let text = text.replacen("{}", &line.summary.name, 1);
                let text = text.replacen("{}", &line.revision.to_string(), 1);
                view! { <p role="status" class="done" data-test="sheet-kept">{text}</p> }.into_any()
            }
            Err(why) => view! { <p role="alert" class="error">{why}</p> }.into_any(),
        })
    };
    view! {
        <div class="keep-sheet" data-test="keep-sheet">
            <SheetTable sheet=sheet.get_value() />
            <Field name="sheet-name" label=person.library_word(|library| library.name) value=name />
            <Field name="sheet-maker" label=person.library_word(|library| library.maker) value=maker />
            <Field name="sheet-model" label=person.library_word(|library| library.model) value=model />
            <Field name="sheet-source" label=person.library_word(|library| library.source) value=source />
            <Field name="sheet-vin" label=person.library_word(|library| library.vin) value=vin />
            <label class="field">
                <span>{person.library_word(|library| library.place)}</span>
                <select name="sheet-place" on:change=choose>
                    <option value="">{person.library_word(|library| library.place_new)}</option>
                    {options}
                </select>
            </label>
            <ul class="lines" aria-live="polite">{differs}</ul>
            <button type="button" class="primary" data-test="keep-revision" disabled=move || is_done() || name.read().trim().is_empty() || model.read().trim().is_empty() on:click=keep>
                {person.library_word(|library| library.keep)}
            </button>
            {told}
        </div>
    }
}

/// The points of a sheet.
#[component]
pub fn SheetTable(
    /// The sheet.
    sheet: Sheet,
) -> impl IntoView {
    let person = person();
    let figures = person.figures();
    let number = move |mm: f64| figures.decimal(mm, 1);
    let rows: Vec<_> = sheet
        .points
        .iter()
        .map(|(id, point)| {
            let name = match point.label.is_empty() {
                true => id.to_string(),
                false => format!("{} ({id})", point.label),
            };
            let target = point.target_mm.map(number).join(" · ");
            let spread = point.spread_mm.into_iter().fold(0.0, f64::max);
            view! { <tr><th scope="row">{name}</th><td>{target}</td><td>{number(spread)}</td></tr> }
        })
        .collect();
    view! {
        <div class="wide">
            <table data-test="sheet-table">
                <thead>
                    <tr>
                        <th scope="col">{person.library_word(|library| library.table_point)}</th>
                        <th scope="col">{person.library_word(|library| library.table_target)}</th>
                        <th scope="col">{person.library_word(|library| library.table_spread)}</th>
                    </tr>
                </thead>
                <tbody>{rows}</tbody>
            </table>
        </div>
    }
}
