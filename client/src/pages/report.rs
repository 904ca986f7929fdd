//! The report: as PDF from the server; printed, saved and as tables from what is here.

use gloo_timers::future::TimeoutFuture;
use leptos::prelude::*;
use leptos::task::spawn_local;
use report::{Paper, html, table};
use shared::figures::{Figures, Language};
use shared::proof::read_code;
use shared::speech::{counted, fill};
use shared::wire::Code;

use super::sign_in::error_text;
use crate::components::field::{Choices, Field};
use crate::measuring::signed::stage_label;
use crate::net::NetError;
use crate::platform;
use crate::state::person::{Person, person};
use crate::state::report::{Content, Source};

/// So long the screen has to say that something is being done, milliseconds.
const PAINT_MS: u32 = 40;

/// What is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Pdf,
    Print,
    Page,
    Readings,
    Results,
}

/// Why it was not had.
#[derive(Debug, Clone, PartialEq, Eq)]
enum NoFile {
    NotHere,
    Net(NetError),
    Browser,
    Printer,
}

/// The part of a page.
#[component]
pub fn ReportPart(
    /// Whose report.
    source: Source,
) -> impl IntoView {
    let person = person();
    let words = move || person.report();
    let language = RwSignal::new(person.language.get_untracked());
    let paper = RwSignal::new(first_paper());
    let making = RwSignal::new(None::<Form>);
    let said = RwSignal::new(None::<Result<Form, NoFile>>);
    let languages = || {
        Language::ALL
            .map(|one| (one, one.own_name().to_owned()))
            .to_vec()
    };
    let papers = move || {
        vec![
            (Paper::A4, "A4".to_owned()),
            (Paper::Letter, words().letter.to_owned()),
        ]
    };
    let ask = move |form: Form| {
        let figures = Figures {
            language: language.get_untracked(),
            ..person.figures()
        };
        let paper = paper.get_untracked();
        making.set(Some(form));
        said.set(None);
        spawn_local(async move {
            TimeoutFuture::new(PAINT_MS).await;
            let done = make(source, form, figures, paper).await;
            // The page may be gone by now.
            let _ = making.try_set(None);
            let _ = said.try_set(Some(done.map(|()| form)));
        });
    };
    let button = move |form: Form,
                       name: &'static str,
                       word: fn(&crate::text::report::Report) -> &'static str| {
        let is_off = move || making.get().is_some() || (form == Form::Pdf && !source.is_online());
        view! { <button type="button" data-test=name disabled=is_off on:click=move |_| ask(form)>{move || word(words())}</button> }
    };
    let offline = move || (!source.is_online()).then(|| words().pdf_offline);
    let unshared = move || match source.unshared() {
        0 => None,
        count => Some(counted(
            words().pdf_unshared_one,
            words().pdf_unshared,
            count,
        )),
    };
    let progress = move || {
        making.get().map(|form| match form {
            Form::Pdf => words().pdf_making,
            _ => words().preparing,
        })
    };
    let told = move || {
        said.get().map(|said| match said {
            Ok(Form::Print) => ().into_any(),
            Ok(_) => view! { <p class="done" data-test="report-done">{words().done}</p> }.into_any(),
            Err(why) => view! { <p role="alert" class="error" data-test="report-error">{reason(person, &why)}</p> }.into_any(),
        })
    };
    view! {
        <section class="report-part">
            <h2>{person.report_word(|words| words.title)}</h2>
            <p class="quiet">{person.report_word(|words| words.why)}</p>
            <Choices label=person.report_word(|words| words.language) options=Signal::derive(languages) chosen=language choose=move |to| language.set(to) />
            <Choices label=person.report_word(|words| words.paper) options=Signal::derive(papers) chosen=paper choose=move |to| paper.set(to) />
            <p class="quiet" role="status" data-test="report-status">{offline} {unshared} {progress}</p>
            <div class="row">
                {button(Form::Pdf, "report-pdf", |words| words.pdf)}
                {button(Form::Print, "report-print", |words| words.print)}
                {button(Form::Page, "report-page", |words| words.page_file)}
                {button(Form::Readings, "report-readings", |words| words.readings)}
                {button(Form::Results, "report-results", |words| words.results)}
            </div>
            {told}
            <CodeCheck source />
        </section>
    }
}

