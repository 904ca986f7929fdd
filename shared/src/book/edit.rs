//! One function per intention: each makes one change by the document's own actor.
//!
//! An edit is refused when it would break the book: a reading that exists already, a point that is
//! not there, a number that is not one. A refused edit leaves the document as it was.

mod describe;

use automerge::transaction::{CommitOptions, Transactable, Transaction};
use automerge::{Automerge, AutomergeError, ChangeHash, ObjId, ROOT, ReadDoc};
use serde::Serialize;
use serde_json::{Value as Json, json};

use super::choose::choose_value;
use super::intention::{Intention, Stamp};
use super::photo;
use super::record::{put, set_fields, to_json};
use crate::ids::{PointId, StageId};
use crate::job::rules::{self, Fault, Step, What};
use crate::job::{Job, Point, Reading, Sheet, Side, Taken, Tool};

/// Why an edit was refused.
#[derive(Debug, thiserror::Error)]
pub enum EditError {
    /// There is no such record.
    #[error("{0} is not in this book")]
    Missing(String),
    /// A record that is written once is there already.
    #[error("{0} is in this book already; a correction is a new reading that replaces it")]
    Exists(String),
    /// What cannot be in any job, as `job::rules` has it.
    #[error("{0}: {1}")]
    Impossible(String, What),
    /// A pair needs a left and a right point.
    #[error("{0} and {1} are not on opposite sides")]
    NotAPair(String, String),
    /// How a plumb beam runs cannot change under what was read from it.
    #[error("{0}: readings lean on how its plumb beam runs; add another set-up")]
    ReadFrom(String),
    /// A set-up and a stage have a name.
    #[error("a name is needed")]
    NoName,
    /// Setting a reading aside, or hiding a photo, needs a reason.
    #[error("a reason is needed")]
    NoReason,
    /// The document is not a book, or the engine refused.
    #[error("the document cannot take this: {0}")]
    Document(#[from] AutomergeError),
}

pub(super) type Done = Result<(), EditError>;

/// Applies an intention as one change; the hash is `None` when nothing had to change.
///
/// # Errors
/// [`EditError`]; the document is then unchanged.
pub fn apply(
    doc: &mut Automerge,
    stamp: &Stamp,
    intention: &Intention,
) -> Result<Option<ChangeHash>, EditError> {
    commit(doc, stamp, |tx| match intention {
        Intention::DescribeJob { card } => describe(tx, "job", card),
        Intention::SetRule { settings } => {
            possible("settings", rules::settings(settings))?;
            describe(tx, "settings", settings)
        }
        Intention::AddPoint { id, point } => add_point(tx, id, point),
        Intention::RenamePoint { id, label } => {
            set_field(tx, "points", id.as_str(), "label", &json!(label))
        }
        Intention::PlacePoint {
            id,
            place_mm,
            place_sigma_mm,
        } => place_point(tx, id, *place_mm, *place_sigma_mm),
        Intention::TrustPoint { id, trusted } => {
            set_field(tx, "points", id.as_str(), "trusted", &json!(trusted))
        }
        Intention::PairPoints { left, right } => pair_points(tx, left, right),
        Intention::CarryPoint { id, member } => {
            set_field(tx, "points", id.as_str(), "member", &to_json(member))
        }
        Intention::AddMember { id, member } => add_record(tx, "members", id.as_str(), member),
        Intention::AddTool { id, tool } => add_tool(tx, id.as_str(), tool),
        Intention::AddSetup { id, setup } => {
            possible(id.as_str(), rules::stands(setup))?;
            add_record(tx, "setups", id.as_str(), setup)
        }
        Intention::DescribeSetup { id, says } => describe::setup(tx, id, says),
        Intention::DescribeStage { id, says } => describe::stage(tx, id.as_str(), says),
        Intention::BeginStage { stage } => add_record(tx, "stages", stage.id.as_str(), stage),
        Intention::RecordReading { reading } => record_reading(tx, reading),
        Intention::SetReadingAside { reading, why } => {
            set_aside(tx, stamp, reading.as_str(), why, true)
        }
        Intention::BringReadingBack { reading, why } => {
            set_aside(tx, stamp, reading.as_str(), why, false)
        }
        Intention::WriteNote { id, text } => write_note(tx, stamp, id, text),
        Intention::AddPhoto { photo } => photo::add(tx, photo),
        Intention::StrikePhoto { photo, why } => photo::strike(tx, stamp, photo, why),
        Intention::PinSheet { sheet } => pin_sheet(tx, sheet.as_ref()),
        Intention::TakeOverJob { job } => take_over(tx, stamp, job),
        Intention::ChooseValue { subject, value } => choose_value(tx, subject, value),
    })
}

/// Writes a whole job as one change.
pub(super) fn import_job(
    doc: &mut Automerge,
    stamp: &Stamp,
    job: &Job,
) -> Result<Option<ChangeHash>, EditError> {
    commit(doc, stamp, |tx| take_over(tx, stamp, job))
}

/// Writes a whole job into a book that has no readings yet.
fn take_over(tx: &mut Transaction<'_>, stamp: &Stamp, job: &Job) -> Done {
    let readings = root(tx, "readings")?;
    if let Some(reading) = tx.keys(&readings).next() {
        return Err(EditError::Exists(reading));
    }
    describe(tx, "job", &job.card)?;
    possible("settings", rules::settings(&job.settings))?;
    describe(tx, "settings", &job.settings)?;
    for (id, point) in &job.points {
        add_point(tx, id, point)?;
    }
    for (id, member) in &job.members {
        add_record(tx, "members", id.as_str(), member)?;
    }
    for (id, tool) in &job.tools {
        add_tool(tx, id.as_str(), tool)?;
    }
    for (id, setup) in &job.setups {
        add_record(tx, "setups", id.as_str(), setup)?;
    }
    for stage in &job.stages {
        add_record(tx, "stages", stage.id.as_str(), stage)?;
    }
    for reading in &job.readings {
        record_reading(tx, reading)?;
        if let Some(aside) = &reading.set_aside {
            let own = Stamp {
                by: aside.by.clone(),
                record: format!("{}-{}", stamp.record, reading.id),
                ..stamp.clone()
            };
            set_aside(tx, &own, reading.id.as_str(), &aside.why, true)?;
        }
    }
    pin_sheet(tx, job.sheet.as_ref())
}

fn commit(
    doc: &mut Automerge,
    stamp: &Stamp,
    edit: impl FnOnce(&mut Transaction<'_>) -> Done,
) -> Result<Option<ChangeHash>, EditError> {
    let options = CommitOptions::default().with_time(stamp.at_ms / 1000);
    match doc.transact_with(|()| options, edit) {
        Ok(success) => Ok(success.hash),
        Err(failure) => Err(failure.error),
    }
}

fn root(tx: &Transaction<'_>, name: &str) -> Result<ObjId, EditError> {
    match tx.get(ROOT, name)? {
        Some((value, id)) if value.is_object() => Ok(id),
        _ => Err(EditError::Missing(name.to_owned())),
    }
}

pub(super) fn find(tx: &Transaction<'_>, map: &str, id: &str) -> Result<ObjId, EditError> {
    let found = tx.get(root(tx, map)?, id)?;
    found
        .filter(|(value, _)| value.is_object())
        .map(|(_, record)| record)
        .ok_or_else(|| EditError::Missing(format!("{map}/{id}")))
}

fn describe(tx: &mut Transaction<'_>, map: &str, record: &impl Serialize) -> Done {
    let id = root(tx, map)?;
    match to_json(record) {
        Json::Object(fields) => set_fields(tx, &id, &fields),
        _ => Ok(()),
    }
}

/// Adds a record with its place in the order of the map, or sets the fields that differ.
fn add_record(tx: &mut Transaction<'_>, map: &str, id: &str, record: &impl Serialize) -> Done {
    let parent = root(tx, map)?;
    let Json::Object(mut fields) = to_json(record) else {
        return Ok(());
    };
    if let Some((_, present)) = tx.get(&parent, id)? {
        return set_fields(tx, &present, &fields);
    }
    fields.insert("order".to_owned(), json!(tx.length(&parent)));
    Ok(put(tx, &parent, id, &Json::Object(fields))?)
}

fn put_root(tx: &mut Transaction<'_>, name: &str, value: &Json) -> Done {
    match (value, tx.get(ROOT, name)?) {
        (Json::Null, None) => Ok(()),
        (Json::Null, Some(_)) => Ok(tx.delete(ROOT, name)?),
        (value, _) => Ok(put(tx, &ROOT, name, value)?),
    }
}

fn set_field(tx: &mut Transaction<'_>, map: &str, id: &str, field: &str, value: &Json) -> Done {
    let record = find(tx, map, id)?;
    let fields = [(field.to_owned(), value.clone())].into_iter().collect();
    set_fields(tx, &record, &fields)
}

/// Refuses the first thing that cannot be in any job.
pub(super) fn possible(record: &str, faults: impl IntoIterator<Item = Fault>) -> Done {
    match faults.into_iter().next() {
        Some(fault) => Err(EditError::Impossible(record.to_owned(), fault.what)),
        None => Ok(()),
    }
}

fn add_point(tx: &mut Transaction<'_>, id: &PointId, point: &Point) -> Done {
    possible(
        id.as_str(),
        rules::place(point.place_mm, point.place_sigma_mm),
    )?;
    add_record(tx, "points", id.as_str(), point)
}

fn add_tool(tx: &mut Transaction<'_>, id: &str, tool: &Tool) -> Done {
    possible(id, rules::tool(tool))?;
    add_record(tx, "tools", id, tool)
}

/// A sheet may know more points than the book has.
fn pin_sheet(tx: &mut Transaction<'_>, sheet: Option<&Sheet>) -> Done {
    possible("sheet", sheet.map(rules::sheet_alone).unwrap_or_default())?;
    put_root(tx, "sheet", &to_json(&sheet))
}

fn place_point(
    tx: &mut Transaction<'_>,
    id: &PointId,
    place_mm: [f64; 3],
    sigma_mm: Option<f64>,
) -> Done {
    possible(id.as_str(), rules::place(place_mm, sigma_mm))?;
    set_field(tx, "points", id.as_str(), "place_mm", &json!(place_mm))?;
    set_field(
        tx,
        "points",
        id.as_str(),
        "place_sigma_mm",
        &json!(sigma_mm),
    )
}

fn pair_points(tx: &mut Transaction<'_>, left: &PointId, right: &PointId) -> Done {
    for (id, side) in [(left, Side::Left), (right, Side::Right)] {
        let record = find(tx, "points", id.as_str())?;
        let there = tx
            .get(&record, "side")?
            .and_then(|(value, _)| value.as_str().map(str::to_owned));
        if there != to_json(&side).as_str().map(str::to_owned) {
            return Err(EditError::NotAPair(left.to_string(), right.to_string()));
        }
    }
    set_field(tx, "points", left.as_str(), "mirror", &json!(right))?;
    set_field(tx, "points", right.as_str(), "mirror", &json!(left))
}

fn record_reading(tx: &mut Transaction<'_>, reading: &Reading) -> Done {
    let id = reading.id.as_str();
    let readings = root(tx, "readings")?;
    if tx.get(&readings, id)?.is_some() {
        return Err(EditError::Exists(format!("readings/{id}")));
    }
    find(tx, "stages", reading.stage.as_str())?;
    for point in reading.taken.points() {
        find(tx, "points", point.as_str())?;
    }
    if let Taken::Height { setup, .. } | Taken::Offset { setup, .. } | Taken::Split { setup, .. } =
        &reading.taken
    {
        find(tx, "setups", setup.as_str())?;
    }
    if let Some(tool) = &reading.tool {
        find(tx, "tools", tool.as_str())?;
    }
    possible(id, rules::reading_alone(reading))?;
    possible(id, correction(tx, reading)?)?;
    let once = Reading {
        set_aside: None,
        ..reading.clone()
    };
    add_record(tx, "readings", id, &once)
}

/// Why a reading cannot correct the one that it names.
fn correction(tx: &Transaction<'_>, reading: &Reading) -> Result<Option<Fault>, EditError> {
    let Some(id) = &reading.replaces else {
        return Ok(None);
    };
    let replaced = find(tx, "readings", id.as_str())?;
    let stage = text(tx, &replaced, "stage")?.and_then(|stage| StageId::parse(&stage).ok());
    let kind = match tx.get(&replaced, "taken")? {
        Some((_, taken)) => text(tx, &taken, "kind")?,
        None => None,
    };
    let id = id.clone();
    let what = match stage {
        Some(stage) if stage != reading.stage => What::ReplacesOtherStage { id, stage },
        _ if kind.as_deref() != Some(reading.taken.kind()) => What::ReplacesOtherKind {
            id,
            kind: kind.unwrap_or_default(),
        },
        _ => return Ok(None),
    };
    Ok(Some(Fault {
        at: vec![Step::Field("replaces")],
        what,
    }))
}

/// A field that holds a text.
fn text(tx: &Transaction<'_>, map: &ObjId, field: &str) -> Result<Option<String>, EditError> {
    let found = tx.get(map, field)?;
    Ok(found.and_then(|(value, _)| value.as_str().map(str::to_owned)))
}

fn set_aside(
    tx: &mut Transaction<'_>,
    stamp: &Stamp,
    reading: &str,
    why: &str,
    aside: bool,
) -> Done {
    find(tx, "readings", reading)?;
    if why.trim().is_empty() {
        return Err(EditError::NoReason);
    }
    let record =
        json!({ "reading": reading, "why": why, "by": stamp.by, "at": stamp.at, "aside": aside });
    write_once(tx, "asides", &stamp.record, &record)
}

fn write_note(tx: &mut Transaction<'_>, stamp: &Stamp, id: &str, text: &str) -> Done {
    let record = json!({ "text": text, "by": stamp.by, "at": stamp.at });
    write_once(tx, "notes", id, &record)
}

pub(super) fn write_once(tx: &mut Transaction<'_>, map: &str, id: &str, record: &Json) -> Done {
    let parent = root(tx, map)?;
    if tx.get(&parent, id)?.is_some() {
        return Err(EditError::Exists(format!("{map}/{id}")));
    }
    add_record(tx, map, id, record)
}
