//! Who has signed what, what came since, and the button of whoever may join.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::proof::statement::SignedStatement;

use super::{Own, may_join};
use crate::components::signed::{Signed, SignedLine};
use crate::measuring::signed::stage_label;
use crate::platform;
use crate::state::book::book;
use crate::state::person::person;
use crate::state::session::session;
use crate::state::shelf::shelf;
use crate::state::signing::{NotSigned, SignOff, sign_offs};

/// Who has signed what, and what came since.
#[component]
pub fn Signatures(
    /// Texts of the book's statements; none before they have come.
    texts: RwSignal<Option<Vec<String>>>,
    /// What is left to do here.
    own: Own,
    /// Told how countersigning went.
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
        let one = StoredValue::new(one);
        let code = one.with_value(|one| one.signed.code());
        let whose = one.with_value(|one| one.signed.statement().who.name.clone());
        let whose = StoredValue::new(format!("{whose}, {code}"));
        let name = move || format!("{}: {}", office().countersign, whose.read_value().as_str());
        let is_next = Memo::new(move |_| own.to_join.read().as_ref() == Some(&code));
        let may = move || one.with_value(|one| may_join(one, own.two_people.get()));
        let act = move |_| join(one.with_value(|one| one.signed.clone()));
        view! {
            {move || one.with_value(signed)}
            <Show when=may>
                <button type="button" class:primary=is_next data-test="countersign" aria-label=name disabled=move || !book.badge.get().online on:click=act>{move || office().countersign}</button>
            </Show>
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
