//! Points: trusted or not, what carries them, and new ones.

use leptos::prelude::*;
use shared::book::Intention;
use shared::ids::{MemberId, PointId};
use shared::job::{Point, Side};

use crate::components::field::Field;
use crate::components::pick::PickField;
use crate::components::rows::Rows;
use crate::measuring::carried::on_side;
use crate::pages::trust_offer::TrustOffer;
use crate::platform;
use crate::state::book::{Book, book};
use crate::state::person::person;

/// How well the place of a point that is added here is known, millimetres: somebody drags it later.
const UNPLACED_MM: f64 = 2000.0;

/// The offer to trust some, the list, and a form to add more.
#[component]
pub fn Points(
    /// What a person does, done.
    act: Callback<Intention, bool>,
) -> impl IntoView {
    let (person, book) = (person(), book());
    let words = move || person.words();
    let label = RwSignal::new(String::new());
    let member = RwSignal::new(None::<MemberId>);
    let add = move |centre: bool| {
        let name = label.get_untracked().trim().to_owned();
        if name.is_empty() {
            return;
        }
        let fresh = platform::fresh_id().to_string();
        let id = |ending: &str| PointId::parse(&format!("{fresh}{ending}")).ok();
        let carried = |side| {
            let chosen = member.get_untracked()?;
            Some(on_side(&book.job.read_untracked(), &chosen, side))
        };
        let point = |side, mirror, y| Point {
            label: name.clone(),
            side,
            mirror,
            place_mm: [0.0, y, 500.0],
            place_sigma_mm: Some(UNPLACED_MM),
            trusted: false,
            member: carried(side),
        };
        if centre {
            if let Some(id) = id("") {
                let point = point(Side::Centre, None, 0.0);
                act.run(Intention::AddPoint { id, point });
            }
        } else if let (Some(left), Some(right)) = (id("-L"), id("-R")) {
            let halves = [
                (left.clone(), right.clone(), Side::Left, -500.0),
                (right, left, Side::Right, 500.0),
            ];
            for (id, other, side, y) in halves {
                let point = point(side, Some(other), y);
                act.run(Intention::AddPoint { id, point });
            }
        }
        label.set(String::new());
    };
    let names = move || {
        book.job
            .read()
            .points
            .keys()
            .map(PointId::to_string)
            .collect()
    };
    let row = move |name: String| match PointId::parse(&name) {
        Ok(id) => view! { <PointRow id act /> }.into_any(),
        Err(_) => ().into_any(),
    };
    view! {
        <section>
            <h2>{person.word(|words| words.points)}</h2>
            <p>{person.word(|words| words.trust_why)}</p>
            <TrustOffer book beside_points=true />
            <ul class="lines">
                <Rows names=Signal::derive(names) row=Callback::new(row) />
            </ul>
            <Field name="point" label=person.word(|words| words.label) value=label />
            <PartOf name="new-part-of" member choose=move |to| member.set(to) />
            <button type="button" on:click=move |_| add(false)>{move || format!("+ {} / {}", words().left, words().right)}</button>
            <button type="button" on:click=move |_| add(true)>{move || format!("+ {}", words().centre)}</button>
        </section>
    }
}

/// Which member carries a point; nothing while the body has none.
#[component]
fn PartOf(
    name: &'static str,
    #[prop(into)] member: Signal<Option<MemberId>>,
    #[prop(into)] choose: Callback<Option<MemberId>>,
) -> impl IntoView {
    let (person, book) = (person(), book());
    let options = move || {
        let unsaid = (String::new(), person.words().part_unsaid.to_owned());
        let job = book.job.read();
        let known = job.members.iter().map(|(id, member)| {
            let label = Some(&member.label).filter(|label| !label.is_empty());
            let label = label.map_or(id.as_str(), String::as_str);
            (id.to_string(), label.to_owned())
        });
        std::iter::once(unsaid).chain(known).collect()
    };
    let chosen = move || member.get().map(|id| id.to_string()).unwrap_or_default();
    view! {
        <Show when=move || has_members(book)>
            <PickField
                name
                label=person.word(|words| words.part_of)
                options=Signal::derive(options)
                chosen=Signal::derive(chosen)
                choose=move |id: String| choose.run(MemberId::parse(&id).ok())
            />
        </Show>
    }
}

fn has_members(book: Book) -> bool {
    !book.job.read().members.is_empty()
}

/// One point with its switch of trust and, when it is opened, what carries it.
#[component]
fn PointRow(id: PointId, act: Callback<Intention, bool>) -> impl IntoView {
    let (person, book) = (person(), book());
    let words = move || person.words();
    let key = id.clone();
    let point = Memo::new(move |_| book.job.read().points.get(&key).cloned());
    let trusted = move || point.read().as_ref().is_some_and(|point| point.trusted);
    let label = move || point.get().map(|point| point.label);
    let side = move || {
        let words = words();
        point.read().as_ref().map(|point| match point.side {
            Side::Left => words.left,
            Side::Right => words.right,
            Side::Centre => words.centre,
        })
    };
    let member = move || point.get().and_then(|point| point.member);
    let open = RwSignal::new(false);
    let id = StoredValue::new(id);
    let turn = move |_| {
        let (id, trusted) = (id.get_value(), !untrack(trusted));
        act.run(Intention::TrustPoint { id, trusted });
    };
    let carry = move |member: Option<MemberId>| {
        let id = id.get_value();
        act.run(Intention::CarryPoint { id, member });
    };
    let named = move || {
        let label = label().unwrap_or_default();
        format!(
            "{}: {label} · {}",
            words().part_of,
            side().unwrap_or_default()
        )
    };
    view! {
        <li class="point-line">
            <span>{label} " · " {side}</span>
            <button type="button" aria-pressed=move || trusted().to_string() on:click=turn>
                {move || if trusted() { words().trusted } else { words().not_trusted }}
            </button>
            <Show when=move || has_members(book)>
                <button type="button" data-test="open-part-of" aria-label=named aria-expanded=move || open.get().to_string() on:click=move |_| open.update(|open| *open = !*open)>
                    "⋯"
                </button>
            </Show>
        </li>
        <Show when=move || open.get()>
            <li><PartOf name="part-of" member=Signal::derive(member) choose=carry /></li>
        </Show>
    }
}
