//! What is signed now, in words; the button, and the question before it while something is open.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::proof::statement::Claims;
use shared::solve::solve;
use shared::speech::counted;

use super::Own;
use crate::components::pick::StageField;
use crate::measuring::signed::{lines, open_checks};
use crate::state::book::book;
use crate::state::person::person;
use crate::state::session::session;
use crate::state::shelf::shelf;
use crate::state::signing::NotSigned;

/// What is signed now, and the button.
#[component]
pub fn ToSign(
    /// What is left to do here.
    own: Own,
    /// Told how signing went.
    after: Callback<Result<String, NotSigned>>,
) -> impl IntoView {
    let (person, book) = (person(), book());
    let office = move || person.office();
    let content = Memo::new(move |_| {
        let (job, stage) = (book.job.get(), book.stage.get()?);
        let result = solve(&job);
        let claims = Claims::of(&job, &result, &stage)?;
        Some((claims, result))
    });
    let words = move || {
        let content = content.read();
        let (claims, _) = content.as_ref()?;
        let lines = lines(person.voice(), office(), &book.job.get(), claims).into_iter();
        Some(lines.map(|line| view! { <li>{line}</li> }).collect_view())
    };
    let open = Memo::new(move |_| {
        let content = content.read();
        let (claims, result) = content.as_ref()?;
        let job = book.job.get();
        Some(open_checks(person.voice(), office(), &job, result, claims))
    });
    let open = Signal::derive(move || open.get().unwrap_or_default());
    let open_list = move || {
        let open = open.get();
        (!open.is_empty()).then(|| {
            let items = open.into_iter().map(|line| view! { <li>{line}</li> }).collect_view();
            view! { <h3>{office().still_open}</h3> <ul class="open-checks" data-test="open-checks">{items}</ul> }
        })
    };
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
    let has_changed = Memo::new(move |_| *now.read() != *seen.read());
    let waits = Memo::new(move |_| {
        let badge = book.badge.get();
        let says_something = now.read().as_ref().is_some_and(|now| now.readings > 0);
        match (says_something, badge.online, badge.unshared) {
            (false, ..) => Some(office().sign_nothing),
            (_, false, _) => Some(office().sign_offline),
            (_, _, 1..) => Some(office().sign_not_shared),
            _ => None,
        }
    });
    let ready = Signal::derive(move || waits.get().is_none() && !has_changed.get());
    view! {
        <section>
            <h2>{person.office_word(|office| office.sign_title)}</h2>
            <StageField label=person.measuring_word(|words| words.stage) job=book.job stage=book.stage choose=move |to| book.stage.set(to) />
            <p class="quiet">{person.office_word(|office| office.sign_why)}</p>
            <ul class="claims" data-test="claims">{words}</ul>
            {open_list}
            <p class="quiet" role="status" data-test="sign-waits">{waits}</p>
            <Show when=move || own.signed.get()><p class="done" data-test="sign-done">{person.office_word(|office| office.sign_done)}</p></Show>
            <Show when=move || has_changed.get()>
                <div class="row doubted" role="status">
                    <p><b>{person.office_word(|office| office.sign_changed)}</b></p>
                    <button type="button" data-test="seen" on:click=move |_| seen.set(now.get_untracked())>{person.office_word(|office| office.sign_seen)}</button>
                </div>
            </Show>
            <SignButton own seen open ready after />
            <p class="quiet">{person.word(|words| words.safety_law)} " " {person.word(|words| words.safety_report)}</p>
        </section>
    }
}

/// The button: it asks first while something is open.
#[component]
fn SignButton(
    own: Own,
    seen: RwSignal<Option<Claims>>,
    open: Signal<Vec<String>>,
    ready: Signal<bool>,
    after: Callback<Result<String, NotSigned>>,
) -> impl IntoView {
    let (person, book, session, shelf) = (person(), book(), session(), shelf());
    let office = move || person.office();
    let (busy, asks) = (RwSignal::new(false), RwSignal::new(false));
    let act = move || {
        asks.set(false);
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
    let sign = move |_| match open.read_untracked().is_empty() {
        true => act(),
        false => asks.set(true),
    };
    // Asked of what stood there: another stage, or a book that has changed, is asked of anew.
    Effect::new(move || {
        seen.track();
        ready.track();
        asks.set(false);
    });
    let word = move || match (busy.get(), own.signed.get()) {
        (true, _) => office().signing,
        (_, true) => office().sign_again,
        _ => office().sign,
    };
    let question = move || {
        let office = office();
        counted(
            office.sign_sure_one,
            office.sign_sure_many,
            open.read().len(),
        )
    };
    view! {
        <button
            type="button"
            class:primary=move || !own.signed.get() && own.to_join.read().is_none()
            data-test="sign"
            disabled=move || busy.get() || !ready.get()
            on:click=sign
        >
            {word}
        </button>
        <Show when=move || asks.get()>
            <div class="notice" role="alert" data-test="sign-sure">
                <p>{question}</p>
                <button type="button" data-test="sign-anyway" on:click=move |_| act()>{person.office_word(|office| office.sign_anyway)}</button>
                <button type="button" on:click=move |_| asks.set(false)>{person.word(|words| words.cancel)}</button>
            </div>
        </Show>
    }
}
