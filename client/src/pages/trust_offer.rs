//! Nothing is trusted yet: why that matters, and an offer of pairs to look at.

use leptos::prelude::*;
use shared::book::Intention;
use shared::job::Zone;

use crate::measuring::trust::{Pair, worth_trusting};
use crate::platform;
use crate::state::book::Book;
use crate::state::person::person;
use crate::state::route::{Route, Tab};

/// What is offered, and for which hit.
#[derive(Clone, PartialEq)]
struct Offer {
    zone: Option<Zone>,
    pairs: Vec<Pair>,
}

/// The offer; nothing once a point is trusted, while there are no points, and when somebody put it off.
#[component]
pub fn TrustOffer(
    /// The book.
    book: Book,
    /// Does the list of all points stand right below?
    #[prop(optional)]
    beside_points: bool,
) -> impl IntoView {
    let person = person();
    let error = RwSignal::new(None::<String>);
    let name = format!("no-trust-offer {}", book.id.get_value());
    let is_put_off = !beside_points && platform::kept_here(&name).is_some();
    let put_off = RwSignal::new(is_put_off);
    // What somebody looks at on the car stays as it was named, whatever others add meanwhile.
    let offer = Memo::new(move |before: Option<&Option<Offer>>| {
        let job = book.job.read();
        if job.points.is_empty() || job.points.values().any(|point| point.trusted) {
            return None;
        }
        let zone = job.card.impact.as_ref().map(|impact| impact.zone);
        let still = |offer: &&Offer| {
            let mut ids = offer.pairs.iter().flatten();
            offer.zone == zone
                && !offer.pairs.is_empty()
                && ids.all(|id| job.points.contains_key(id))
        };
        let before = before.and_then(Option::as_ref).filter(still);
        Some(before.cloned().unwrap_or_else(|| Offer {
            zone,
            pairs: worth_trusting(&job),
        }))
    });
    let is_shown = move || offer.read().is_some() && !put_off.get();
    let has_pairs = move || offer.read().as_ref().is_some_and(|o| !o.pairs.is_empty());
    let which = move || {
        let (words, offer, job) = (person.measuring(), offer.get()?, book.job.read());
        let names = offer
            .pairs
            .iter()
            .filter_map(|[left, _]| job.points.get(left));
        let names: Vec<&str> = names.map(|point| point.label.as_str()).collect();
        let text = match (names.is_empty(), offer.zone) {
            (true, _) => return Some(words.trust_unknown.to_owned()),
            (_, Some(_)) => words.trust_away,
            (_, None) => words.trust_middle,
        };
        Some(text.replacen("{}", &names.join("; "), 1))
    };
    let trust = move |_| {
        let pairs = offer.get_untracked().map(|offer| offer.pairs);
        for id in pairs.into_iter().flatten().flatten() {
            let intention = Intention::TrustPoint { id, trusted: true };
            if let Err(refused) = book.act(&intention) {
                error.set(Some(person.voice().refused(&refused)));
            }
        }
    };
    let later = move |_| {
        platform::keep_here(&name, "1");
        put_off.set(true);
    };
    let later = StoredValue::new(later);
    view! {
        <p role="alert" class="error">{move || error.get()}</p>
        <Show when=is_shown>
            <div class="handed" data-test="trust-offer">
                <p>{person.measuring_word(|words| words.trust_nothing)}</p>
                <p>{which}</p>
                <Show when=has_pairs>
                    <p class="caution">{person.measuring_word(|words| words.trust_look)}</p>
                    <button type="button" class="primary" data-test="trust-these" on:click=trust>
                        {person.measuring_word(|words| words.trust_these)}
                    </button>
                </Show>
                <Show when=move || !beside_points>
                    <div class="row">
                        <a class="button" data-test="trust-others" href=Route::Book(book.id.get_value(), Tab::More).href()>
                            {person.measuring_word(|words| words.trust_others)}
                        </a>
                        <button type="button" data-test="trust-later" on:click=move |event| later.with_value(|later| later(event))>
                            {person.word(|words| words.later)}
                        </button>
                    </div>
                </Show>
            </div>
        </Show>
    }
}
