//! The open book, as signals: the car, its result, what people choose on it.
//!
//! Solved again after each change, in the browser, from the last solution.

use std::sync::Arc;

use gloo_timers::future::TimeoutFuture;
use leptos::prelude::*;
use shared::book::{ChangeHash, EditError, Intention, Photo, Since};
use shared::finding::Finding;
use shared::ids::{ReadingId, SetupId, StageId};
use shared::job::{Job, Reading, Taken};
use shared::proof::Digest;
use shared::result::{JobResult, PairResult};
use shared::solve::{Expectation, Solver};

use super::held::Held;
use super::session::Session;
use super::shelf::{OnDisk, Other, Shelf};
use crate::measuring::answer::pair_of;
use crate::measuring::propose::is_taken;
use crate::platform;

/// Where a book's changes are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Badge {
    /// Where they are on this phone.
    pub on_disk: OnDisk,
    /// Changes that the server does not have.
    pub unshared: usize,
    /// The same of all books.
    pub unshared_in_all: usize,
    /// Photos of this book that the server does not have.
    pub photos: usize,
    /// Is there a line to the server?
    pub online: bool,
}

/// The open book. Copy: hand it on by value.
#[derive(Debug, Clone, Copy)]
pub struct Book {
    /// Document id.
    pub id: StoredValue<String>,
    /// The car as its readings stand.
    ///
    /// It may be ahead of the result by readings that were entered a moment ago.
    pub job: RwSignal<Arc<Job>>,
    /// Its photos, hidden ones included.
    pub photos: RwSignal<Arc<Vec<Photo>>>,
    /// What is worth saying about the document: conflicts, parts that cannot be read.
    pub findings: RwSignal<Arc<Vec<Finding>>>,
    /// What the readings say; `None` until the first solution.
    pub result: RwSignal<Option<Arc<JobResult>>>,
    /// What the newest reading makes of its pair, until the result knows it.
    pub foreseen: RwSignal<Option<(ReadingId, PairResult)>>,
    /// Where the changes are.
    pub badge: RwSignal<Badge>,
    /// Is the document here at all (it may still be on its way)?
    pub here: RwSignal<bool>,
    /// Stage in work; stays until somebody changes it.
    pub stage: RwSignal<Option<StageId>>,
    /// Set-up in work; stays.
    pub setup: RwSignal<Option<SetupId>>,
    /// Kind of reading in work, as in the job file; stays.
    pub kind: RwSignal<String>,
    shelf: Shelf,
    session: Session,
    solver: StoredValue<Solver, LocalStorage>,
    /// Counts solutions, so that an explanation knows whether it is still wanted.
    solved: StoredValue<u64>,
    /// The car as it was solved.
    solved_of: StoredValue<Arc<Job>>,
    /// Will the document be read and solved after the next frame?
    waits: StoredValue<bool>,
}

/// How long a solution stands before it is explained, milliseconds: the answer is painted first,
/// and somebody who types on is not held up.
const EXPLAIN_AFTER_MS: u32 = 120;

/// Name under which the stage and the set-up in work are kept, with their book.
const IN_WORK: &str = "in-work";

/// Stage and set-up of this book as they were in work in this window: every part of a book begins
/// anew, and none of them sends a person elsewhere.
fn in_work(book: &str) -> (Option<StageId>, Option<SetupId>) {
    let text = platform::kept_here(IN_WORK).unwrap_or_default();
    let mut words = text.split(' ');
    if words.next() != Some(book) {
        return (None, None);
    }
    let (stage, setup) = (words.next(), words.next());
    (
        stage.and_then(|id| StageId::parse(id).ok()),
        setup.and_then(|id| SetupId::parse(id).ok()),
    )
}

