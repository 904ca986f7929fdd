//! A new job: number, vehicle, its body, where it was hit.

pub mod bodies;

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::body::{Body, generic};
use shared::book::Intention;
use shared::figures::Language;
use shared::ids::{SetupId, StageId};
use shared::job::{Card, Plumb, Setup, Stage, StageKind};
use shared::vin::{VinCheck, check};

use super::head::PageHead;
use crate::components::field::Field;
use crate::components::plan::ImpactPlan;
use crate::components::safety::Safety;
use crate::platform;
use crate::state::held::Cover;
use crate::state::person::person;
use crate::state::route::{Route, Tab};
use crate::state::session::session;
use crate::state::shelf::shelf;
use crate::text::Speaks;
use bodies::{Bodies, Start};

/// The form.
#[component]
pub fn NewJobPage() -> impl IntoView {
    let (person, shelf, session) = (person(), shelf(), session());
    let words = move || person.language.get().new_job();
    let [number, vehicle, vin] = [(); 3].map(|()| RwSignal::new(String::new()));
    let impact = RwSignal::new(None);
    let body = RwSignal::new(Start::Body(Some(Body::Unitised)));
    let error = RwSignal::new(None::<String>);
    let vin_says = move || {
        let words = words();
        match check(&vin.read()) {
            _ if vin.read().is_empty() => String::new(),
            VinCheck::Good => words.vin_good.to_owned(),
            VinCheck::WrongLength(count) => words.vin_length.replacen("{}", &count.to_string(), 1),
            VinCheck::WrongCharacter(c, place) => {
                words
                    .vin_character
                    .replacen("{}", &format!("{c} ({place})"), 1)
            }
            VinCheck::WrongCheckDigit(digit) => {
                words.vin_digit.replacen("{}", &digit.to_string(), 1)
            }
        }
    };
    let number_says = move || {
        let number = number.read();
        let covers = shelf.covers.read();
        let same = |cover: &&Cover| !cover.number.is_empty() && cover.number == number.trim();
        let known = covers.iter().find(same).map(|cover| {
            let what = match cover.vehicle.is_empty() {
                true => &cover.number,
                false => &cover.vehicle,
            };
            words().number_taken.replacen("{}", what, 1)
        });
        known.unwrap_or_default()
    };
    let is_nameless = move || number.read().trim().is_empty();
    let finish = move |mut intentions: Vec<Intention>| {
        let own = |text: RwSignal<String>| text.get_untracked().trim().to_owned();
        let mut card = Card {
            number: own(number),
            vehicle: own(vehicle),
            vin: Some(own(vin).to_ascii_uppercase()).filter(|vin| !vin.is_empty()),
            impact: impact.get_untracked(),
        };
        // A sheet says what vehicle it is, where nobody wrote it.
        if let Some(Intention::DescribeJob { card: of_sheet }) = intentions.first()
            && card.vehicle.is_empty()
        {
            card.vehicle.clone_from(&of_sheet.vehicle);
        }
        intentions.push(Intention::DescribeJob { card });
        intentions.extend(first_steps(person.words()));
        let by = session
            .me
            .get_untracked()
            .map(|me| me.name)
            .unwrap_or_default();
        match shelf.begin(&by, &intentions) {
            Ok(id) => Route::Book(id, Tab::Read).go(),
            Err(refused) => error.set(Some(person.voice().refused(&refused))),
        }
    };
    let looking = StoredValue::new(false);
    let begin = move || match body.get_untracked() {
        Start::Body(body) => finish(
            body.map(|body| points_of(body, person.language.get_untracked()))
                .unwrap_or_default(),
        ),
        Start::Sheet(name) => {
            // A second press would begin a second book.
            if looking.get_value() {
                return;
            }
            looking.set_value(true);
            let shop = session.me.get_untracked().map(|me| me.shop);
            spawn_local(async move {
                match shelf.start_of(&shop.unwrap_or_default(), &name).await {
                    Some(intentions) => finish(intentions),
                    None => error.set(Some(words().sheet_absent.to_owned())),
                }
                looking.set_value(false);
            });
        }
    };
    view! {
        <main class="page">
            <PageHead back=Route::Jobs title=person.word(|words| words.new_job) />
            <form on:submit=move |event| {
                event.prevent_default();
                begin();
            }>
                <Field name="number" label=person.word(|words| words.number) value=number hint=Signal::derive(number_says) />
                <Field name="vehicle" label=person.word(|words| words.vehicle) value=vehicle />
                <Field name="vin" label=person.word(|words| words.vin) value=vin hint=Signal::derive(vin_says) code=true />
                <Bodies vin body />
                <section>
                    <h2>{move || words().impact}</h2>
                    <p>{move || words().impact_why}</p>
                    <ImpactPlan impact label=Signal::derive(move || words().impact.to_owned()) />
                </section>
                <p role="alert" class="error">{move || error.get()}</p>
                <p id="missing" role="status">{move || is_nameless().then(|| words().needs_number)}</p>
                <button class="primary" aria-describedby="missing" disabled=is_nameless>{person.word(|words| words.create)}</button>
            </form>
            <section>
                <h2>{person.word(|words| words.import_job)}</h2>
                <p>{move || words().import_why}</p>
                <a class="button" data-test="import" href=Route::Import.href()>{person.word(|words| words.choose_file)}</a>
            </section>
            <Safety />
        </main>
    }
}

/// What every book begins with: the first stage and one set-up of the laser.
pub(super) fn first_steps(words: &crate::text::Words) -> Vec<Intention> {
    let id = platform::fresh_id().to_string();
    let (Ok(stage), Ok(setup)) = (StageId::parse(&id), SetupId::parse(&id)) else {
        return Vec::new();
    };
    let stage = Stage {
        id: stage,
        label: words.of_as_received.to_owned(),
        of: StageKind::AsReceived,
        load: None,
    };
    let first = Setup {
        label: "1".to_owned(),
        plumb: Some(Plumb::Lengthwise),
        tool: None,
        stands_mm: None,
    };
    vec![
        Intention::BeginStage { stage },
        Intention::AddSetup {
            id: setup,
            setup: first,
        },
    ]
}

/// Points and members of a generic body.
fn points_of(body: Body, language: Language) -> Vec<Intention> {
    let (points, members) = generic(body, language);
    let members = members
        .into_iter()
        .map(|(id, member)| Intention::AddMember { id, member });
    members
        .chain(
            points
                .into_iter()
                .map(|(id, point)| Intention::AddPoint { id, point }),
        )
        .collect()
}
