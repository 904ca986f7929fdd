//! Sign-off and share: what will be signed, in words; who has signed; links for the adjuster.

pub mod signatures;
pub mod to_sign;

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::wire::Role;

use super::links::Links;
use super::report::ReportPart;
use super::sign_in::error_text;
use crate::components::safety::Safety;
use crate::state::book::book;
use crate::state::person::{Person, person};
use crate::state::report::Source;
use crate::state::session::session;
use crate::state::shelf::shelf;
use crate::state::signing::{NotSigned, SignOff, sign_offs};
use signatures::Signatures;
use to_sign::ToSign;

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
            let Some(id) = book.id.try_get_value() else {
                return;
            };
            if let Ok(list) = session.statements(&id).await {
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
    let own = Own::watch(texts);
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
                <ToSign own after />
                {told}
            </div>
            <Signatures texts own after />
            <ReportPart source=Source::Book { book, shelf, session, texts } />
            <Links />
            <Safety />
        </div>
    }
}

/// What is left to do for whoever looks at this page.
#[derive(Debug, Clone, Copy)]
pub struct Own {
    /// Have they signed the stage as it stands now?
    signed: Memo<bool>,
    /// The code of the sign-off of the stage, as it stands now, that waits for them to join it.
    to_join: Memo<Option<String>>,
    /// Must two people sign? None while that is not known.
    two_people: RwSignal<Option<bool>>,
}

impl Own {
    /// Follows the book, its statements and the person.
    fn watch(texts: RwSignal<Option<Vec<String>>>) -> Self {
        let (book, session, shelf) = (book(), session(), shelf());
        let two_people = RwSignal::new(None);
        Effect::new(move || {
            if shelf.online.get() {
                spawn_local(async move {
                    // When it is not told, the server still refuses what is against the rule.
                    if let Ok(rules) = session.rules().await {
                        let _ = two_people.try_set(Some(rules.two_people));
                    }
                });
            }
        });
        let now = Memo::new(move |_| {
            let stage = book.stage.get();
            let stands = |one: &SignOff| {
                let said = one.signed.statement();
                let since = || book.since(&said.heads);
                Some(&said.claims.stage) == stage.as_ref()
                    && since().is_some_and(|since| since.entries == 0)
            };
            let all = texts.get().map(|texts| sign_offs(&texts));
            let all = all.unwrap_or_default().into_iter();
            all.filter(stands).collect::<Vec<_>>()
        });
        Self {
            signed: Memo::new(move |_| now.read().iter().any(is_mine)),
            to_join: Memo::new(move |_| {
                let now = now.read();
                let waits = now.iter().find(|one| may_join(one, two_people.get()));
                waits.map(|one| one.signed.code())
            }),
            two_people,
        }
    }
}

/// Did whoever is signed in here sign it?
fn is_mine(one: &SignOff) -> bool {
    let user = one.signed.statement().who.user.to_string();
    session().me.get().is_some_and(|me| me.user == user)
}

/// May whoever is signed in here join it?
fn may_join(one: &SignOff, two_people: Option<bool>) -> bool {
    let is_owner = session().me.get().is_some_and(|me| me.role == Role::Owner);
    is_owner && one.joined.is_empty() && !(two_people == Some(true) && is_mine(one))
}