impl Book {
    /// Opens a book: loads it and follows its changes.
    #[must_use]
    pub fn open(id: String, shelf: Shelf, session: Session) -> Self {
        let (stage, setup) = in_work(&id);
        let book = Self {
            id: StoredValue::new(id.clone()),
            job: RwSignal::new(Arc::default()),
            photos: RwSignal::new(Arc::default()),
            findings: RwSignal::new(Arc::default()),
            result: RwSignal::new(None),
            foreseen: RwSignal::new(None),
            badge: RwSignal::new(Badge {
                on_disk: OnDisk::Saved,
                unshared: 0,
                unshared_in_all: 0,
                photos: 0,
                online: false,
            }),
            here: RwSignal::new(false),
            stage: RwSignal::new(stage),
            setup: RwSignal::new(setup),
            kind: RwSignal::new(platform::kept("kind").unwrap_or_else(|| "height".to_owned())),
            shelf,
            session,
            solver: StoredValue::new_local(Solver::default()),
            solved: StoredValue::new(0),
            solved_of: StoredValue::default(),
            waits: StoredValue::new(false),
        };
        shelf.set_open(Some(id.clone()));
        on_cleanup(move || shelf.set_open(None));
        {
            let id = id.clone();
            // After a fresh start of the page, the phone's store opens first.
            Effect::new(move || {
                if shelf.ready.get() {
                    let id = id.clone();
                    leptos::task::spawn_local(async move { shelf.load(&id).await });
                }
            });
        }
        Effect::new(move || {
            let (changed, _) = shelf.pulse.get();
            let online = shelf.online.get();
            if changed == id || changed.is_empty() {
                book.refresh_soon();
            }
            let badge = Badge {
                on_disk: shelf.on_disk(&id),
                unshared: shelf.unshared(&id),
                unshared_in_all: shelf.unshared_in_all(),
                photos: shelf.unsent(&id),
                online,
            };
            set_if_new(book.badge, badge);
        });
        Effect::new(move || platform::keep("kind", &book.kind.get()));
        Effect::new(move || {
            if let Some(stage) = book.stage.get() {
                let setup = book.setup.get();
                let setup = setup.as_ref().map_or("", SetupId::as_str);
                let text = format!("{} {stage} {setup}", book.id.get_value());
                platform::keep_here(IN_WORK, &text);
            }
        });
        book
    }

    /// Reads and solves what has changed: at once where nothing is shown yet, else after the next
    /// frame, however many changes come until then.
    fn refresh_soon(self) {
        if self.result.read_untracked().is_none() {
            self.refresh();
            return;
        }
        if self.waits.get_value() {
            return;
        }
        self.waits.set_value(true);
        leptos::task::spawn_local(async move {
            platform::painted().await;
            // The page may be gone by then.
            if self.waits.try_get_value().is_some() {
                self.waits.set_value(false);
                self.refresh();
            }
        });
    }

    fn refresh(self) {
        let id = self.id.get_value();
        let look = |held: &Held| (held.view(), !held.doc.get_heads().is_empty());
        let Some((view, here)) = self.shelf.with_book(&id, look) else {
            return;
        };
        set_if_new(self.photos, view.photos);
        set_if_new(self.here, here);
        // A conflict may come without the car looking any different.
        set_if_new(self.findings, view.findings);
        let job = view.job;
        // Badges change more often than cars.
        if *self.solved_of.read_value() == job && self.result.read_untracked().is_some() {
            return;
        }
        let keeps = |stage: &StageId| job.stages.iter().any(|known| known.id == *stage);
        if !self.stage.get_untracked().as_ref().is_some_and(keeps) {
            self.stage
                .set(job.stages.last().map(|stage| stage.id.clone()));
        }
        if !self
            .setup
            .get_untracked()
            .as_ref()
            .is_some_and(|setup| job.setups.contains_key(setup))
        {
            self.setup.set(job.setups.keys().last().cloned());
        }
        let mut result = None;
        self.solver
            .update_value(|solver| result = Some(solver.answer(&job)));
        if let Some(result) = &result {
            let (stage, counts) = super::held::cover::telling(&job, Some(result));
            self.shelf.count(&id, stage, counts);
        }
        if let (Some(result), Some(before)) = (&mut result, self.result.get_untracked()) {
            keep_reasons(result, &before, &job);
        }
        self.solved_of.set_value(Arc::clone(&job));
        set_if_new(self.job, job);
        self.foreseen.set(None);
        self.result.set(result.map(Arc::new));
        self.explain_soon();
    }

    /// Causes, pulls and next readings, when there is a moment.
    fn explain_soon(self) {
        self.solved.update_value(|count| *count += 1);
        let wanted = self.solved.get_value();
        leptos::task::spawn_local(async move {
            TimeoutFuture::new(EXPLAIN_AFTER_MS).await;
            // The page may be gone by then, or a newer solution be there.
            if self.solved.try_get_value() != Some(wanted) {
                return;
            }
            let (job, Some(result)) = (self.solved_of.get_value(), self.result.get_untracked())
            else {
                return;
            };
            let mut explained = (*result).clone();
            self.solver
                .update_value(|solver| solver.explain(&job, &mut explained));
            if explained != *result {
                self.result.set(Some(Arc::new(explained)));
            }
        });
    }

