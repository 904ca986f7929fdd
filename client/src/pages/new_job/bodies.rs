//! Which body a new job begins with: one of the library, or a generic one.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::body::Body;
use shared::library::find;

use crate::components::field::{Choices, Field};
use crate::state::person::person;
use crate::state::session::session;
use crate::state::sheets::Known;
use crate::state::shelf::shelf;
use crate::text::Speaks;

/// Most sheets that are offered at once; with more, words are asked for.
const OFFERED: usize = 6;
/// Characters of a whole identification number.
const WHOLE: usize = 17;

/// What a job begins with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Start {
    /// A generic body, or no points.
    Body(Option<Body>),
    /// A sheet, by the name under which it is kept.
    Sheet(String),
}

/// The choice. A number that a sheet is for proposes that sheet, until somebody has chosen.
#[component]
pub fn Bodies(
    /// What is typed of the number.
    vin: RwSignal<String>,
    /// What is chosen.
    body: RwSignal<Start>,
) -> impl IntoView {
    let (person, shelf, session) = (person(), shelf(), session());
    let known = RwSignal::new(Vec::<Known>::new());
    let by_hand = RwSignal::new(None::<Start>);
    let search = RwSignal::new(String::new());
    Effect::new(move |_| {
        let shop = session.me.get().map(|me| me.shop).unwrap_or_default();
        // Once more when there is signal again.
        shelf.online.track();
        if !shelf.ready.get() || shop.is_empty() {
            return;
        }
        spawn_local(async move {
            drop(known.try_set(shelf.known_sheets(&shop).await));
            if shelf.refresh_sheets(session, &shop).await.is_ok() {
                drop(known.try_set(shelf.known_sheets(&shop).await));
            }
        });
    });
    let hits = Memo::new(move |_| {
        let vin = vin.get().trim().to_ascii_uppercase();
        // Part of a number fits no pattern yet.
        let vin = Some(vin).filter(|vin| vin.chars().count() == WHOLE);
        let known = known.read();
        let found = find(
            known.iter().map(|sheet| &sheet.head),
            &search.read(),
            vin.as_deref(),
        );
        let hits = found.into_iter().take(OFFERED);
        let hits =
            hits.filter_map(|hit| Some((known.get(hit.index)?.clone(), hit.vin_bits.is_some())));
        let mut hits: Vec<_> = hits.collect();
        // What was chosen stays in sight when others come before it, in its newest revision; unless it
        // does not fit the number any more.
        if let Some(Start::Sheet(name)) = by_hand.get()
            && !hits.iter().any(|(hit, _)| is_same(&hit.name, &name))
            && let Some(chosen) = known.iter().find(|one| is_same(&one.name, &name))
            && let Some(fits) = find([&chosen.head], "", vin.as_deref()).first()
        {
            hits.push((chosen.clone(), fits.vin_bits.is_some()));
        }
        hits
    });
    let options = move || {
        let words = person.language.get().new_job();
        let sheet = |(sheet, fits): (Known, bool)| {
            let shared = sheet
                .shared_by
                .map(|shop| words.sheet_shared.replacen("{}", &shop, 1));
            let fits = fits.then(|| words.sheet_fits.to_owned());
            let parts = [Some(sheet.head.name), shared, fits].into_iter().flatten();
            (
                Start::Sheet(sheet.name),
                parts.collect::<Vec<_>>().join(" · "),
            )
        };
        let mut options: Vec<_> = hits.get().into_iter().map(sheet).collect();
        let generic = [
            (Some(Body::Unitised), words.body_unitised),
            (Some(Body::Pickup), words.body_pickup),
            (Some(Body::Van), words.body_van),
            (None, words.body_none),
        ];
        options.extend(generic.map(|(body, word)| (Start::Body(body), word.to_owned())));
        options
    };
    Effect::new(move |_| {
        let hits = hits.read();
        let newest = |start: Start| match start {
            Start::Sheet(name) => {
                let mut hits = hits.iter();
                let found = hits.find(|(sheet, _)| is_same(&sheet.name, &name));
                found.map(|(sheet, _)| Start::Sheet(sheet.name.clone()))
            }
            body => Some(body),
        };
        let proposed = hits.first().filter(|(_, fits)| *fits);
        let proposed = proposed.map(|(sheet, _)| Start::Sheet(sheet.name.clone()));
        let start = by_hand.get().and_then(newest).or(proposed);
        body.set(start.unwrap_or(Start::Body(Some(Body::Unitised))));
    });
    let many = move || known.read().len() > OFFERED;
    view! {
        <Show when=many>
            <Field name="sheet-search" label=Signal::derive(move || person.language.get().new_job().sheet_search) value=search />
        </Show>
        <Choices label=person.word(|words| words.body) options=Signal::derive(options) chosen=body choose=move |to| by_hand.set(Some(to)) />
    }
}

/// Are these revisions of one sheet?
fn is_same(one: &str, other: &str) -> bool {
    one.split('/').next() == other.split('/').next()
}
