//! Sign-off and share: what will be signed, in words; who has signed; links for the adjuster.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::proof::statement::{Claims, SignedStatement};
use shared::solve::solve;
use shared::wire::Role;

use super::links::Links;
use super::report::ReportPart;
use super::sign_in::error_text;
use crate::components::pick::StageField;
use crate::components::safety::Safety;
use crate::components::signed::{Signed, SignedLine};
use crate::measuring::signed::{lines, open_checks, stage_label};
use crate::platform;
use crate::state::book::book;
use crate::state::person::{Person, person};
use crate::state::report::Source;
use crate::state::session::session;
use crate::state::shelf::shelf;
use crate::state::signing::{NotSigned, SignOff, sign_offs};

/// Why nothing was signed, in words.
fn reason(person: Person, why: &NotSigned) -> String {
    let office = person.office();
    match why {
        NotSigned::NotHere => office.sign_not_here.to_owned(),
        NotSigned::NotShared => office.sign_not_shared.to_owned(),
        NotSigned::Changed => office.sign_changed.to_owned(),
        NotSigned::NoKey => office.sign_no_key.to_owned(),
        NotSigned::Net(error) => {
            let text = error_text(person.words(), error);
            format!("{} {text}", office.sign_refused)
        }
    }
}

/// The page.
#[component]
pub fn SignPage() -> impl IntoView {
    let (person, book, session) = (person(), book(), session());
    let texts = RwSignal::new(None::<Vec<String>>);
    let said = RwSignal::new(None::<Result<String, NotSigned>>);
    let fetch = move || {
        spawn_local(async move {
            // Offline the list stays as it was; the page says that it needs the server.
            if let Ok(list) = session.statements(&book.id.get_value()).await {
                // The page may be gone by now.
                drop(texts.try_set(Some(list)));
            }
        });
    };
    let shelf = shelf();
    Effect::new(move || {
        if shelf.online.get() {
            fetch();
        }
    });
    // Somebody else may sign while this page is open.
    let again = set_interval_with_handle(fetch, std::time::Duration::from_secs(10)).ok();
    on_cleanup(move || {
        if let Some(handle) = again {
            handle.clear();
        }
    });
    let told = move || {
        said.get().map(|said| match said {
            Ok(code) => view! { <p role="status" class="done" data-test="signed-code">{person.office().signed_code} " " <b>{code}</b></p> }.into_any(),
            Err(why) => view! { <p role="alert" class="error">{reason(person, &why)}</p> }.into_any(),
        })
    };
    let after = Callback::new(move |done: Result<String, NotSigned>| {
        said.set(Some(done));
        fetch();
    });
    view! {
        <div class="sign">
            <div class="to-sign">
                <ToSign texts after />
                {told}
            </div>
            <Signatures texts after />
            <ReportPart source=Source::Book { book, shelf, session, texts } />
            <Links />
            <Safety />
        </div>
    }
}

