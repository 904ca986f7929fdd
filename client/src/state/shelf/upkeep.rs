//! Keeping the shelf in order: covers, and intentions that need not be kept any more.

use leptos::prelude::*;
use shared::book;
use shared::solve::solve;
use shared::wire::JobLine;

use super::Shelf;
use crate::platform;
use crate::state::held::{Cover, Held};
use crate::store::{Batch, names};

impl Shelf {
    /// Works the cover of a book out again; returns what is to be written.
    pub(in crate::state) fn refresh_cover(self, id: &str) -> Option<(String, Vec<u8>)> {
        let is_open = self.books().open.borrow().as_deref() == Some(id);
        let mut cover = self.with_book(id, |held| {
            let (job, _) = book::read(&held.doc);
            // An open book is solved by its own page, which says the counts.
            let result = (!is_open && !job.readings.is_empty()).then(|| solve(&job));
            held.cover(id, &job, result.as_ref(), platform::now_text())
        })?;
        if is_open {
            let known = self.covers.with_untracked(|covers| {
                covers
                    .iter()
                    .find(|known| known.id == id)
                    .map(|known| known.counts)
            });
            cover.counts = known.unwrap_or_default();
        }
        let bytes = serde_json::to_vec(&cover).ok()?;
        self.show_cover(cover);
        Some((names::cover(id), bytes))
    }

    /// Shows a cover in the list of cars.
    pub(in crate::state) fn show_cover(self, cover: Cover) {
        self.covers.update(
            |covers| match covers.iter_mut().find(|known| known.id == cover.id) {
                Some(known) => *known = cover,
                None => covers.insert(0, cover),
            },
        );
    }

    /// Adds the cars that only the server knows.
    pub fn learn(self, lines: Vec<JobLine>) {
        self.covers.update(|covers| {
            for line in lines {
                match covers.iter_mut().find(|cover| cover.id == line.book) {
                    Some(cover) if cover.here => {}
                    Some(cover) => {
                        (cover.number, cover.vehicle, cover.at) =
                            (line.number, line.vehicle, line.last_activity)
                    }
                    None => covers.push(Cover {
                        id: line.book,
                        number: line.number,
                        vehicle: line.vehicle,
                        at: line.last_activity,
                        ..Cover::default()
                    }),
                }
            }
        });
    }

    /// Intentions that the server has confirmed need not be kept.
    pub(in crate::state) async fn tidy_up(self, id: &str) {
        let confirmed = self.with_book(id, Held::confirmed).unwrap_or_default();
        self.remove(id, Batch::default(), confirmed).await;
    }
}
