//! A number that is half entered stays when a person looks at another part of the book.

use leptos::prelude::*;
use shared::job::{Beam, OffsetSide};

use super::{Choice, Reader};
use crate::measuring::entry::Entry;
use crate::measuring::figures::LengthUnit;
use crate::measuring::propose::{InHand, Proposal, Why};
use crate::measuring::task::BeamSide;
use crate::platform;

/// Name under which it is kept in this window.
const HALF_ENTERED: &str = "half-entered";

const SIDES: [BeamSide; 6] = [
    BeamSide::Beam(Beam::Above),
    BeamSide::Beam(Beam::Below),
    BeamSide::Offset(OffsetSide::Left),
    BeamSide::Offset(OffsetSide::Right),
    BeamSide::Offset(OffsetSide::Front),
    BeamSide::Offset(OffsetSide::Rear),
];
const WHYS: [Why; 6] = [
    Why::Chosen,
    Why::OtherSide,
    Why::Settles,
    Why::Unread,
    Why::ReadMeanwhile,
    Why::TakenBack,
];

/// Where a number belongs to: the book, the person, the stage, the set-up and the unit.
fn place(reader: &Reader, unit: LengthUnit) -> String {
    let book = reader.book;
    let (stage, setup) = (book.stage.get_untracked(), book.setup.get_untracked());
    let (id, me) = (book.id.get_value(), book.me());
    format!("{id} {me} {stage:?} {setup:?} {unit:?}")
}

/// Keeps what is half entered, if anything is.
pub(super) fn put_away(reader: &Reader, unit: LengthUnit) {
    reader.hold();
    let (entry, note) = (reader.entry.get_untracked(), reader.note.get_untracked());
    let held = reader.in_hand.get_untracked();
    let is_half = !entry.is_empty() || !note.trim().is_empty();
    let Some(held) = held.filter(|_| is_half) else {
        return;
    };
    let Proposal { task, why } = held.proposal;
    let choice = reader.chosen.get_untracked().unwrap_or(Choice {
        task,
        corrects: held.stood,
    });
    let why = WHYS.iter().position(|known| *known == why);
    let side = SIDES
        .iter()
        .position(|side| *side == reader.side_untracked());
    let lines = [
        place(reader, unit),
        choice.to_line(),
        why.unwrap_or_default().to_string(),
        side.unwrap_or_default().to_string(),
        entry.shown(),
        note,
    ];
    platform::keep_here(HALF_ENTERED, &lines.join("\n"));
}

/// Brings back what was half entered here; what belongs to elsewhere is gone.
pub(super) fn bring_back(reader: &Reader, unit: LengthUnit) {
    let kept = platform::kept_here(HALF_ENTERED).unwrap_or_default();
    platform::keep_here(HALF_ENTERED, "");
    let lines: Vec<&str> = kept.splitn(6, '\n').collect();
    let [of, choice, why, side, entry, note] = lines[..] else {
        return;
    };
    let (choice, why, side) = (Choice::from_line(choice), at(&WHYS, why), at(&SIDES, side));
    let (Some(choice), Some(why), Some(side)) = (choice, why, side) else {
        return;
    };
    reader.book.kind.set(choice.task.kind.name().to_owned());
    let Some(here) = reader.here().filter(|_| of == place(reader, unit)) else {
        return;
    };
    if why == Why::Chosen {
        reader.take_up(choice);
    } else {
        reader.in_hand.set(Some(InHand {
            here,
            proposal: Proposal {
                task: choice.task,
                why,
            },
            side,
            stood: choice.corrects,
        }));
    }
    reader.note.set(note.to_owned());
    reader.entry.set(Entry::of(entry));
    reader.turned.set(Some(side));
}

fn at<T: Copy>(all: &[T], place: &str) -> Option<T> {
    all.get(place.parse::<usize>().ok()?).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_side_of_a_beam_comes_back() {
        let of_level = [Beam::Above, Beam::Below].map(BeamSide::Beam);
        let of_plumb = [
            OffsetSide::Left,
            OffsetSide::Right,
            OffsetSide::Front,
            OffsetSide::Rear,
        ];
        for side in of_level.into_iter().chain(of_plumb.map(BeamSide::Offset)) {
            assert!(SIDES.contains(&side), "{side:?} is forgotten");
        }
    }
}
