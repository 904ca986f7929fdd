//! All books on this phone: in memory, on disk, and what is told to the server.
//!
//! An act changes memory at once, so that the screen answers; then it is written to disk; then the
//! line is told. Nothing here waits for the network.

use std::cell::{Cell, RefCell};
use std::collections::{BTreeSet, HashMap};
use std::rc::Rc;

use automerge::ActorId;
use futures_channel::mpsc::{UnboundedReceiver, UnboundedSender, unbounded};
use leptos::prelude::*;
use shared::book::{EditError, Intention, Stamp};

use super::held::{Cover, Held};
use super::photos::{NoPhoto, Unsent};
use super::tabs::TabWord;
use crate::platform;
use crate::store::{Found, Store, StoreError};

mod disk;
mod opening;
mod packing;
mod recovery;
mod tabs;
mod upkeep;

pub use disk::OnDisk;
pub use packing::WaitingBook;
pub use recovery::{DAMAGED, Kept};

/// What the line is told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Errand {
    /// This book has something to say, or is wanted.
    Share(String),
    /// Somebody signed in, or the browser is online again: try now.
    TryNow,
    /// Another tab talks to the server from now on.
    LetGo,
    /// Say on this book where the person is.
    Whereabouts(String, String),
}

/// Something a person should know.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Notice {
    /// The browser did not write to disk.
    NotSaved(StoreError),
    /// Changes were refused by the server, or lost: what was meant was done again.
    Refused {
        /// Number of the job.
        number: String,
        /// Why, in the server's words.
        reason: String,
        /// How many are in the book again.
        redone: usize,
        /// How many are only kept.
        left: usize,
    },
    /// Parts of a book could not be read from this phone's store.
    Damaged {
        /// Number of the job.
        number: String,
        /// How many.
        parts: usize,
        /// Is something missing until the server sends it?
        has_gaps: bool,
    },
    /// The browser did not hand out what is stored.
    NotRead(StoreError),
    /// A photo that was taken is not in the book.
    NoPhoto(NoPhoto),
    /// The server does not know the book, or not for you.
    Unavailable,
}

/// All books, shared by everything in the app.
#[derive(Debug)]
pub struct Books {
    pub(in crate::state) held: RefCell<HashMap<String, Held>>,
    pub(in crate::state) store: RefCell<Option<Store>>,
    pub(in crate::state) actor: RefCell<ActorId>,
    /// This phone, for the server.
    pub device: String,
    line: UnboundedSender<Errand>,
    disks: RefCell<HashMap<String, disk::Disk>>,
    tabs: RefCell<tabs::Tabs>,
    /// Actors that are another person's or phone's.
    pub(in crate::state) foreign: RefCell<BTreeSet<String>>,
    /// Is a snapshot being written?
    compacting: Cell<bool>,
    /// The book whose page is open.
    open: RefCell<Option<String>>,
}

/// The shelf, as signals and the books behind them.
#[derive(Debug, Clone, Copy)]
pub struct Shelf {
    /// What the list of cars shows.
    pub covers: RwSignal<Vec<Cover>>,
    /// Is there a line to the server?
    pub online: RwSignal<bool>,
    /// The book that changed last, and a number that grows.
    pub pulse: RwSignal<(String, u64)>,
    /// What a person should know and has not closed.
    pub notices: RwSignal<Vec<Notice>>,
    /// Is the store open?
    pub ready: RwSignal<bool>,
    /// Who else is on a book: book, name, place.
    pub others: RwSignal<Vec<Other>>,
    /// Photos that only this phone has.
    pub photos: RwSignal<Vec<Unsent>>,
    books: StoredValue<Rc<Books>, LocalStorage>,
}

/// How long somebody is taken to be where they said, milliseconds.
pub const HEARD_MS: i64 = 60_000;

