//! Several tabs of one phone on the same books: each sees what the others write, one shares it.
//!
//! The line belongs to the tab that was seen last. A tab in the background may be frozen by the
//! phone at any time, so it is not asked: the one that comes to the front takes the line.

use std::cell::Cell;
use std::collections::BTreeSet;

use leptos::prelude::*;
use leptos::task::spawn_local;

use super::{Errand, Shelf};
use crate::json;
use crate::platform::tabs::{Channel, can_take_turns, is_seen, turn};
use crate::state::held::{Cover, Held};
use crate::state::tabs::{CHANNEL, LINE, TabWord};
use crate::store::names;

/// This tab among the others.
#[derive(Debug, Default)]
pub(in crate::state) struct Tabs {
    channel: Option<Channel>,
    /// Turns on the line that this tab has: it is on the line with one, and may take the line from
    /// itself.
    turns: Cell<u32>,
    /// Does it wait for its turn?
    queued: Cell<bool>,
}

impl Shelf {
    /// Joins the other tabs. Call it once the store is open.
    pub(in crate::state) fn join_tabs(self) {
        let hear = move |text: String| {
            if let Some(word) = TabWord::from_text(&text) {
                self.hear_tab(word);
            }
        };
        self.books().tabs.borrow_mut().channel = Some(Channel::open(CHANNEL, hear));
        self.say_to_tabs(&TabWord::Hello);
        if can_take_turns() {
            self.wait_for_line();
            self.come_to_front();
        } else {
            self.count_turn(1);
        }
    }

    /// A person sees this tab again: it takes the line, and looks at what it has missed.
    pub fn come_to_front(self) {
        if !is_seen() || !self.ready.get_untracked() {
            return;
        }
        if can_take_turns() && !self.is_on_line() {
            spawn_local(self.take_line(true));
        }
        self.flush_all();
        spawn_local(self.look_again());
    }

    /// Is this the tab that talks to the server?
    #[must_use]
    pub fn is_on_line(&self) -> bool {
        self.books().tabs.borrow().turns.get() > 0
    }

    fn wait_for_line(self) {
        if !self.books().tabs.borrow().queued.replace(true) {
            spawn_local(self.take_line(false));
        }
    }

    async fn take_line(self, from_others: bool) {
        let turn = turn(LINE, from_others).await;
        if !from_others {
            self.books().tabs.borrow().queued.set(false);
        }
        let Some(turn) = turn else {
            return;
        };
        self.count_turn(1);
        turn.over().await;
        self.count_turn(-1);
        self.wait_for_line();
    }

    fn count_turn(self, more: i32) {
        let (before, after) = {
            let books = self.books();
            let tabs = books.tabs.borrow();
            let before = tabs.turns.get();
            tabs.turns.set(before.saturating_add_signed(more));
            (before, tabs.turns.get())
        };
        match (before, after) {
            (0, 1..) => spawn_local(async move {
                self.look_again().await;
                self.load_waiting().await;
                self.tell(Errand::TryNow);
            }),
            (1.., 0) => self.tell(Errand::LetGo),
            _ => {}
        }
    }

    /// There is a line to the server, or none any more.
    pub(in crate::state) fn set_online(self, online: bool) {
        if self.online.get_untracked() != online {
            self.online.set(online);
        }
        self.say_to_tabs(&match self.is_on_line() {
            true => TabWord::Line { online },
            // Another tab has the line by now, and knows how it is.
            false => TabWord::Hello,
        });
    }

    pub(in crate::state) fn say_to_tabs(self, word: &TabWord) {
        if let Some(channel) = &self.books().tabs.borrow().channel {
            channel.say(&word.to_text());
        }
    }

    fn hear_tab(self, word: TabWord) {
        match word {
            // A tab that nobody sees may be frozen while it reads, and hold up all who write. It looks
            // again when it is seen or gets the line; who writes is seen, and has the line.
            TabWord::Stored { book } if is_seen() => spawn_local(self.look_at(book)),
            TabWord::Wanted { book } if self.is_on_line() => {
                spawn_local(async move { self.load(&book).await });
            }
            TabWord::Hello if self.is_on_line() => {
                let online = self.online.get_untracked();
                self.say_to_tabs(&TabWord::Line { online });
            }
            TabWord::Line { online } if !self.is_on_line() => self.online.set(online),
            TabWord::At { book, place } if self.is_on_line() => {
                self.tell(Errand::Whereabouts(book, place));
            }
            _ => {}
        }
    }

    /// Another tab has written something of this book.
    async fn look_at(self, id: String) {
        if self.books().held.borrow().contains_key(&id) {
            self.rescan(&id).await;
        } else if self.is_on_line() {
            self.load(&id).await;
        } else {
            self.refresh_stored_cover(&id).await;
        }
    }

    /// Looks at everything that other tabs may have written.
    async fn look_again(self) {
        let ids: Vec<String> = self.books().held.borrow().keys().cloned().collect();
        for id in ids {
            self.rescan(&id).await;
        }
    }

    /// Takes in what other tabs have written of a book in memory.
    pub(in crate::state) async fn rescan(self, id: &str) {
        let before = self.with_book(id, Held::at_hand).unwrap_or_default();
        let Ok(found) = self.read_book(id, &before.known).await else {
            return;
        };
        if self.with_book(id, |held| held.is_replaced_in(&found)) == Some(true) {
            return self.follow(id).await;
        }
        let damaged = {
            let books = self.books();
            let mut all = books.held.borrow_mut();
            let Some(held) = all.get_mut(id) else {
                return;
            };
            held.take_in(found.clone(), &before)
        };
        self.put_aside(id, &found, &damaged).await;
        self.after_look(id).await;
    }

    /// Another tab has put another replica in this one's place.
    async fn follow(self, id: &str) {
        let Ok(found) = self.read_book(id, &BTreeSet::new()).await else {
            return;
        };
        let actor = self.books().actor.borrow().clone();
        let opened = Held::open(found.clone(), actor);
        if let Some(held) = self.books().held.borrow_mut().get_mut(id) {
            held.follow(opened.held);
        }
        self.put_aside(id, &found, &opened.damaged).await;
        self.after_look(id).await;
    }

    async fn after_look(self, id: &str) {
        if self.is_on_line() {
            self.redo_lost(id).await;
        }
        // The tab that has written it has written the cover too.
        self.refresh_cover(id);
        self.after_change(id);
        self.tell(Errand::Share(id.to_owned()));
    }

    async fn refresh_stored_cover(self, id: &str) {
        let store = self.books().store.borrow().clone();
        let Some(store) = store else {
            return;
        };
        let found = store.read(&names::cover(id), &BTreeSet::new()).await;
        let entry = found.unwrap_or_default().entries.into_iter().next();
        let cover = entry.and_then(|entry| json::read::<Cover>(&entry.bytes));
        if let Some(cover) = cover {
            self.show_cover(cover);
        }
    }
}
