//! A shop's log that a test writes entry by entry, with real keys, real changes and real results.

use crate::book::{self, ActorId, Automerge, Intention, Stamp};
use crate::ids::{BookId, DeviceId, ReadingId, ShopId, StageId, UserId};
use crate::job::Job;
use crate::proof::bundle::{Bundle, ChangeLine, origin};
use crate::proof::checkpoint::Checkpoint;
use crate::proof::leaf::{self, Event, Leaf, LeafFormat, Who};
use crate::proof::note::NoteKey;
use crate::proof::statement::{Claims, Deed, SignedStatement, Statement, StatementFormat};
use crate::proof::tree::Frontier;
use crate::proof::{Digest, Seed};
use crate::solve::solve;
use crate::sync::replay::{digest, facts_of};
use crate::wire::Role;

pub(crate) const SHOP: &str = "01SHOP";
pub(crate) const JOB: &str = "book-7";

/// A log and what its entries name.
pub(crate) struct Log {
    pub(crate) seed: Seed,
    pub(crate) leaves: Vec<Leaf>,
    pub(crate) changes: Vec<ChangeLine>,
    pub(crate) statements: Vec<String>,
    at_ms: i64,
}

pub(crate) fn user(name: &str) -> UserId {
    UserId::parse(name).unwrap()
}

pub(crate) fn device(name: &str) -> DeviceId {
    DeviceId::parse(&format!("{name}-phone")).unwrap()
}

pub(crate) fn who(name: &str) -> Option<Who> {
    Some(Who {
        user: user(name),
        name: name.to_uppercase(),
        device: Some(device(name)),
    })
}

pub(crate) fn key(name: &str) -> Seed {
    Seed::new(&Digest::of(name.as_bytes()).0)
}

pub(crate) fn job() -> BookId {
    BookId::parse(JOB).unwrap()
}

impl Log {
    pub(crate) fn new() -> Self {
        Self {
            seed: Seed::new(&[9; 32]),
            leaves: Vec::new(),
            changes: Vec::new(),
            statements: Vec::new(),
            at_ms: 1_772_442_000_000,
        }
    }

    pub(crate) fn add(&mut self, who: Option<Who>, event: Event) -> &mut Self {
        self.at_ms += 60_000;
        self.leaves.push(Leaf {
            format: LeafFormat::V1,
            index: self.leaves.len() as u64,
            at_ms: self.at_ms,
            shop: ShopId::parse(SHOP).unwrap(),
            who,
            event,
        });
        self
    }

    pub(crate) fn joins(&mut self, name: &str, role: Role) -> &mut Self {
        self.add(
            who(name),
            Event::PersonJoined {
                user: user(name),
                name: name.to_uppercase(),
                role,
            },
        )
    }

    pub(crate) fn registers(&mut self, name: &str) -> &mut Self {
        self.add(
            who(name),
            Event::DeviceRegistered {
                user: user(name),
                device: device(name),
                key: Some(key(name).public()),
            },
        )
    }

    /// All changes of a book that the log has not yet.
    pub(crate) fn accepts(&mut self, name: &str, doc: &Automerge) -> &mut Self {
        let mut hashes = Vec::new();
        for change in doc.get_changes(&[]) {
            let hash = facts_of(&change).hash;
            if self.changes.iter().any(|known| known.hash == hash) {
                continue;
            }
            hashes.push(hash);
            self.changes.push(ChangeLine {
                job: job(),
                hash,
                bytes: change.raw_bytes().to_vec(),
            });
        }
        let event = Event::ChangesAccepted {
            job: job(),
            hashes,
            heads: heads(doc),
        };
        self.add(who(name), event)
    }

    pub(crate) fn signs(&mut self, name: &str, statement: Statement) -> Digest {
        let event = |digest| match statement.deed {
            Deed::SignOff => Event::SignedOff {
                job: job(),
                statement: digest,
            },
            Deed::Countersign { of } => Event::Countersigned {
                job: job(),
                statement: digest,
                of,
            },
        };
        let signed = SignedStatement::sign(statement.clone(), &key(name)).unwrap();
        self.statements.push(signed.text().to_owned());
        self.add(who(name), event(signed.digest()));
        signed.digest()
    }

    pub(crate) fn note_key(&self) -> NoteKey {
        let shop = ShopId::parse(SHOP).unwrap();
        NoteKey::new(&origin(&shop), self.seed.public()).unwrap()
    }

    pub(crate) fn checkpoint(&self) -> Checkpoint {
        let mut tree = Frontier::default();
        for leaf in &self.leaves {
            tree.push(&leaf::hash(leaf.text().unwrap().as_bytes()));
        }
        Checkpoint::of(self.note_key().name(), tree.head())
    }

    pub(crate) fn bundle(&self) -> Bundle {
        Bundle::gather(
            ShopId::parse(SHOP).unwrap(),
            &self.note_key(),
            self.checkpoint().sign(&self.seed).unwrap(),
            self.leaves
                .iter()
                .map(|leaf| leaf.text().unwrap())
                .collect(),
            self.changes.clone(),
            self.statements.clone(),
        )
    }
}

pub(crate) fn heads(doc: &Automerge) -> Vec<Digest> {
    let mut heads: Vec<Digest> = doc.get_heads().iter().map(digest).collect();
    heads.sort();
    heads
}

/// A small car: the demo's first stage, references and front only.
pub(crate) fn car() -> Job {
    let mut job = crate::demo::job();
    job.stages.truncate(1);
    let stage = job.stages[0].id.clone();
    let kept = ["sill", "floor", "rail-front", "rail-mid", "tower-front"];
    let keep = |id: &str| kept.iter().any(|stem| id.starts_with(stem));
    job.readings.retain(|reading| {
        reading.stage == stage && reading.taken.points().all(|id| keep(id.as_str()))
    });
    job.points.retain(|id, _| keep(id.as_str()));
    job
}

pub(crate) fn stamp(name: &str, n: usize) -> Stamp {
    Stamp {
        by: name.to_owned(),
        at: "2026-03-02T09:14:00Z".to_owned(),
        at_ms: 1_772_442_840_000,
        record: format!("record-{name}-{n}"),
    }
}

pub(crate) fn book_of(car: &Job) -> Automerge {
    book::import(car, ActorId::from(&[1; 16][..]), &stamp("ana", 0)).unwrap()
}

pub(crate) fn set_aside(doc: &mut Automerge, reading: &ReadingId, n: usize) {
    let intention = Intention::SetReadingAside {
        reading: reading.clone(),
        why: "tape slipped".to_owned(),
    };
    book::edit::apply(doc, &stamp("ana", n), &intention).unwrap();
}

pub(crate) fn stage() -> StageId {
    StageId::parse("as-received").unwrap()
}

/// What somebody says about the book as it is.
pub(crate) fn statement(name: &str, deed: Deed, doc: &Automerge) -> Statement {
    let (job_now, _) = book::read(doc);
    Statement {
        format: StatementFormat::V1,
        deed,
        shop: ShopId::parse(SHOP).unwrap(),
        job: job(),
        heads: heads(doc),
        claims: Claims::of(&job_now, &solve(&job_now), &stage()).unwrap(),
        who: who(name).unwrap(),
        at_ms: 1_772_442_900_000,
    }
}