/// Somebody else on a book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Other {
    /// The book.
    pub book: String,
    /// The line they speak on.
    pub from: String,
    /// Name.
    pub name: String,
    /// Where they are.
    pub place: String,
    /// When this was heard, milliseconds since 1970.
    pub heard_ms: i64,
}

impl Shelf {
    /// An empty shelf, and what its line is told.
    #[must_use]
    pub fn new() -> (Self, UnboundedReceiver<Errand>) {
        let (line, errands) = unbounded();
        let device = platform::kept("device").unwrap_or_else(|| {
            let device = platform::fresh_id().to_string();
            platform::keep("device", &device);
            device
        });
        let books = Books {
            held: RefCell::default(),
            store: RefCell::default(),
            actor: RefCell::new(ActorId::from(&platform::fresh_bytes()[..])),
            device,
            line,
            disks: RefCell::default(),
            tabs: RefCell::default(),
            foreign: RefCell::default(),
            compacting: Cell::new(false),
            open: RefCell::default(),
        };
        let shelf = Self {
            covers: RwSignal::new(Vec::new()),
            online: RwSignal::new(false),
            pulse: RwSignal::new((String::new(), 0)),
            notices: RwSignal::new(Vec::new()),
            ready: RwSignal::new(false),
            others: RwSignal::new(Vec::new()),
            photos: RwSignal::new(Vec::new()),
            books: StoredValue::new_local(Rc::new(books)),
        };
        (shelf, errands)
    }

    pub(in crate::state) fn books(&self) -> Rc<Books> {
        self.books.get_value()
    }

    /// This phone, for the server.
    #[must_use]
    pub fn device(&self) -> String {
        self.books().device.clone()
    }

    /// A fresh name to write under, from now on.
    pub(in crate::state) fn fresh_actor(&self) -> ActorId {
        let actor = ActorId::from(&platform::fresh_bytes()[..]);
        *self.books().actor.borrow_mut() = actor.clone();
        actor
    }

    /// Says to the others on this book where the person is, after the next frame: nobody here waits
    /// for it.
    pub fn say_where(self, book: String, place: String) {
        leptos::task::spawn_local(async move {
            platform::painted().await;
            if self.is_on_line() {
                self.tell(Errand::Whereabouts(book, place));
            } else {
                self.say_to_tabs(&TabWord::At { book, place });
            }
        });
    }

    /// Tells the line.
    pub fn tell(&self, errand: Errand) {
        // The line ends with the page.
        let _ = self.books().line.unbounded_send(errand);
    }

    /// Says something to the person that stays until it is closed.
    pub(in crate::state) fn tell_person(&self, notice: Notice) {
        self.notices.update(|notices| {
            notices.retain(|known| *known != notice);
            notices.push(notice);
        });
    }

    /// Loads a book into memory; one that is not on this phone is asked from the server.
    pub async fn load(self, id: &str) {
        if self.books().held.borrow().contains_key(id) {
            self.touch(id);
            self.tell(Errand::Share(id.to_owned()));
            return;
        }
        let found = match self.read_book(id, &BTreeSet::new()).await {
            Ok(found) => found,
            Err(error) => {
                self.tell_person(Notice::NotRead(error));
                Found::default()
            }
        };
        let actor = self.books().actor.borrow().clone();
        let opened = Held::open(found.clone(), actor);
        let held = opened.held;
        self.books()
            .held
            .borrow_mut()
            .entry(id.to_owned())
            .or_insert(held);
        self.put_aside(id, &found, &opened.damaged).await;
        if self.is_on_line() {
            self.redo_lost(id).await;
        } else if found.names.is_empty() {
            self.say_to_tabs(&TabWord::Wanted {
                book: id.to_owned(),
            });
        }
        self.touch(id);
        self.tell(Errand::Share(id.to_owned()));
    }