/// What is signed now, and the button.
#[component]
fn ToSign(
    texts: RwSignal<Option<Vec<String>>>,
    after: Callback<Result<String, NotSigned>>,
) -> impl IntoView {
    let (person, book, session, shelf) = (person(), book(), session(), shelf());
    let office = move || person.office();
    let busy = RwSignal::new(false);
    let content = Memo::new(move |_| {
        let (job, stage) = (book.job.get(), book.stage.get()?);
        let result = solve(&job);
        let claims = Claims::of(&job, &result, &stage)?;
        Some((claims, result))
    });
    let words = move || {
        let (claims, _) = content.get()?;
        let lines = lines(person.voice(), office(), &book.job.get(), &claims);
        Some(
            lines
                .into_iter()
                .map(|line| view! { <li>{line}</li> })
                .collect_view(),
        )
    };
    let open = move || {
        let (claims, result) = content.get()?;
        let open = open_checks(person.voice(), office(), &book.job.get(), &result, &claims);
        (!open.is_empty()).then(|| {
            let items = open.into_iter().map(|line| view! { <li>{line}</li> }).collect_view();
            view! { <h3>{office().still_open}</h3> <ul class="open-checks" data-test="open-checks">{items}</ul> }
        })
    };
    let waits = move || {
        if !book.badge.get().online {
            Some(office().sign_offline)
        } else if book.badge.get().unshared > 0 {
            Some(office().sign_not_shared)
        } else {
            None
        }
    };
    // Whoever has signed what stands here need not do it again, and may.
    let is_signed = Memo::new(move |_| {
        let (stage, me) = (book.stage.get(), session.me.get());
        let mine = |one: &SignOff| {
            let said = one.signed.statement();
            Some(&said.claims.stage) == stage.as_ref()
                && me
                    .as_ref()
                    .is_some_and(|me| me.user == said.who.user.to_string())
                && book
                    .since(&said.heads)
                    .is_some_and(|since| since.entries == 0)
        };
        texts
            .get()
            .is_some_and(|texts| sign_offs(&texts).iter().any(mine))
    });
    // What stood here when the person began to read it: others may read on meanwhile.
    let seen = RwSignal::new(None::<Claims>);
    let now = Memo::new(move |_| content.get().map(|(claims, _)| claims));
    Effect::new(move || {
        let now = now.get();
        let is_other_stage = match (&now, &*seen.read_untracked()) {
            (Some(now), Some(seen)) => now.stage != seen.stage,
            _ => true,
        };
        if is_other_stage {
            seen.set(now);
        }
    });
    let has_changed = move || *now.read() != *seen.read();
    let act = move |_| {
        let Some(seen) = seen.get_untracked() else {
            return;
        };
        busy.set(true);
        spawn_local(async move {
            let done = session.sign_off(shelf, &book, &seen).await;
            after.run(done.map(|kept| kept.code));
            // The page may be gone by now.
            let _ = busy.try_set(false);
        });
    };
    view! {
        <section>
            <h2>{person.office_word(|office| office.sign_title)}</h2>
            <StageField label=person.measuring_word(|words| words.stage) job=book.job stage=book.stage choose=move |to| book.stage.set(to) />
            <p class="quiet">{person.office_word(|office| office.sign_why)}</p>
            <ul class="claims" data-test="claims">{words}</ul>
            {open}
            <p class="quiet" role="status">{waits}</p>
            <Show when=move || is_signed.get()><p class="done">{person.office_word(|office| office.sign_done)}</p></Show>
            <Show when=has_changed>
                <div class="row doubted" role="status">
                    <p><b>{person.office_word(|office| office.sign_changed)}</b></p>
                    <button type="button" data-test="seen" on:click=move |_| seen.set(now.get_untracked())>{person.office_word(|office| office.sign_seen)}</button>
                </div>
            </Show>
            <button
                type="button"
                class:primary=move || !is_signed.get()
                data-test="sign"
                disabled=move || busy.get() || waits().is_some() || has_changed() || seen.read().is_none()
                on:click=act
            >
                {move || if busy.get() { office().signing } else { office().sign }}
            </button>
            <p class="quiet">{person.word(|words| words.safety_law)} " " {person.word(|words| words.safety_report)}</p>
        </section>
    }
}

/// Who has signed what, and what came since.
#[component]
fn Signatures(
    texts: RwSignal<Option<Vec<String>>>,
    after: Callback<Result<String, NotSigned>>,
) -> impl IntoView {
    let (person, book, session, shelf) = (person(), book(), session(), shelf());
    let office = move || person.office();
    let list = Memo::new(move |_| texts.get().map(|texts| sign_offs(&texts)));
    let empty = move || match &*list.read() {
        None => Some(office().signatures_later),
        Some(list) if list.is_empty() => Some(office().signatures_none),
        Some(_) => None,
    };
    let is_owner = move || session.me.get().is_some_and(|me| me.role == Role::Owner);
    let join = move |of: SignedStatement| {
        spawn_local(async move {
            let done = session.countersign(shelf, &of).await;
            after.run(done.map(|kept| kept.code));
        });
    };
    let signed = move |one: &SignOff| {
        let language = person.language.get().code();
        let line = |signed: &SignedStatement| SignedLine {
            name: signed.statement().who.name.clone(),
            at: platform::moment(signed.statement().at_ms, language),
            code: signed.code(),
        };
        let said = one.signed.statement();
        let since = book.since(&said.heads);
        let stage = stage_label(&book.job.get(), &said.claims.stage);
        let joined: Vec<SignedLine> = one.joined.iter().map(line).collect();
        let counts = said.claims.counts;
        view! { <Signed stage first=line(&one.signed) joined counts since office=office() words=person.words() /> }
    };
    // Others sign and read on meanwhile: each button stays with what it countersigns.
    let item = move |one: SignOff| {
        let of = one.signed.clone();
        let whose = format!("{}, {}", of.statement().who.name, of.code());
        let button = (is_owner() && one.joined.is_empty()).then(|| {
            let name = move || format!("{}: {whose}", office().countersign);
            view! { <button type="button" data-test="countersign" aria-label=name disabled=move || !book.badge.get().online on:click=move |_| join(of.clone())>{move || office().countersign}</button> }
        });
        view! {
            {move || signed(&one)}
            {button}
        }
    };
    view! {
        <section>
            <h2>{person.office_word(|office| office.signatures)}</h2>
            {move || empty().map(|text| view! { <p class="empty">{text}</p> })}
            <div class="signatures">
                <For each=move || list.get().unwrap_or_default() key=|one| (one.signed.code(), one.joined.len()) children=item />
            </div>
        </section>
    }
}
