//! What the book says of a photo: digest, size, what it shows. The file itself is kept elsewhere.
//!
//! A photo's record is written once. A photo may be hidden, by a further record with a reason; both
//! stay. This file refuses to know where files are and how they travel.

use crate::adjust::sorting::sort_by;
use std::collections::{HashMap, HashSet};

use automerge::transaction::Transaction;
use automerge::{Automerge, ObjId, ROOT, ReadDoc, Value};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value as Json, json};

use super::edit::{Done, EditError, find, possible, write_once};
use super::intention::Stamp;
use super::record::{from_scalar, to_json};
use crate::finding::{Finding, FindingCode, Severity};
use crate::ids::{PhotoId, PointId, ReadingId, StageId};
use crate::job::rules::{Fault, What};
use crate::moment::is_moment;

/// Largest file of a photo: a phone's scaled one has a twentieth of it.
pub const MAX_PHOTO_BYTES: u64 = 8 << 20;
/// Longest side of a photo, pixels: what a JPEG can have is 65 535.
pub const MAX_SIDE_PX: u32 = 16_384;
/// Most pixels of a photo: unpacked they are four bytes each.
pub const MAX_PIXELS: u64 = 24_000_000;
/// Longest caption, characters.
pub const MAX_CAPTION: usize = 500;

/// One photo, as the book knows it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Photo {
    /// Identifier, unique in the book.
    pub id: PhotoId,
    /// SHA-256 of the file, 64 lower-case hexadecimal digits.
    pub digest: String,
    /// What kind of file it is.
    pub media: Media,
    /// Size of the file, bytes.
    pub bytes: u64,
    /// Width, pixels.
    pub width_px: u32,
    /// Height, pixels.
    pub height_px: u32,
    /// The stage it was taken in.
    #[serde(default)]
    pub stage: Option<StageId>,
    /// The point it shows.
    #[serde(default)]
    pub point: Option<PointId>,
    /// The reading it belongs to.
    #[serde(default)]
    pub reading: Option<ReadingId>,
    /// A word on what it shows; may be empty.
    #[serde(default)]
    pub caption: String,
    /// Who took it.
    #[serde(default)]
    pub by: String,
    /// When, RFC 3339 text; empty when that cannot be read.
    #[serde(default)]
    pub at: String,
    /// Why it is hidden, if it is. Never in the record itself.
    #[serde(default, skip_serializing)]
    pub struck: Option<Strike>,
}

/// Why a photo is hidden.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Strike {
    /// The reason.
    pub why: String,
    /// Who decided.
    pub by: String,
}

/// Kinds of files that a photo may be: those that every browser and the report can show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Media {
    #[serde(rename = "image/jpeg")]
    Jpeg,
    #[serde(rename = "image/png")]
    Png,
}

impl Media {
    /// Its media type (RFC 2046).
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Jpeg => "image/jpeg",
            Self::Png => "image/png",
        }
    }

    /// Of a media type's name.
    #[must_use]
    pub fn of(name: &str) -> Option<Self> {
        [Self::Jpeg, Self::Png]
            .into_iter()
            .find(|media| media.name() == name)
    }
}

/// What cannot be in the record of any photo.
#[must_use]
pub fn faults(photo: &Photo) -> Vec<Fault> {
    let mut faults = Vec::new();
    if !is_digest(&photo.digest) {
        let what = What::NotADigest(photo.digest.clone());
        faults.push(Fault::field("digest", what));
    }
    if !(1..=MAX_PHOTO_BYTES).contains(&photo.bytes) {
        faults.push(Fault::field("bytes", What::NotAFileSize(photo.bytes)));
    }
    let (wide, high) = (photo.width_px, photo.height_px);
    for (field, side) in [("width_px", wide), ("height_px", high)] {
        if !(1..=MAX_SIDE_PX).contains(&side) {
            faults.push(Fault::field(field, What::NotASide(side)));
        }
    }
    if faults.is_empty() && u64::from(wide) * u64::from(high) > MAX_PIXELS {
        faults.push(Fault::field("width_px", What::NotASide(wide)));
    }
    if photo.caption.chars().count() > MAX_CAPTION {
        faults.push(Fault::field("caption", What::CaptionTooLong));
    }
    if !photo.at.is_empty() && !is_moment(&photo.at) {
        faults.push(Fault::field("at", What::NotAMoment(photo.at.clone())));
    }
    faults
}

fn is_digest(text: &str) -> bool {
    text.len() == 64 && text.bytes().all(|c| matches!(c, b'0'..=b'9' | b'a'..=b'f'))
}

/// Writes the record of a photo.
pub(super) fn add(tx: &mut Transaction<'_>, photo: &Photo) -> Done {
    possible(photo.id.as_str(), faults(photo))?;
    if let Some(stage) = &photo.stage {
        find(tx, "stages", stage.as_str())?;
    }
    if let Some(point) = &photo.point {
        find(tx, "points", point.as_str())?;
    }
    if let Some(reading) = &photo.reading {
        find(tx, "readings", reading.as_str())?;
    }
    write_once(tx, "photos", photo.id.as_str(), &to_json(photo))
}

