//! The pretend tape on Read: it shows what a tape held as proposed would show.

use leptos::prelude::*;
use shared::job::Taken;
use shared::simulate::practice::Shown;

use crate::components::tape::Tape;
use crate::measuring::entry::Entry;
use crate::measuring::sentences::Voice;
use crate::measuring::task::{BeamSide, value_of};
use crate::pages::read::Reader;
use crate::state::person::person;
use crate::state::practice::PracticeCar;

/// The tape, on which side of the beam it is held, and a button that reads it.
#[component]
pub fn PretendTape(
    /// What is being entered.
    reader: Reader,
    /// The car.
    car: PracticeCar,
    /// The language.
    #[prop(into)]
    voice: Signal<Voice>,
) -> impl IntoView {
    let person = person();
    let shown = Memo::new(move |_| {
        let asked = reader.asked()?;
        let number = reader.book.job.read().readings.len() as u64;
        car.0.with_value(|car| car.show(&asked, number))
    });
    let read = move |_| {
        let Some(Shown { taken, misread_mm }) = shown.get_untracked() else {
            return;
        };
        let value = misread_mm.or(value_of(&taken)).unwrap_or_default();
        let figures = voice.get_untracked().figures;
        reader.type_in(Entry::of(&figures.bare(value)), side_of(&taken));
    };
    let words = move || person.practice();
    let tape = move || {
        let Some(shown) = shown.get() else {
            return view! { <p class="quiet">{words().tape_off}</p> }.into_any();
        };
        let value_mm = value_of(&shown.taken).unwrap_or_default();
        let voice = voice.get();
        let says = words()
            .tape_shows
            .replacen("{}", &voice.figures.length(value_mm), 1);
        let side = voice.beam_side(&shown.taken);
        view! {
            <Tape value_mm unit=person.unit.get() label=says />
            <small>{side}</small>
            <button type="button" data-test="read-tape" on:click=read>{words().read_tape}</button>
        }
        .into_any()
    };
    view! { <div class="pretend" data-test="tape">{tape}</div> }
}

fn side_of(taken: &Taken) -> Option<BeamSide> {
    match taken {
        Taken::Height { beam, .. } => Some(BeamSide::Beam(*beam)),
        Taken::Offset { side, .. } => Some(BeamSide::Offset(*side)),
        _ => None,
    }
}