    /// Does an intention as the signed-in person. The screen has the answer at once.
    ///
    /// # Errors
    /// [`EditError`]; nothing has changed then.
    pub fn act(&self, intention: &Intention) -> Result<(), EditError> {
        let by = self.me();
        self.id.with_value(|id| self.shelf.act(id, &by, intention))
    }

    /// Records a reading as the signed-in person. It is on the screen in the next frame, with what it
    /// makes of its pair; the solution comes after that.
    ///
    /// # Errors
    /// [`EditError`]; nothing has changed then.
    pub fn record(&self, reading: &Reading) -> Result<(), EditError> {
        let job = self.job.get_untracked();
        let foreseen = pair_of(&job, reading).and_then(|(left, right)| {
            self.solver
                .with_value(|solver| solver.foresee(&job, reading, &left, &right))
        });
        self.act(&Intention::RecordReading {
            reading: reading.clone(),
        })?;
        self.foreseen
            .set(foreseen.map(|pair| (reading.id.clone(), pair)));
        if self.result.read_untracked().is_some() {
            let mut job = (*job).clone();
            job.readings.push(reading.clone());
            self.job.set(Arc::new(job));
        }
        Ok(())
    }

    /// The name of the signed-in person.
    #[must_use]
    pub fn me(&self) -> String {
        self.session
            .me
            .get_untracked()
            .map(|me| me.name)
            .unwrap_or_default()
    }

    /// What a reading should be, from all others; `None` when nothing can be expected yet.
    #[must_use]
    pub fn expect(
        &self,
        stage: &StageId,
        taken: &Taken,
        sigma_mm: Option<f64>,
    ) -> Option<Expectation> {
        let job = self.job.get_untracked();
        self.solver
            .with_value(|solver| solver.expect(&job, stage, taken, sigma_mm))
    }

    /// Who else is on this book.
    #[must_use]
    pub fn others(&self) -> Vec<Other> {
        let id = self.id.get_value();
        self.shelf
            .others
            .get()
            .into_iter()
            .filter(|other| other.book == id)
            .collect()
    }

    /// Says to the others where the person is.
    pub fn at(&self, place: &str) {
        self.shelf.say_where(self.id.get_value(), place.to_owned());
    }

    /// The car as a job file, with what of the book could not go into it; `None` while the book is
    /// on its way.
    #[must_use]
    pub fn job_file(&self) -> Option<Result<(String, Vec<Finding>), shared::book::TooMuch>> {
        self.id.with_value(|id| {
            self.shelf
                .with_book(id, |held| shared::book::export(&held.doc))
        })
    }

    /// What came into the book since these heads; follows its changes. `None` when this phone does
    /// not have the heads.
    #[must_use]
    pub fn since(&self, heads: &[Digest]) -> Option<Since> {
        self.shelf.pulse.track();
        let heads: Vec<ChangeHash> = heads.iter().map(|head| ChangeHash(head.0)).collect();
        let look = |held: &super::held::Held| shared::book::since(&held.doc, &heads);
        self.id
            .with_value(|id| self.shelf.with_book(id, look))
            .flatten()
    }

    /// The whole document as bytes, for a file.
    #[must_use]
    pub fn bytes(&self) -> Vec<u8> {
        self.id
            .with_value(|id| self.shelf.with_book(id, |held| held.doc.save()))
            .unwrap_or_default()
    }
}

/// Sets what has changed, so that nothing is drawn again that looks the same.
fn set_if_new<T: PartialEq + Send + Sync + 'static>(signal: RwSignal<T>, value: T) {
    if *signal.read_untracked() != value {
        signal.set(value);
    }
}

/// Until a new solution is explained, the reasons of the last one stand: a list that empties at each
/// keystroke cannot be read.
fn keep_reasons(result: &mut JobResult, before: &JobResult, job: &Job) {
    for stage in &mut result.stages {
        if let Some(known) = before.stages.iter().find(|known| known.id == stage.id) {
            stage.modes.clone_from(&known.modes);
            stage.causes.clone_from(&known.causes);
            stage.pulls.clone_from(&known.pulls);
        }
    }
    result.changes.clone_from(&before.changes);
    let new: Vec<&Reading> = job
        .readings
        .iter()
        .filter(|reading| !before.readings.contains_key(&reading.id))
        .collect();
    result.next.clone_from(&before.next);
    result
        .next
        .retain(|next| !new.iter().any(|reading| is_taken(next, reading)));
}

/// The open book of this page.
#[must_use]
pub fn book() -> Book {
    expect_context()
}
