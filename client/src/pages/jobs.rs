//! Cars in the bay.

use leptos::prelude::*;
use shared::adjust::sorting::sort_by;
use shared::verdict::Verdict;
use shared::wire::Role;

use super::head::UnsharedBadge;
use crate::components::mark::Count;
use crate::components::rows::Rows;
use crate::components::safety::Safety;
use crate::state::held::Cover;
use crate::state::person::person;
use crate::state::route::{Desk, Route, Tab};
use crate::state::session::session;
use crate::state::shelf::shelf;

/// The list.
#[component]
pub fn JobsPage() -> impl IntoView {
    let (person, shelf, session) = (person(), shelf(), session());
    shelf.follow_list(session);
    // The latest first, as it was when the list was opened; new cars on top. Others read on, and no
    // car changes its place under the finger.
    let order = Memo::new(move |before: Option<&Vec<String>>| {
        let mut covers = shelf.covers.get();
        sort_by(&mut covers, |a, b| b.at.cmp(&a.at));
        let mut order: Vec<String> = covers.into_iter().map(|cover| cover.id).collect();
        if let Some(before) = before {
            let place = |id: &String| before.iter().position(|known| known == id);
            sort_by(&mut order, |a, b| place(a).cmp(&place(b)));
        }
        order
    });
    let car = Callback::new(|id: String| view! { <Car id /> }.into_any());
    let standing = move || match (shelf.online.get(), session.expired.get()) {
        (true, _) => person.words().online,
        (false, true) => person.words().signed_out,
        (false, false) => person.words().offline,
    };
    let is_owner = move || session.me.get().is_some_and(|me| me.role == Role::Owner);
    view! {
        <main class="page">
            <header class="bar">
                <h1>{person.word(|words| words.jobs)}</h1>
                <UnsharedBadge />
                <Show when=is_owner>
                    <a class="button" data-test="office" href=Route::Office(Desk::Signed).href()>{person.word(|words| words.owners_desk)}</a>
                </Show>
                <a class="button" href=Route::Settings.href()>{person.word(|words| words.settings)}</a>
            </header>
            <p class="badge" role="status" class:offline=move || !shelf.online.get()>
                {standing}
                {move || session.me.get().map(|me| format!(" · {}", me.name))}
            </p>
            <Show when=move || session.expired.get()>
                <p class="notice">
                    {person.word(|words| words.sign_in_again)} " "
                    <a class="button" href=Route::SignIn.href()>{person.word(|words| words.sign_in)}</a>
                </p>
            </Show>
            <Show when=move || shelf.ready.get() fallback=move || view! { <p role="status">{person.word(|words| words.loading)}</p> }>
                <ul class="cars">
                    <Rows names=order row=car />
                </ul>
                <Show when=move || shelf.covers.read().is_empty()>
                    <p class="empty">{person.word(|words| words.jobs_empty)}</p>
                </Show>
            </Show>
            <a class="button primary" data-test="new-job" href=Route::NewJob.href()>{person.word(|words| words.new_job)}</a>
            <a class="quiet-link" data-test="practice" href=Route::Practice.href()>{person.word(|words| words.practice_bay)}</a>
            <Safety />
        </main>
    }
}

/// One car of the list.
#[component]
fn Car(id: String) -> impl IntoView {
    let (person, shelf) = (person(), shelf());
    let words = move || person.words();
    let of = StoredValue::new(id.clone());
    let cover = Memo::new(move |_| {
        let covers = shelf.covers.read();
        let found = of.with_value(|id| covers.iter().find(|cover| cover.id == *id).cloned());
        found.unwrap_or_default()
    });
    let others = move || {
        let others = shelf.others.get().into_iter();
        let here = others.filter(|other| of.with_value(|id| other.book == *id));
        let names: Vec<String> = here.map(|other| other.name).collect();
        (!names.is_empty()).then(|| format!("{}: {}", words().on_it_now, names.join(", ")))
    };
    let counts = move || {
        let Cover { counts, here, .. } = cover.get();
        // A car that was never opened here may say nothing yet.
        (here || counts != [0; 3]).then(|| {
            let [outside, unproven, within] = counts;
            view! {
                <span class="counts">
                    <Count verdict=Verdict::Outside count=outside word=words().outside_count />
                    <Count verdict=Verdict::Unproven count=unproven word=words().unproven_count />
                    <Count verdict=Verdict::Within count=within word=words().within_count />
                </span>
            }
        })
    };
    let unshared = move || {
        let unshared = cover.read().unshared;
        (unshared > 0)
            .then(|| view! { <span class="badge waiting">{unshared} " " {words().unshared}</span> })
    };
    view! {
        <li>
            <a class="car" data-test="car" href=Route::Book(id, Tab::Read).href()>
                <b class="number">{move || cover.read().number.clone()}</b>
                <span class="vehicle">{move || cover.read().vehicle.clone()}</span>
                <span class="stage">{move || cover.read().stage.clone()}</span>
                {counts}
                {unshared}
                <span class="others">{others}</span>
            </a>
        </li>
    }
}
