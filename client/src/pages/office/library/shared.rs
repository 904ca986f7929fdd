//! Sheets between the shops of a server: publishing one, and those of the other shops.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::library::SheetLine;

use crate::measuring::sheets::line;
use crate::net::NetError;
use crate::pages::office::Brought;
use crate::pages::sign_in::error_text;
use crate::state::library::Place;
use crate::state::person::person;
use crate::state::session::session;

/// Longest text of a sheet.
const MAX_TEXT: usize = shared::library::MAX_TEXT;

/// Publishes a revision to all shops of the server, or ends that.
#[component]
pub fn Publish(
    /// The revision.
    line: SheetLine,
    /// Called when it is done.
    done: Callback<()>,
) -> impl IntoView {
    let (person, session) = (person(), session());
    let library = move || person.library();
    let asked = RwSignal::new(false);
    let failed = RwSignal::new(None::<NetError>);
    let is_published = line.published == Some(line.revision);
    let line = StoredValue::new(line);
    let act = move |_| {
        asked.set(false);
        let line = line.get_value();
        spawn_local(async move {
            let answer = match is_published {
                true => session.withdraw_sheet(&line.id).await,
                false => session.publish_sheet(&line.id, line.revision).await,
            };
            match answer {
                Ok(()) => done.run(()),
                Err(refused) => drop(failed.try_set(Some(refused))),
            }
        });
    };
    let why = move || match is_published {
        true => library().withdraw_why,
        false => library().publish_why,
    };
    let word = move || match is_published {
        true => library().withdraw,
        false => library().publish,
    };
    view! {
        {is_published.then(|| view! { <small data-test="is-published">{move || library().is_published}</small> })}
        <button type="button" data-test="publish" aria-expanded=move || asked.get().to_string() on:click=move |_| asked.update(|asked| *asked = !*asked)>{word}</button>
        <Show when=move || asked.get()>
            <p>{why}</p>
            <button type="button" class="primary" data-test="publish-now" on:click=act>{word}</button>
        </Show>
        <p role="alert" class="error">{move || failed.get().map(|error| error_text(person.words(), &error))}</p>
    }
}

/// What the other shops have published.
#[component]
pub fn SharedSheets(
    /// Called when one was copied into this shop's library.
    fetch: Callback<()>,
) -> impl IntoView {
    let (person, session) = (person(), session());
    let answer = RwSignal::new(None::<Result<Vec<SheetLine>, NetError>>);
    spawn_local(async move { drop(answer.try_set(Some(session.shared_sheets().await))) });
    let show = move |lines: Vec<SheetLine>| {
        let none = lines.is_empty();
        let none = none.then(|| {
            view! { <p class="empty">{person.library_word(|library| library.shared_none)}</p> }
        });
        let one = |line: SheetLine| view! { <Shared line fetch /> };
        view! {
            {none}
            <ul class="people" data-test="shared-sheets">{lines.into_iter().map(one).collect_view()}</ul>
        }
    };
    view! {
        <section>
            <h2>{person.library_word(|library| library.shared_title)}</h2>
            <p class="quiet">{person.library_word(|library| library.shared_why)}</p>
            <Brought answer show />
        </section>
    }
}

#[component]
fn Shared(line: SheetLine, fetch: Callback<()>) -> impl IntoView {
    let (person, session) = (person(), session());
    let said = RwSignal::new(None::<Result<(), NetError>>);
    let (name, short) = (
        line.summary.name.clone(),
        self::line(person.library(), &line),
    );
    let line = StoredValue::new(line);
    let copy = move |_| {
        // A second tap would make the same sheet once more.
        if said.get_untracked().is_some_and(|said| said.is_ok()) {
            return;
        }
        said.set(Some(Ok(())));
        spawn_local(async move {
            let line = line.get_value();
            let copied = match session.sheet_of(&line).await {
                Ok(mut sheet) => {
                    let shop = line.shared_by.unwrap_or_default();
                    let source = [sheet.origin.source.as_str(), &shop].join("; ");
                    let source = source.trim_start_matches("; ");
                    if source.chars().count() <= MAX_TEXT {
                        sheet.origin.source = source.to_owned();
                    }
                    session.keep_sheet(&Place::New, &sheet).await
                }
                Err(refused) => Err(refused),
            };
            if copied.is_ok() {
                fetch.run(());
            }
            drop(said.try_set(Some(copied.map(drop))));
        });
    };
    let answer = move || match said.get()? {
        Ok(()) => Some(person.library().copied.to_owned()),
        Err(refused) => Some(error_text(person.words(), &refused)),
    };
    view! {
        <li>
            <b>{name}</b> " " <small>{short}</small>
            <button type="button" data-test="copy-shared" on:click=copy>{person.library_word(|library| library.copy)}</button>
            <p role="status">{answer}</p>
        </li>
    }
}
