//! Keeping the shelf in order: covers, and intentions that need not be kept any more.

use std::collections::BTreeSet;
use std::time::Duration;

use gloo_net::http::Method;
use gloo_timers::future::sleep;
use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::solve::solve;
use shared::wire::JobLine;

use super::Shelf;
use crate::net::{Api, NetError};
use crate::platform;
use crate::platform::tabs::is_seen;
use crate::state::held::compact::superfluous;
use crate::state::held::cover::in_order;
use crate::state::held::{Cover, Held};
use crate::state::session::Session;
use crate::store::{Batch, names};

/// The list that somebody looks at is asked for again after this long.
const GLANCE: Duration = Duration::from_secs(10);

impl Shelf {
    /// Works the cover of a book out again; returns what is to be written.
    pub(in crate::state) fn refresh_cover(self, id: &str) -> Option<(String, Vec<u8>)> {
        let is_open = self.books().open.borrow().as_deref() == Some(id);
        // What its own page has said of an open book; nothing, when the page opened just now.
        let counted = self.covers.with_untracked(|covers| {
            let known = covers.iter().find(|known| known.id == id && known.here)?;
            (is_open && known.counts != [0; 3]).then(|| (known.stage.clone(), known.counts))
        });
        let mut cover = self.with_book(id, |held| {
            let job = held.view().job;
            let result = (counted.is_none() && !job.readings.is_empty()).then(|| solve(&job));
            held.cover(id, &job, result.as_ref(), platform::now_text())
        })?;
        if let Some((stage, counts)) = counted {
            cover.tell(stage, counts);
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

    /// Asks the server which cars there are.
    ///
    /// # Errors
    /// [`NetError`]; the list stays as it was.
    pub(in crate::state) async fn ask_list(self, api: &Api) -> Result<(), NetError> {
        let lines = api.call(Method::GET, "/api/jobs", None::<&()>).await?;
        self.learn(lines);
        Ok(())
    }

    /// Keeps the list as the server has it, for as long as the page that shows it is there.
    pub fn follow_list(self, session: Session) {
        let page = StoredValue::new(());
        spawn_local(async move {
            while page.try_get_value().is_some() {
                if self.online.get_untracked() && is_seen() {
                    // Another time, then.
                    let _ = self.ask_list(&session.api()).await;
                }
                sleep(GLANCE).await;
            }
        });
    }

    /// Adds the cars that only the server knows, and what it knows later than this phone.
    fn learn(self, lines: Vec<JobLine>) {
        let open = self.books().open.borrow().clone();
        let mut covers = self.covers.get_untracked();
        for line in lines {
            let place = covers.iter().position(|cover| cover.id == line.book);
            let place = place.unwrap_or_else(|| {
                covers.push(Cover {
                    id: line.book.clone(),
                    ..Cover::default()
                });
                covers.len() - 1
            });
            let cover = &mut covers[place];
            // Its page, or what waits here, knows more.
            let is_ahead = open.as_ref() == Some(&cover.id) || cover.unshared > 0;
            if cover.here && (is_ahead || cover.at >= line.last_activity) {
                continue;
            }
            (cover.number, cover.vehicle, cover.at) =
                (line.number, line.vehicle, line.last_activity);
            if let Some(stage) = line.stage {
                let counts = in_order(stage.outside, stage.unproven, stage.within);
                cover.tell(stage.label, counts);
            }
        }
        if covers != *self.covers.read_untracked() {
            self.covers.set(covers);
        }
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
