//! What is being entered: the task in hand, the number so far, and where they go.
//!
//! Others read the same car, and each of their readings may change what is proposed and on which side
//! of the beam it probably is. What a person has in hand stays until they have entered it or chosen
//! something else: a number never goes to another point than the one it was read at.

use leptos::prelude::*;
use shared::ids::ReadingId;
use shared::job::{Beam, Reading, Taken};

use super::choice::Choice;
use super::half;
use super::others::busy;
use crate::components::keypad::Press;
use crate::measuring::answer::Question;
use crate::measuring::entry::{Entry, Key};
use crate::measuring::propose::{Here, InHand, Proposal, Why, answer_to, is_read, propose};
use crate::measuring::sentences::Voice;
use crate::measuring::task::{BeamSide, Kind, Task, likely_side};
use crate::platform;
use crate::state::book::Book;
use crate::state::person::person;

/// What is being entered on this screen.
#[derive(Debug, Clone, Copy)]
pub struct Reader {
    pub(crate) book: Book,
    /// The number so far.
    pub(super) entry: RwSignal<Entry>,
    /// A task that a person chose instead of the proposed one, with the reading that stood there then.
    pub(super) chosen: RwSignal<Option<Choice>>,
    /// What stands on the screen: chosen by a person, in hand, or proposed.
    proposal: Memo<Option<Proposal>>,
    /// What does not change under the tape, and a number that grows when it is let go.
    pub(super) in_hand: RwSignal<Option<InHand>>,
    pub(super) let_go: StoredValue<u32>,
    /// What was read last on this screen.
    last: RwSignal<Option<Task>>,
    /// The switch, when a person turned it.
    pub(super) turned: RwSignal<Option<BeamSide>>,
    /// A reading that waits for a word because it is far from the rest.
    pub(crate) question: RwSignal<Option<Question>>,
    /// The reading that is being answered.
    pub(crate) answered: RwSignal<Option<ReadingId>>,
    /// A word that goes with the next reading.
    pub(super) note: RwSignal<String>,
    /// Why the last entry was not taken.
    pub(crate) error: RwSignal<Option<String>>,
}

impl Reader {
    pub(super) fn new(book: Book) -> Self {
        let (chosen, last) = (RwSignal::new(None), RwSignal::new(None));
        let in_hand = RwSignal::new(None);
        let reader = Self {
            book,
            entry: RwSignal::default(),
            chosen,
            proposal: Memo::new(move |_| proposal(book, chosen, in_hand, last)),
            in_hand,
            let_go: StoredValue::new(0),
            last,
            turned: RwSignal::new(None),
            question: RwSignal::new(None),
            answered: RwSignal::new(None),
            note: RwSignal::new(String::new()),
            error: RwSignal::new(None),
        };
        // A number that was asked about is of the point that it was read at.
        let task = Memo::new(move |_| reader.proposal().map(|proposal| proposal.task));
        Effect::new(move || {
            let task = task.get();
            let asked = reader.question.get_untracked();
            let of = asked.and_then(|question| Task::of(&question.reading));
            if of.is_some() && of != task {
                reader.question.set(None);
                reader.entry.set(Entry::default());
            }
        });
        let person = person();
        on_cleanup(move || half::put_away(&reader, person.unit.get_untracked()));
        // Another stage, set-up or kind, or the first thing that there is to read.
        let begins = Memo::new(move |_| (here(book), reader.proposal.read().is_some()));
        Effect::new(move || {
            begins.track();
            // A number that somebody has begun stays where it is.
            match reader.entry.read_untracked().is_empty() {
                // What was taken back may be the first thing that there is to read.
                true if reader.is_taken_back() => {}
                true => reader.let_go(),
                false => reader.stay(),
            }
        });
        reader
    }

    pub(crate) fn kind(&self) -> Kind {
        kind(self.book)
    }

    /// The task in hand: chosen by a person, or proposed.
    pub(crate) fn proposal(&self) -> Option<Proposal> {
        self.proposal.get()
    }

    /// Where the point is from the beam, unless the person turns it.
    pub(super) fn side(&self) -> BeamSide {
        let Some(proposal) = self.proposal() else {
            return BeamSide::Beam(Beam::Above);
        };
        let job = self.book.job.get();
        let held = self.in_hand.get();
        let held = held.filter(|held| held.proposal.task == proposal.task);
        let likely = likely_side(&job, &proposal.task, self.book.setup.get().as_ref());
        let sides = [self.turned.get(), held.map(|held| held.side)];
        let mut known = sides.into_iter().flatten();
        known
            .find(|side| side.is_at_beam_of(likely))
            .unwrap_or(likely)
    }

    pub(super) fn side_untracked(&self) -> BeamSide {
        untrack(|| self.side())
    }

    pub(super) fn here(&self) -> Option<Here> {
        untrack(|| here(self.book))
    }

    /// The task in hand as it would be taken; its value says nothing yet.
    pub(crate) fn asked(&self) -> Option<Taken> {
        let task = self.proposal()?.task;
        let setup = self.book.setup.get();
        let setup = setup.as_ref().filter(|_| task.kind.needs_setup());
        task.taken(setup, self.side(), 0.0)
    }

    /// Types a number in, with the switch as it was read.
    pub(crate) fn type_in(&self, entry: Entry, side: Option<BeamSide>) {
        self.hold();
        self.error.set(None);
        self.question.set(None);
        self.entry.set(entry);
        if side.is_some() {
            self.turned.set(side);
        }
    }

