//! Keeping the shelf in order: covers, and intentions that need not be kept any more.

use std::collections::BTreeSet;

use leptos::prelude::*;
use shared::solve::solve;
use shared::wire::JobLine;

use super::Shelf;
use crate::platform;
use crate::state::held::compact::superfluous;
use crate::state::held::{Cover, Held};
use crate::store::{Batch, names};

impl Shelf {
    /// Works the cover of a book out again; returns what is to be written.
    pub(in crate::state) fn refresh_cover(self, id: &str) -> Option<(String, Vec<u8>)> {
        let is_open = self.books().open.borrow().as_deref() == Some(id);
        // What its own page has said of an open book; nothing, when the page opened just now.
        let counted = self.covers.with_untracked(|covers| {
            let known = covers.iter().find(|known| known.id == id && known.here)?;
            Some(known.counts).filter(|counts| is_open && *counts != [0; 3])
        });
        let mut cover = self.with_book(id, |held| {
            let job = held.view().job;
            let result = (counted.is_none() && !job.readings.is_empty()).then(|| solve(&job));
            held.cover(id, &job, result.as_ref(), platform::now_text())
        })?;
        if let Some(counts) = counted {
            cover.counts = counts;
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

    /// Many changes become a snapshot, one book at a time, in the tab on the line. What cannot be
    /// done today is done another time.
    pub(in crate::state) async fn compact(self, id: &str) {
        let books = self.books();
        if self.is_on_line() && !books.compacting.replace(true) {
            self.write_snapshot(id).await;
            books.compacting.set(false);
        }
    }

    async fn write_snapshot(self, id: &str) {
        let store = self.books().store.borrow().clone();
        let snapshot = self.with_book(id, Held::worthy_snapshot).flatten();
        let Some((store, bytes)) = store.zip(snapshot) else {
            return;
        };
        let name = names::Kind::Snapshot.named(&platform::fresh_id().to_string());
        let batch = Batch {
            puts: vec![(format!("{}{name}", names::book(id)), bytes.clone())],
            only_if: self.replica_of(id),
            ..Batch::default()
        };
        if store.write(batch).await.is_err() {
            return;
        }
        if let Some(held) = self.books().held.borrow_mut().get_mut(id) {
            held.snapshot_written(name.clone(), &bytes);
        }
        // As the disk has it, not as it was sent there.
        let found = self.read_book(id, &BTreeSet::new()).await;
        let entries = found.unwrap_or_default().entries;
        let gone = superfluous(&entries, &name, &bytes);
        self.remove(id, Batch::default(), gone).await;
    }
}
