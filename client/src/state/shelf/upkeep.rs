//! Keeping the shelf in order: covers, chunks that become a snapshot, starting over after a refusal.

use leptos::prelude::*;
use shared::book::{self, Intention};
use shared::solve::solve;
use shared::wire::JobLine;

use super::{Notice, Shelf, stamp};
use crate::platform;
use crate::state::held::Cover;
use crate::store::Batch;

/// Chunks of a book that are worth becoming one.
const MANY_CHUNKS: usize = 100;

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
        self.covers.update(
            |covers| match covers.iter_mut().find(|known| known.id == id) {
                Some(known) => *known = cover,
                None => covers.insert(0, cover),
            },
        );
        Some((format!("meta/{id}"), bytes))
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

    /// The server has everything of this book: intentions need not be kept, chunks become one.
    pub(in crate::state) async fn tidy_up(self, id: &str) {
        let Some(store) = self.books().store.borrow().clone() else {
            return;
        };
        let entries = store.read(&format!("book/{id}/")).await.unwrap_or_default();
        let intents = entries.iter().filter(|(name, _)| name.contains("/intent/"));
        let mut batch = Batch {
            puts: Vec::new(),
            deletes: intents.map(|(name, _)| name.clone()).collect(),
        };
        let chunks: Vec<&String> = entries
            .iter()
            .map(|(name, _)| name)
            .filter(|name| name.contains("/change/"))
            .collect();
        if chunks.len() > MANY_CHUNKS && self.is_saved(id) {
            // The snapshot is written and the chunks removed together or not at all.
            let snapshot = self
                .with_book(id, |held| held.doc.save())
                .filter(|bytes| automerge::Automerge::load(bytes).is_ok());
            if let Some(bytes) = snapshot {
                batch.puts.push((format!("book/{id}/snapshot"), bytes));
                batch.deletes.extend(chunks.into_iter().cloned());
            }
        }
        if !batch.deletes.is_empty() {
            // What cannot be tidied today is tidied another time.
            let _ = store.write(batch).await;
        }
    }

    /// The server refused what this phone wrote: the replica is kept aside, what the server has is
    /// taken, and every intention is done again under a new name.
    pub(in crate::state) async fn start_over(self, id: &str, by: &str, reason: String) {
        let store = self.books().store.borrow().clone();
        let entries = match &store {
            Some(store) => store.read(&format!("book/{id}/")).await.unwrap_or_default(),
            None => Vec::new(),
        };
        let actor = self.fresh_actor();
        let mut batch = Batch::default();
        let intents: Vec<Intention> = entries
            .iter()
            .filter(|(name, _)| name.contains("/intent/"))
            .filter_map(|(_, bytes)| serde_json::from_slice(bytes).ok())
            .collect();
        if let Some(held) = self.books().held.borrow_mut().get_mut(id) {
            batch.puts.push((
                format!("kept/{id}/{}", platform::fresh_id()),
                held.doc.save(),
            ));
            held.back_to_shared(actor);
            for intention in &intents {
                // What the server knows already is refused here, and rightly.
                let _ = held.act(&stamp(by), intention);
            }
            held.saved = held.doc.get_heads();
            batch
                .puts
                .push((format!("book/{id}/snapshot"), held.doc.save()));
        }
        batch.deletes.extend(
            entries
                .into_iter()
                .map(|(name, _)| name)
                .filter(|name| name.contains("/change/")),
        );
        if let Some(store) = store
            && let Err(error) = store.write(batch).await
        {
            self.notice.set(Some(Notice::NotSaved(error.to_string())));
        }
        self.notice.set(Some(Notice::Refused(reason)));
        self.touch(id);
    }
}