    /// Is something half entered?
    pub(super) fn is_unfinished(&self) -> bool {
        let note = self.note.read();
        !self.entry.read().is_empty() || self.question.read().is_some() || !note.trim().is_empty()
    }

    /// A key of the keypad, or of a tape that types.
    pub(super) fn press(&self, press: Press, voice: Voice) {
        self.hold();
        self.error.set(None);
        match press {
            Press::Key(key) => {
                // What is typed after the question is the number as it was read again.
                let is_asked = self.question.read_untracked().is_some();
                if is_asked {
                    self.question.set(None);
                }
                self.entry.update(|entry| {
                    if is_asked && key != Key::Back {
                        entry.press(Key::Clear);
                    }
                    entry.press(key);
                });
            }
            Press::Touches => self.enter(0.0, "0".to_owned(), voice),
            Press::Enter => {
                let entry = self.entry.get_untracked();
                match entry.value_mm(voice.figures.unit) {
                    Ok(value) => self.enter(
                        value,
                        format!("{} {}", entry.shown(), voice.figures.unit_name()),
                        voice,
                    ),
                    Err(error) => self.error.set(Some(voice.not_taken(error))),
                }
            }
        }
    }

    /// Takes a number: asks when it is far from the rest, else records it.
    fn enter(&self, value_mm: f64, entered: String, voice: Voice) {
        let (Some(proposal), Some(stage)) =
            (untrack(|| self.proposal()), self.book.stage.get_untracked())
        else {
            return;
        };
        let setup = self
            .book
            .setup
            .get_untracked()
            .filter(|_| proposal.task.kind.needs_setup());
        let Some(taken) = proposal
            .task
            .taken(setup.as_ref(), self.side_untracked(), value_mm)
        else {
            self.error.set(Some(voice.measuring.no_setup.to_owned()));
            return;
        };
        let Ok(id) = ReadingId::parse(&platform::fresh_id().to_string()) else {
            return;
        };
        let far = self
            .book
            .expect(&stage, &taken, None)
            .filter(|expected| expected.contradicts(value_mm));
        let reading = Reading {
            id,
            stage: stage.clone(),
            replaces: self.replaces(),
            taken,
            sigma_mm: None,
            tool: None,
            origin_mm: 0.0,
            by: self.book.me(),
            at: platform::now_text(),
            entered,
            note: self.note.get_untracked().trim().to_owned(),
            set_aside: None,
        };
        match far {
            Some(expected) => self.question.set(Some(Question {
                reading,
                expected_mm: expected.value_mm,
                more_mm: value_mm - expected.value_mm,
            })),
            None => self.record(&reading, voice),
        }
    }

    /// Takes a task in hand that a person chose. Chosen where something was read, it corrects that
    /// reading.
    pub(crate) fn choose(&self, task: Task) {
        let here = self.here();
        let job = self.book.job.get_untracked();
        let corrects = here.and_then(|here| Some(answer_to(&job, &here, &task)?.id.clone()));
        self.take_up(Choice { task, corrects });
    }

    /// Takes up what a person chose, on this screen or another.
    pub(super) fn take_up(&self, choice: Choice) {
        self.chosen.set(Some(choice));
    }

    /// The reading that the chosen task corrects, if it still counts here.
    fn replaces(&self) -> Option<ReadingId> {
        let here = self.here()?;
        let Choice { task, corrects } = self.chosen.get_untracked()?;
        let job = self.book.job.get_untracked();
        let mut still = job.counting_readings().filter(|reading| {
            Some(&reading.id) == corrects.as_ref()
                && task.is_answered_by(reading, &here.stage, here.setup.as_ref())
        });
        still.next().map(|reading| reading.id.clone())
    }

    pub(crate) fn record(&self, reading: &Reading, voice: Voice) {
        match self.book.record(reading) {
            Ok(()) => {
                self.entry.set(Entry::default());
                self.note.set(String::new());
                self.question.set(None);
                self.chosen.set(None);
                self.turned.set(None);
                self.last.set(Task::of(reading));
                self.answered.set(Some(reading.id.clone()));
                self.let_go();
            }
            Err(refused) => self.error.set(Some(voice.refused(&refused))),
        }
    }
}

fn kind(book: Book) -> Kind {
    Kind::named(&book.kind.get()).unwrap_or_default()
}

/// Stage, set-up and kind as they are chosen; `None` before there is a stage.
fn here(book: Book) -> Option<Here> {
    let kind = kind(book);
    Some(Here {
        stage: book.stage.get()?,
        setup: book.setup.get().filter(|_| kind.needs_setup()),
        kind,
    })
}

fn proposal(
    book: Book,
    chosen: RwSignal<Option<Choice>>,
    in_hand: RwSignal<Option<InHand>>,
    last: RwSignal<Option<Task>>,
) -> Option<Proposal> {
    let here = here(book)?;
    let job = book.job.read();
    if let Some(Choice { task, corrects }) = chosen.get().filter(|it| it.task.kind == here.kind) {
        let is_news = corrects.is_none() && is_read(&job, &here, &task);
        return Some(Proposal {
            task,
            why: if is_news {
                Why::ReadMeanwhile
            } else {
                Why::Chosen
            },
        });
    }
    let held = in_hand.read();
    if let Some(held) = held.as_ref().and_then(|held| held.still(&job, &here)) {
        return Some(held);
    }
    let result = book.result.get();
    let busy = busy(book, &job);
    propose(&job, result.as_deref(), &here, last.read().as_ref(), &busy)
}