    /// Begins a book with these intentions; returns its id.
    ///
    /// # Errors
    /// [`EditError`] of the first that was refused; nothing was begun then.
    pub fn begin(self, by: &str, intentions: &[Intention]) -> Result<String, EditError> {
        let id = shared::sync::document_id(platform::fresh_id().to_bytes());
        self.begin_as(&id, by, intentions)?;
        Ok(id)
    }

    /// The same under an id that is there already.
    ///
    /// # Errors
    /// As [`Shelf::begin`].
    pub(in crate::state) fn begin_as(
        self,
        id: &str,
        by: &str,
        intentions: &[Intention],
    ) -> Result<(), EditError> {
        let mut held = Held::begin(self.books().actor.borrow().clone());
        for intention in intentions {
            held.act(&stamp(by), intention)?;
        }
        self.books().held.borrow_mut().insert(id.to_owned(), held);
        self.after_change(id);
        Ok(())
    }

    /// Does an intention on a book.
    ///
    /// # Errors
    /// [`EditError`]; nothing has changed then.
    pub fn act(self, id: &str, by: &str, intention: &Intention) -> Result<(), EditError> {
        let books = self.books();
        let mut all = books.held.borrow_mut();
        let held = all
            .get_mut(id)
            .ok_or_else(|| EditError::Missing(id.to_owned()))?;
        held.act(&stamp(by), intention)?;
        drop(all);
        self.after_change(id);
        Ok(())
    }

    /// After any change in memory: screen, disk, line.
    pub(in crate::state) fn after_change(self, id: &str) {
        self.flush(id);
        self.touch(id);
    }

    /// Changes of a book that the server does not have.
    #[must_use]
    pub fn unshared(&self, id: &str) -> usize {
        self.books().held.borrow().get(id).map_or(0, Held::unshared)
    }

    /// Looks at a document.
    pub fn with_book<T>(&self, id: &str, look: impl FnOnce(&Held) -> T) -> Option<T> {
        self.books().held.borrow().get(id).map(look)
    }

    /// The cars of these books, as their readings stand; loads what is not loaded yet, and leaves out
    /// what is not on this device.
    pub async fn jobs(self, ids: impl IntoIterator<Item = String>) -> Vec<shared::job::Job> {
        let mut jobs = Vec::new();
        for id in ids {
            self.load(&id).await;
            jobs.extend(self.with_book(&id, |held| (*held.view().job).clone()));
        }
        jobs
    }

    /// A page has this book open, or none has.
    pub(in crate::state) fn set_open(&self, id: Option<String>) {
        *self.books().open.borrow_mut() = id;
    }

    /// The open book's page has counted the verdicts of a stage with this label.
    pub(in crate::state) fn count(self, id: &str, stage: String, counts: [usize; 3]) {
        let is_news =
            |cover: &Cover| cover.id == id && (&cover.stage, cover.counts) != (&stage, counts);
        if self
            .covers
            .with_untracked(|covers| covers.iter().any(is_news))
        {
            self.covers.update(|covers| {
                if let Some(cover) = covers.iter_mut().find(|cover| cover.id == id) {
                    cover.tell(stage, counts);
                }
            });
        }
    }

    /// The shop's number of a job, as the list shows it.
    fn number(&self, id: &str) -> String {
        let number = |covers: &Vec<Cover>| {
            let cover = covers.iter().find(|cover| cover.id == id)?;
            Some(cover.number.clone())
        };
        let number = self.covers.with_untracked(number);
        number.unwrap_or_else(|| id.chars().take(6).collect())
    }

    fn touch(self, id: &str) {
        self.pulse
            .update(|pulse| *pulse = (id.to_owned(), pulse.1 + 1));
    }
}

/// Who and when, for one intention.
#[must_use]
pub fn stamp(by: &str) -> Stamp {
    Stamp {
        by: by.to_owned(),
        at: platform::now_text(),
        at_ms: platform::now_ms(),
        record: platform::fresh_id().to_string(),
    }
}

/// The shelf of this app.
#[must_use]
pub fn shelf() -> Shelf {
    expect_context()
}