/// Writes the record that hides a photo.
pub(super) fn strike(tx: &mut Transaction<'_>, stamp: &Stamp, photo: &PhotoId, why: &str) -> Done {
    let there = find(tx, "photos", photo.as_str())?;
    if tx.get(&there, "strikes")?.is_some() {
        return Err(EditError::Missing(format!("photos/{photo}")));
    }
    if why.trim().is_empty() {
        return Err(EditError::NoReason);
    }
    let record = json!({ "strikes": photo, "why": why, "by": stamp.by, "at": stamp.at });
    write_once(tx, "photos", &stamp.record, &record)
}

/// The photos of a book in the order in which they were added, hidden ones included, and what is
/// worth saying about their records. What they name is there: a stage, point or reading that is not
/// in the book is left out of the photo and said.
#[must_use]
pub fn photos(doc: &Automerge) -> (Vec<Photo>, Vec<Finding>) {
    let mut findings = Vec::new();
    let Some((value, root)) = doc.get(ROOT, "photos").ok().flatten() else {
        return (Vec::new(), findings);
    };
    if !value.is_object() {
        return (Vec::new(), findings);
    }
    let mut photos = Vec::new();
    let mut strikes = HashMap::new();
    // A book has few photos: going to each costs less than a walk over all of it.
    for item in doc.map_range(&root, ..) {
        let (key, record) = (item.key.to_string(), record(doc, &item.id()));
        let order = record.get("order").and_then(Json::as_i64);
        if let Some(struck) = record.get("strikes") {
            let struck = struck.as_str().unwrap_or_default().to_owned();
            match serde_json::from_value::<Strike>(record) {
                Ok(strike) => {
                    // Of two the first counts, in the order of their keys; both stay.
                    strikes.entry(struck).or_insert(strike);
                }
                Err(error) => findings.push(unreadable(&key, &error)),
            }
            continue;
        }
        match serde_json::from_value::<Photo>(record) {
            Ok(photo) => photos.push((order.unwrap_or(i64::MAX), key, photo)),
            Err(error) => findings.push(unreadable(&key, &error)),
        }
    }
    if photos.is_empty() {
        return (Vec::new(), findings);
    }
    sort_by(&mut photos, |a, b| {
        (a.0, &a.2.at, &a.1).cmp(&(b.0, &b.2.at, &b.1))
    });
    let known = Known {
        stages: keys(doc, "stages"),
        points: keys(doc, "points"),
        readings: keys(doc, "readings"),
    };
    let photos = photos
        .into_iter()
        .filter_map(|(_, key, mut photo)| {
            photo.id = PhotoId::parse(&key).ok()?;
            photo.struck = strikes.remove(&key);
            mend(&mut photo, &known, &mut findings).then_some(photo)
        })
        .collect();
    (photos, findings)
}

/// The plain fields of a record; one of these has no others.
fn record(doc: &Automerge, record: &ObjId) -> Json {
    let mut fields = Map::new();
    for item in doc.map_range(record, ..) {
        if let Value::Scalar(value) = item.value.clone().into_value() {
            let value = from_scalar(&value);
            if !value.is_null() {
                fields.insert(item.key.to_string(), value);
            }
        }
    }
    Json::Object(fields)
}

/// What records may name.
struct Known {
    stages: HashSet<String>,
    points: HashSet<String>,
    readings: HashSet<String>,
}

fn keys(doc: &Automerge, root: &str) -> HashSet<String> {
    match doc.get(ROOT, root).ok().flatten() {
        Some((_, map)) => doc.keys(map).collect(),
        None => HashSet::new(),
    }
}

/// Empties what may be empty and cannot be as it is; `false` when it is no photo without it.
fn mend(photo: &mut Photo, known: &Known, findings: &mut Vec<Finding>) -> bool {
    let mut sound = true;
    let record = format!("photos/{}", photo.id);
    let mut say = |code, severity, field: &str, value: String| {
        findings.push(Finding {
            code,
            severity,
            subject: format!("{record}/{field}"),
            values: vec![value],
        });
    };
    for fault in faults(photo) {
        let emptied = match fault.name() {
            "at" => {
                photo.at.clear();
                true
            }
            "caption" => {
                photo.caption = crate::plain::clip(&photo.caption, MAX_CAPTION).into_owned();
                true
            }
            _ => false,
        };
        let severity = if emptied {
            Severity::Ask
        } else {
            Severity::Left
        };
        sound &= emptied;
        say(
            fault.what.code(),
            severity,
            fault.name(),
            fault.what.value(),
        );
    }
    let dangling = FindingCode::Dangling;
    if let Some(stage) = photo
        .stage
        .take_if(|id| !known.stages.contains(id.as_str()))
    {
        say(dangling, Severity::Ask, "stage", stage.to_string());
    }
    if let Some(point) = photo
        .point
        .take_if(|id| !known.points.contains(id.as_str()))
    {
        say(dangling, Severity::Ask, "point", point.to_string());
    }
    let readings = &known.readings;
    if let Some(reading) = photo.reading.take_if(|id| !readings.contains(id.as_str())) {
        say(dangling, Severity::Ask, "reading", reading.to_string());
    }
    sound
}

fn unreadable(key: &str, error: &serde_json::Error) -> Finding {
    Finding {
        code: FindingCode::Unreadable,
        severity: Severity::Left,
        subject: format!("photos/{key}"),
        values: vec![error.to_string()],
    }
}

#[cfg(test)]
mod tests;
