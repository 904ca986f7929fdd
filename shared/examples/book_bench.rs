//! What a book costs as it grows: opening, reading, and passing the gate with one more reading.
//!
//! `cargo run --release --package shared --example book_bench`. Every reading is a change of its own,
//! as four people type them. Measures; gates nothing.
#![expect(clippy::disallowed_methods, reason = "a benchmark reads the clock")]

use std::time::{Duration, Instant};

use shared::book::{self, ActorId, Automerge, Intention, Stamp, edit};
use shared::job::Job;
use shared::simulate::large::{large_car, repeatable_noise};
use shared::solve::Solver;
use shared::sync::conversation::{Guest, Host};
use shared::sync::gate::{Question, Role, weigh};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let full = large_car(50, 10, &mut repeatable_noise(0x1234_5678_9ABC_DEF1));
    println!(
        "{:>8} {:>9} {:>8} {:>8} {:>8} {:>8} {:>8} {:>8} {:>8}",
        "readings", "bytes", "save", "load", "clone", "read", "edit", "gate", "solve"
    );
    for size in [10, 100, 500, 1000, 2000, 4000] {
        let doc = grown(&full, size)?;
        let saved = doc.save();
        let heads = doc.get_heads();
        let mut longer = doc.clone();
        let enter = || take_down(&mut doc.clone(), &full, size.min(full.readings.len() - 1));
        let edit = median(enter);
        take_down(&mut longer, &full, full.readings.len() - 1)?;
        let question = asked(doc.clone(), &longer).ok_or("the change never arrived")?;
        let (job, _) = book::read(&doc);
        let figures = [
            median(|| doc.save()),
            median(|| Automerge::load(&saved)),
            median(|| doc.clone()),
            median(|| book::read(&doc)),
            edit,
            median(|| weigh(question.clone(), |_| true).map(|a| a.changes.len())),
            median(|| drop(Solver::default().solve(&job))),
        ];
        let line: Vec<String> = figures
            .iter()
            .map(|time| format!("{:>8.2}", time.as_secs_f64() * 1e3))
            .collect();
        println!(
            "{size:>8} {:>9} {} ({})",
            saved.len(),
            line.join(" "),
            heads.len()
        );
    }
    Ok(())
}

const ANA: u64 = 1;

/// The book with the first readings of a job, each a change of one of four people.
fn grown(full: &Job, size: usize) -> Result<Automerge, Box<dyn std::error::Error>> {
    let empty = Job {
        readings: Vec::new(),
        ..full.clone()
    };
    let mut doc = book::import(&empty, actor(0), &stamp())?;
    for index in 0..size {
        doc.set_actor(actor(u8::try_from(index % 4)?));
        take_down(&mut doc, full, index)?;
    }
    Ok(doc)
}

fn take_down(doc: &mut Automerge, full: &Job, index: usize) -> Result<(), edit::EditError> {
    let reading = full.readings[index].clone();
    edit::apply(doc, &stamp(), &Intention::RecordReading { reading }).map(|_| ())
}

fn actor(number: u8) -> ActorId {
    ActorId::from(&[number + 1; 16][..])
}

fn stamp() -> Stamp {
    Stamp {
        by: "Ana".to_owned(),
        at: "2026-03-02T09:15:00Z".to_owned(),
        at_ms: 1_772_442_900_000,
        record: "record".to_owned(),
    }
}

/// What the gate is asked when a phone with the longer book meets the server with the shorter.
fn asked(shorter: Automerge, longer: &Automerge) -> Option<Question> {
    let mut phone = Guest::new(shorter.get_heads());
    let mut host = Host::new(shorter);
    host.join(ANA, Role::Write);
    let mut doc = longer.clone();
    for _ in 0..10 {
        if let Some(data) = phone.next_message(&doc, &longer.get_heads()) {
            let question = host.question(ANA, data)?;
            let admitted = weigh(question.clone(), |_| true).ok()?;
            if !admitted.changes.is_empty() {
                return Some(question);
            }
            host.commit(ANA, admitted);
        }
        if let Some(data) = host.next_message(ANA) {
            phone.receive(&mut doc, &data).ok()?;
        }
    }
    None
}

fn median<T>(mut work: impl FnMut() -> T) -> Duration {
    let mut times: Vec<Duration> = (0..9)
        .map(|_| {
            let start = Instant::now();
            std::hint::black_box(work());
            start.elapsed()
        })
        .collect();
    times.sort();
    times[times.len() / 2]
}