/// Paper of the browser's country, as far as its language tells.
fn first_paper() -> Paper {
    // Countries where Letter is the usual paper (Unicode CLDR, paperSize).
    const LETTER: [&str; 14] = [
        "BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE",
    ];
    let language = platform::first_language().unwrap_or_default();
    let is_letter = |part: &str| LETTER.contains(&part);
    match language.split('-').any(is_letter) {
        true => Paper::Letter,
        false => Paper::A4,
    }
}

async fn make(source: Source, form: Form, figures: Figures, paper: Paper) -> Result<(), NoFile> {
    if form == Form::Pdf {
        let bytes = source.pdf(figures, paper).await.map_err(NoFile::Net)?;
        let number = source.number();
        return save(&format!("report-{number}.pdf"), &bytes);
    }
    let mut content: Content = source.content().ok_or(NoFile::NotHere)?;
    if matches!(form, Form::Print | Form::Page) {
        source.gather(&mut content).await;
    }
    let number = source.number();
    match form {
        Form::Pdf => Ok(()),
        Form::Print => {
            let report = content.report(figures, paper);
            let printed = platform::print_page(&html::style(&report), &html::body(&report));
            printed.map_err(|_| NoFile::Printer)
        }
        Form::Page => {
            let page = html::page(&content.report(figures, paper));
            save(&format!("report-{number}.html"), page.as_bytes())
        }
        Form::Readings => {
            let text = table::readings(&content.job, figures);
            save(&format!("readings-{number}.csv"), text.as_bytes())
        }
        Form::Results => {
            let text = table::results(&content.job, &content.result, figures);
            save(&format!("results-{number}.csv"), text.as_bytes())
        }
    }
}

fn save(name: &str, bytes: &[u8]) -> Result<(), NoFile> {
    platform::save_file(name, bytes).map_err(|_| NoFile::Browser)
}

fn reason(person: Person, why: &NoFile) -> String {
    let words = person.report();
    match why {
        NoFile::NotHere => words.not_here.to_owned(),
        NoFile::Browser => words.file_failed.to_owned(),
        NoFile::Printer => words.print_failed.to_owned(),
        NoFile::Net(NetError::Refused(refusal)) if refusal.code == Code::Busy => {
            words.pdf_busy.to_owned()
        }
        NoFile::Net(error) => {
            let text = error_text(person.words(), error);
            format!("{} {text}", words.pdf_failed)
        }
    }
}

/// Finds the signature of a code that somebody reads out from a report.
#[component]
fn CodeCheck(source: Source) -> impl IntoView {
    let person = person();
    let typed = RwSignal::new(String::new());
    let found = move || {
        let words = person.report();
        let text = typed.get();
        if text.trim().is_empty() {
            return None;
        }
        let Some(code) = read_code(&text) else {
            return Some(words.code_unreadable.to_owned());
        };
        let Some(signed) = source.signed() else {
            return Some(person.office().signatures_later.to_owned());
        };
        let all = signed
            .iter()
            .flat_map(|one| std::iter::once(&one.signed).chain(&one.joined));
        let found = all.into_iter().find(|signed| signed.code() == code);
        Some(found.map_or_else(
            || words.code_none.to_owned(),
            |signed| {
                let said = signed.statement();
                let at = platform::moment(said.at_ms, person.language.get().code());
                let stage = stage_label(&source.job(), &said.claims.stage);
                let values = [said.who.name.as_str(), &at, &stage];
                fill(words.code_found, &values)
            },
        ))
    };
    view! {
        <h3>{person.report_word(|words| words.code_title)}</h3>
        <Field
            name="code"
            label=person.report_word(|words| words.code_field)
            value=typed
            hint=Signal::derive(move || person.report().code_why.to_owned())
        />
        <p role="status" data-test="code-found">{found}</p>
    }
}
