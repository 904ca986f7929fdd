//! What an owner keeps an eye on beside the jobs: lasers that are due for a check, and backups.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::figures::Figures;
use shared::wire::{BackupState, DueTool};

use super::{Brought, job_numbers};
use crate::net::NetError;
use crate::platform;
use crate::state::person::person;
use crate::state::session::session;
use crate::state::shelf::shelf;
use crate::text::desk::words;

/// Both parts.
#[component]
pub fn Upkeep() -> impl IntoView {
    view! {
        <Tools />
        <Backup />
    }
}

#[component]
fn Tools() -> impl IntoView {
    let (person, session, shelf) = (person(), session(), shelf());
    let desk = move || words(person.language.get());
    let answer = RwSignal::new(None::<Result<Vec<DueTool>, NetError>>);
    spawn_local(async move { drop(answer.try_set(Some(session.due_tools().await))) });
    let show = move |tools: Vec<DueTool>| {
        let (desk, language) = (desk(), person.language.get().code());
        if tools.is_empty() {
            return view! { <p class="empty">{desk.tools_none}</p> }.into_any();
        }
        let numbers = job_numbers(shelf);
        let rows = tools.into_iter().map(|due| {
            let checked = due.checked_at.map_or_else(
                || desk.never_checked.to_owned(),
                |at| {
                    desk.checked_on
                        .replacen("{}", &platform::moment_of(&at, language), 1)
                },
            );
            let number = numbers.get(&due.book).filter(|number| !number.is_empty());
            let book = number.map(|number| desk.in_book.replacen("{}", number, 1));
            let said = [Some(checked), book].into_iter().flatten();
            let said = said.collect::<Vec<_>>().join(" · ");
            view! { <li><span><b>{due.tool}</b><small>{said}</small></span></li> }
        });
        view! { <ul class="lines" data-test="due-tools">{rows.collect_view()}</ul> }.into_any()
    };
    view! {
        <section>
            <h2>{move || desk().tools_due}</h2>
            <Brought answer show />
            <p class="quiet">{move || desk().tools_why}</p>
        </section>
    }
}

#[component]
fn Backup() -> impl IntoView {
    let (person, session) = (person(), session());
    let desk = move || words(person.language.get());
    let answer = RwSignal::new(None::<Result<BackupState, NetError>>);
    spawn_local(async move { drop(answer.try_set(Some(session.backup().await))) });
    let show = move |state: BackupState| {
        let (desk, language) = (desk(), person.language.get().code());
        let Some(last) = state.last else {
            return view! { <p class="caution">{desk.backup_none}</p> }.into_any();
        };
        let at = platform::moment_of(&last.made_at, language);
        let size = size(person.figures(), last.bytes);
        let line = desk
            .backup_last
            .replacen("{}", &at, 1)
            .replacen("{}", &size, 1);
        let (class, says) = match last.is_old {
            true => ("caution", desk.backup_old),
            false => ("quiet", desk.backup_good),
        };
        view! { <p>{line}</p> <p class=class>{says}</p> }.into_any()
    };
    view! {
        <section data-test="backup">
            <h2>{move || desk().backups}</h2>
            <Brought answer show />
        </section>
    }
}

/// A file's size as people say it.
fn size(figures: Figures, bytes: u64) -> String {
    #[expect(clippy::cast_precision_loss, reason = "one decimal is shown")]
    let bytes = bytes as f64;
    match bytes < 1e6 {
        true => format!("{} kB", figures.decimal(bytes / 1e3, 0)),
        false => format!("{} MB", figures.decimal(bytes / 1e6, 1)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shared::figures::Language;

    #[test]
    fn a_size_is_said_in_the_persons_language() {
        let spanish = Figures {
            language: Language::Spanish,
            ..Figures::default()
        };
        assert_eq!(size(Figures::default(), 45_600), "46 kB");
        assert_eq!(size(spanish, 12_345_678), "12,3 MB");
    }
}
