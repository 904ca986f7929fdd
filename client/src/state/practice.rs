//! Practice cars: books on a shelf of their own, in a database of their own.
//!
//! That shelf is never given to the line, and never joins the other tabs: what is practised cannot
//! reach the server, the list of cars, or anything that is signed, counted or learned.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::book::{EditError, Intention};
use shared::figures::Language;
use shared::job::{Card, Job};
use shared::simulate::practice::Practice;

use super::shelf::Shelf;
use crate::platform;
use crate::store;
use crate::text::Speaks;

/// Ids of practice cars begin so; no document of the open protocol has a hyphen in its id.
const PREFIX: &str = "practice-";
/// A seed is read out and typed more easily when it is short.
const SEEDS: u64 = 10_000;

/// The seed in the id of a practice car; `None` for a real book.
#[must_use]
pub fn seed_of(id: &str) -> Option<u64> {
    id.strip_prefix(PREFIX)?.parse().ok()
}

/// Is this the id of a practice car, or meant to be one?
#[must_use]
pub fn is_practice(id: &str) -> bool {
    id.starts_with(PREFIX)
}

/// The shelf of the practice cars.
#[derive(Debug, Clone, Copy)]
pub struct PracticeShelf {
    shelf: Shelf,
    is_open: StoredValue<bool>,
}

impl PracticeShelf {
    /// A shelf that opens when it is first asked for.
    #[must_use]
    pub fn new() -> Self {
        // Nobody listens to what this shelf would tell the line.
        let (shelf, _) = Shelf::new();
        Self {
            shelf,
            is_open: StoredValue::new(false),
        }
    }

    /// The shelf.
    #[must_use]
    pub fn open(self) -> Shelf {
        if !self.is_open.get_value() {
            self.is_open.set_value(true);
            let shelf = self.shelf;
            spawn_local(async move { shelf.open_alone(store::PRACTICE).await });
        }
        self.shelf
    }

    /// Begins a car that this phone does not have yet, in the language of whoever begins it; returns
    /// its id.
    ///
    /// # Errors
    /// [`EditError`]; nothing was begun then.
    pub fn begin(self, by: &str, language: Language) -> Result<String, EditError> {
        let shelf = self.open();
        let fresh = u64::from_be_bytes(platform::fresh_bytes()[..8].try_into().unwrap_or_default());
        let is_known = |seed: &u64| {
            let id = format!("{PREFIX}{seed}");
            shelf.covers.read_untracked().iter().any(|c| c.id == id)
        };
        let mut seeds = (0..SEEDS).map(|more| 1 + (fresh % SEEDS + more) % SEEDS);
        let seed = seeds.find(|seed| !is_known(seed)).unwrap_or(1);
        let words = language.practice();
        let card = Card {
            number: words.number.replacen("{}", &seed.to_string(), 1),
            vehicle: words.vehicle.to_owned(),
            ..Card::default()
        };
        let stage = language.words().of_as_received;
        let job = Practice::of(seed).job(card, stage, language);
        let id = format!("{PREFIX}{seed}");
        shelf.begin_as(&id, by, &intentions(job))?;
        Ok(id)
    }
}

impl Default for PracticeShelf {
    fn default() -> Self {
        Self::new()
    }
}

/// What makes a book of a practice car's job.
fn intentions(job: Job) -> Vec<Intention> {
    let members = job.members.into_iter();
    let points = job.points.into_iter();
    let setups = job.setups.into_iter();
    let stages = job.stages.into_iter();
    std::iter::once(Intention::DescribeJob { card: job.card })
        .chain(members.map(|(id, member)| Intention::AddMember { id, member }))
        .chain(points.map(|(id, point)| Intention::AddPoint { id, point }))
        .chain(setups.map(|(id, setup)| Intention::AddSetup { id, setup }))
        .chain(stages.map(|stage| Intention::BeginStage { stage }))
        .collect()
}

/// The practice car that is open.
#[derive(Debug, Clone, Copy)]
pub struct PracticeCar(pub StoredValue<Practice>);

/// The page of a practice car opens; `None` when its address names no car.
pub fn provide_practice_car(seed: Option<u64>) {
    provide_context(seed.map(|seed| PracticeCar(StoredValue::new(Practice::of(seed)))));
}

/// The open practice car, if this is one.
#[must_use]
pub fn practice_car() -> Option<PracticeCar> {
    use_context::<Option<PracticeCar>>()?
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_of_practice_cars_are_told_from_real_ones() {
        assert_eq!(seed_of("practice-417"), Some(417));
        assert_eq!(seed_of("practice-x"), None);
        assert!(is_practice("practice-x"));
        assert_eq!(seed_of("2NVjKuBwoGPHuvwRyywHHGEKTrc5"), None);
    }

    #[test]
    fn a_practice_car_becomes_a_book_that_reads_as_it_was_invented() {
        let given = Practice::of(417).job(Card::default(), "como llegó", Language::Spanish);
        let mut doc = shared::book::start();
        let stamp = shared::book::Stamp {
            by: "somebody".into(),
            at: "2026-01-01T00:00:00Z".into(),
            at_ms: 0,
            record: "r".into(),
        };
        for intention in intentions(given.clone()) {
            shared::book::edit::apply(&mut doc, &stamp, &intention).unwrap();
        }
        let (job, findings) = shared::book::read(&doc);
        assert_eq!(findings, []);
        assert_eq!(job.points, given.points);
        assert_eq!(job.members, given.members);
        assert_eq!(job.setups.len(), 2);
    }
}
