//! Doing again what was meant: after its change was lost from this phone's memory, or refused by
//! the server.
//!
//! The intention keeps who meant it and when; only the change is new. A record that is written
//! once cannot be done twice: its name was chosen when it was meant.

use std::collections::BTreeMap;

use automerge::{ActorId, AutoSerde, Automerge, ChangeHash, ROOT, ReadDoc};
use serde::{Deserialize, Serialize};
use serde_json::{Value as Json, json};
use shared::book::{self, EditError, Intention, Stamp};
use shared::ids::ReadingId;

use super::meant::Meant;

/// Why a record that is written once was not written again.
const OTHER_CONTENT: &str = "the server's book has another record of the same name";
/// Why nothing could be written again.
const NO_COMMON_PAST: &str = "the server's book cannot take it";

/// Something meant that could not be done again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Left {
    /// Who meant it and when.
    pub stamp: Stamp,
    /// What was meant.
    pub intention: Intention,
    /// Why not, in words of the book.
    pub why: String,
}

/// What became of everything that was done again.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Redone {
    /// Done, with its new change.
    pub done: BTreeMap<String, Meant>,
    /// Nothing had to be done: the document says so already.
    pub there: Vec<String>,
    /// Not done.
    pub left: BTreeMap<String, Left>,
}

impl Redone {
    fn add(&mut self, other: Self) {
        self.done.extend(other.done);
        self.there.extend(other.there);
        self.left = other.left;
    }
}

/// Does these again on top of the document, in the order of their names, under its actor.
pub(super) fn redo(doc: &mut Automerge, lost: BTreeMap<String, Meant>) -> Redone {
    let mut all = Redone::default();
    let mut open = lost;
    // A clock that was set back may have put a reading before its point; another round finds it.
    loop {
        let count = open.len();
        let round = pass(doc, &open);
        open.retain(|name, _| round.left.contains_key(name));
        all.add(round);
        if open.is_empty() || open.len() == count {
            return all;
        }
    }
}

fn pass(doc: &mut Automerge, open: &BTreeMap<String, Meant>) -> Redone {
    let mut round = Redone::default();
    for (name, meant) in open {
        let done = match book::edit::apply(doc, &meant.stamp, &meant.intention) {
            Ok(done) => done,
            Err(EditError::Exists(_)) if is_there(doc, meant) == Some(true) => made_by(doc, meant),
            Err(error) => {
                round
                    .left
                    .insert(name.clone(), meant.left(&error.to_string()));
                continue;
            }
        };
        match done {
            Some(change) => {
                let change = change.to_string();
                let again = Meant {
                    change,
                    ..meant.clone()
                };
                round.done.insert(name.clone(), again);
            }
            None => round.there.push(name.clone()),
        }
    }
    round
}

/// The server's document with everything that was meant and is not in it, under `actor`.
///
/// Each is done on top of what the phone had when it last agreed with the server (`base`), as it was
/// meant: where somebody else has set the same field since, both values stand, as always.
pub(super) fn redo_beside(
    mut server: Automerge,
    base: &[ChangeHash],
    mut lost: BTreeMap<String, Meant>,
    actor: ActorId,
) -> (Automerge, Redone) {
    let mut all = Redone::default();
    for (name, meant) in &lost {
        match is_there(&server, meant) {
            Some(true) => all.there.push(name.clone()),
            Some(false) => {
                all.left.insert(name.clone(), meant.left(OTHER_CONTENT));
            }
            None => {}
        }
    }
    lost.retain(|name, _| !all.there.contains(name) && !all.left.contains_key(name));

    let here = |hash: &&ChangeHash| server.get_change_meta_by_hash(hash).is_some();
    let base: Vec<ChangeHash> = base.iter().filter(here).copied().collect();
    let branch = (!base.is_empty()).then(|| server.fork_at(&base).ok());
    let mut branch = branch
        .flatten()
        .unwrap_or_else(book::start)
        .with_actor(actor.clone());
    let beside = redo(&mut branch, lost.clone());
    // Both hold the same first change, so they have a common past and merge.
    if server.merge(&mut branch).is_err() {
        return (server.with_actor(actor), all.with_left_of(lost));
    }
    let mut server = server.with_actor(actor);
    lost.retain(|name, _| beside.left.contains_key(name));
    let on_top = redo(&mut server, lost);
    let Redone { done, there, left } = on_top;
    all.done.extend(beside.done);
    all.done.extend(done);
    all.there.extend(beside.there);
    all.there.extend(there);
    all.left.extend(left);
    (server, all)
}

impl Redone {
    fn with_left_of(mut self, lost: BTreeMap<String, Meant>) -> Self {
        let lost = lost.into_iter();
        let left = lost.map(|(name, meant)| (name, meant.left(NO_COMMON_PAST)));
        self.left.extend(left);
        self
    }
}

impl Meant {
    pub(super) fn left(&self, why: &str) -> Left {
        Left {
            stamp: self.stamp.clone(),
            intention: self.intention.clone(),
            why: why.to_owned(),
        }
    }
}

/// Where it stands, if it is a record that is written once: map and name.
fn place(meant: &Meant) -> Option<(&'static str, &str)> {
    match &meant.intention {
        Intention::RecordReading { reading } => Some(("readings", reading.id.as_str())),
        Intention::WriteNote { id, .. } => Some(("notes", id)),
        Intention::AddPhoto { photo } => Some(("photos", photo.id.as_str())),
        Intention::StrikePhoto { .. } => Some(("photos", &meant.stamp.record)),
        Intention::SetReadingAside { .. } | Intention::BringReadingBack { .. } => {
            Some(("asides", &meant.stamp.record))
        }
        _ => None,
    }
}

/// The change that has made this record.
fn made_by(doc: &Automerge, meant: &Meant) -> Option<ChangeHash> {
    let (map, name) = place(meant)?;
    let (_, map) = doc.get(ROOT, map).ok()??;
    let (_, record) = doc.get(map, name).ok()??;
    doc.hash_for_opid(&record)
}

/// Is this record, which is written once, in the document, and is it what was meant? `None` when it
/// is not there, or is no such record.
fn is_there(doc: &Automerge, meant: &Meant) -> Option<bool> {
    let (map, name) = place(meant)?;
    let Stamp { by, at, .. } = &meant.stamp;
    let aside = |reading: &ReadingId, why: &String, aside: bool| json!({ "reading": reading, "why": why, "by": by, "at": at, "aside": aside });
    let expected = match &meant.intention {
        Intention::RecordReading { reading } => serde_json::to_value(reading).ok()?,
        Intention::WriteNote { text, .. } => json!({ "text": text, "by": by, "at": at }),
        Intention::AddPhoto { photo } => serde_json::to_value(photo).ok()?,
        Intention::StrikePhoto { photo, why } => {
            json!({ "strikes": photo, "why": why, "by": by, "at": at })
        }
        Intention::SetReadingAside { reading, why } => aside(reading, why, true),
        Intention::BringReadingBack { reading, why } => aside(reading, why, false),
        _ => return None,
    };
    let doc = serde_json::to_value(AutoSerde::from(doc)).ok()?;
    let mut there = doc.get(map)?.get(name)?.clone();
    // Its place in the order is the book's, not the person's.
    there.as_object_mut()?.remove("order");
    Some(there == without_nulls(expected))
}

/// A book does not store what is `null`.
fn without_nulls(value: Json) -> Json {
    match value {
        Json::Object(fields) => {
            let fields = fields.into_iter().filter(|(_, value)| !value.is_null());
            fields
                .map(|(name, value)| (name, without_nulls(value)))
                .collect()
        }
        other => other,
    }
}
