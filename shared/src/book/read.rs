//! A document as a car: `(Job, Vec<Finding>)`, whatever the document is.
//!
//! Unknown or broken parts are findings, never failures; the job that comes out holds together:
//! every reference resolves, pairs are mutual, numbers are finite and bounded.

use std::collections::{HashMap, HashSet};

use automerge::{Automerge, ObjId, ObjType, ROOT, ReadDoc, Value};
use indexmap::IndexMap;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value as Json};

use super::edit::MAX_LENGTH_MM;
use super::record::read_map;
use super::start::SCHEMA;
use crate::finding::{Finding, FindingCode, Severity};
use crate::ids::{PointId, ReadingId};
use crate::job::{Job, Reading, SetAside, Settings, Side, Stage, Taken};

/// Reads a book.
#[must_use]
pub fn read(doc: &Automerge) -> (Job, Vec<Finding>) {
    let mut reader = Reader {
        doc,
        findings: Vec::new(),
    };
    reader.schema();
    let mut job = Job {
        card: reader.single("job").unwrap_or_default(),
        settings: reader.settings(),
        points: reader.keyed("points"),
        members: reader.keyed("members"),
        sheet: reader.sheet(),
        tools: reader.keyed("tools"),
        setups: reader.keyed("setups"),
        stages: reader
            .records::<Stage>("stages")
            .into_iter()
            .map(|(_, stage)| stage)
            .collect(),
        readings: reader
            .records::<Reading>("readings")
            .into_iter()
            .map(|(_, reading)| reading)
            .collect(),
    };
    let asides = reader.asides();
    for reading in &mut job.readings {
        reading.set_aside = asides.get(&reading.id).cloned();
    }
    reader.mend(&mut job);
    (job, reader.findings)
}

struct Reader<'a> {
    doc: &'a Automerge,
    findings: Vec<Finding>,
}

impl Reader<'_> {
    fn say(
        &mut self,
        code: FindingCode,
        severity: Severity,
        subject: impl Into<String>,
        value: impl Into<String>,
    ) {
        self.findings.push(Finding {
            code,
            severity,
            subject: subject.into(),
            values: vec![value.into()],
        });
    }

    fn schema(&mut self) {
        match self
            .doc
            .get(ROOT, "schema")
            .ok()
            .flatten()
            .and_then(|(value, _)| value.as_i64())
        {
            Some(version) if version > SCHEMA => {
                self.say(
                    FindingCode::NewerSchema,
                    Severity::Note,
                    "schema",
                    version.to_string(),
                );
            }
            Some(_) => {}
            None => self.say(FindingCode::NotABook, Severity::Left, "schema", ""),
        }
    }

    fn root(&self, name: &str) -> Option<ObjId> {
        match self.doc.get(ROOT, name).ok()?? {
            (Value::Object(ObjType::Map), id) => Some(id),
            _ => None,
        }
    }

    fn map(&mut self, name: &str) -> Map<String, Json> {
        match self.root(name) {
            Some(id) => read_map(self.doc, &id, name, 0, &mut self.findings),
            None => Map::new(),
        }
    }

    fn single<T: DeserializeOwned>(&mut self, name: &str) -> Option<T> {
        let mut fields = self.map(name);
        if fields.is_empty() {
            return None;
        }
        if name == "job" {
            for text in ["number", "vehicle"] {
                fields
                    .entry(text)
                    .or_insert_with(|| Json::String(String::new()));
            }
        }
        self.record(name, Json::Object(fields))
    }

    fn settings(&mut self) -> Settings {
        let settings: Settings = self.single("settings").unwrap_or_default();
        let sound = settings.tolerance_mm > 0.0
            && settings.tolerance_mm <= MAX_LENGTH_MM
            && (0.5..1.0).contains(&settings.conformity)
            && settings.build_spread_mm > 0.0
            && settings.build_spread_mm <= MAX_LENGTH_MM;
        if sound {
            return settings;
        }
        self.say(FindingCode::OutOfBounds, Severity::Left, "settings", "");
        Settings::default()
    }

    fn sheet(&mut self) -> Option<crate::job::Sheet> {
        let mut fields = self.map("sheet");
        if fields.is_empty() {
            return None;
        }
        fields
            .entry("points")
            .or_insert_with(|| Json::Object(Map::new()));
        self.record("sheet", Json::Object(fields))
    }

    /// One record; what cannot be read stays in the document and is said.
    fn record<T: DeserializeOwned>(&mut self, path: &str, value: Json) -> Option<T> {
        match serde_json::from_value(value) {
            Ok(record) => Some(record),
            Err(error) => {
                self.say(
                    FindingCode::Unreadable,
                    Severity::Left,
                    path,
                    error.to_string(),
                );
                None
            }
        }
    }

    /// The records of a map in their order; equal places (two people at once) by time and key.
    fn records<T: DeserializeOwned>(&mut self, name: &str) -> Vec<(String, T)> {
        let mut raw: Vec<(i64, String, String, Json)> = self
            .map(name)
            .into_iter()
            .map(|(key, mut value)| {
                let order = value
                    .get("order")
                    .and_then(Json::as_i64)
                    .unwrap_or(i64::MAX);
                let at = value
                    .get("at")
                    .and_then(Json::as_str)
                    .unwrap_or_default()
                    .to_owned();
                if name == "members" {
                    default_list(&mut value, "carried_by");
                }
                (order, at, key, value)
            })
            .collect();
        raw.sort_by(|a, b| (a.0, &a.1, &a.2).cmp(&(b.0, &b.1, &b.2)));
        raw.into_iter()
            .filter_map(|(_, _, key, value)| {
                let record = self.record(&format!("{name}/{key}"), value)?;
                Some((key, record))
            })
            .collect()
    }

    fn keyed<K: std::str::FromStr + std::hash::Hash + Eq, T: DeserializeOwned>(
        &mut self,
        name: &str,
    ) -> IndexMap<K, T> {
        let mut keyed = IndexMap::new();
        for (key, record) in self.records(name) {
            match key.parse() {
                Ok(id) => {
                    keyed.insert(id, record);
                }
                Err(_) => self.say(
                    FindingCode::Unreadable,
                    Severity::Left,
                    format!("{name}/{key}"),
                    "identifier",
                ),
            }
        }
        keyed
    }

    /// Which readings are aside: the last word on each counts.
    fn asides(&mut self) -> HashMap<ReadingId, SetAside> {
        #[derive(serde::Deserialize)]
        struct Aside {
            reading: ReadingId,
            why: String,
            by: String,
            aside: bool,
        }
        let mut last: HashMap<ReadingId, SetAside> = HashMap::new();
        for (
            _,
            Aside {
                reading,
                why,
                by,
                aside,
            },
        ) in self.records::<Aside>("asides")
        {
            if aside {
                last.insert(reading, SetAside { why, by });
            } else {
                last.remove(&reading);
            }
        }
        last
    }

    /// Leaves out what does not hold together, and says so.
    fn mend(&mut self, job: &mut Job) {
        let bad: Vec<PointId> = job
            .points
            .iter()
            .filter(|(_, point)| {
                !bounded(&point.place_mm) || !bounded(point.place_sigma_mm.as_slice())
            })
            .map(|(id, _)| id.clone())
            .collect();
        for id in bad {
            self.say(
                FindingCode::OutOfBounds,
                Severity::Left,
                format!("points/{id}"),
                "",
            );
            job.points.shift_remove(&id);
        }
        self.mend_pairs(job);
        let members: HashSet<_> = job.members.keys().cloned().collect();
        for point in job.points.values_mut() {
            point.member = point
                .member
                .take()
                .filter(|member| members.contains(member));
        }
        for member in job.members.values_mut() {
            member
                .carried_by
                .retain(|carrier| members.contains(carrier));
        }
        let mut stages = HashSet::new();
        job.stages.retain(|stage| stages.insert(stage.id.clone()));
        let readings = std::mem::take(&mut job.readings);
        for reading in readings {
            match hole(job, &stages, &reading) {
                None => job.readings.push(reading),
                Some((code, what)) => self.say(
                    code,
                    Severity::Left,
                    format!("readings/{}", reading.id),
                    what,
                ),
            }
        }
    }

    fn mend_pairs(&mut self, job: &mut Job) {
        let broken: Vec<PointId> = job
            .points
            .iter()
            .filter(|(id, point)| {
                point.mirror.as_ref().is_some_and(|mirror| {
                    let other = job.points.get(mirror);
                    !other.is_some_and(|other| {
                        let opposite = matches!(
                            (point.side, other.side),
                            (Side::Left, Side::Right) | (Side::Right, Side::Left)
                        );
                        opposite && other.mirror.as_ref() == Some(id)
                    })
                })
            })
            .map(|(id, _)| id.clone())
            .collect();
        for id in broken {
            if let Some(point) = job.points.get_mut(&id) {
                point.mirror = None;
            }
            self.say(
                FindingCode::NotAPair,
                Severity::Ask,
                format!("points/{id}/mirror"),
                "",
            );
        }
    }
}

fn default_list(value: &mut Json, field: &str) {
    if let Some(fields) = value.as_object_mut() {
        fields
            .entry(field)
            .or_insert_with(|| Json::Array(Vec::new()));
    }
}

fn bounded(values: &[f64]) -> bool {
    values
        .iter()
        .all(|value| value.is_finite() && value.abs() <= MAX_LENGTH_MM)
}

/// What keeps a reading from being used, if anything.
fn hole(
    job: &Job,
    stages: &HashSet<crate::ids::StageId>,
    reading: &Reading,
) -> Option<(FindingCode, String)> {
    if !stages.contains(&reading.stage) {
        return Some((FindingCode::Dangling, reading.stage.to_string()));
    }
    if let Some(point) = reading
        .taken
        .points()
        .find(|point| !job.points.contains_key(*point))
    {
        return Some((FindingCode::Dangling, point.to_string()));
    }
    let (setup, values): (_, &[f64]) = match &reading.taken {
        Taken::Height {
            setup, value_mm, ..
        }
        | Taken::Offset {
            setup, value_mm, ..
        }
        | Taken::Split {
            setup, value_mm, ..
        } => (Some(setup), std::slice::from_ref(value_mm)),
        Taken::Span { value_mm, .. } | Taken::DatumSpan { value_mm, .. } => {
            (None, std::slice::from_ref(value_mm))
        }
        Taken::Fix { xyz_mm, .. } => (None, xyz_mm),
    };
    if let Some(setup) = setup.filter(|setup| !job.setups.contains_key(*setup)) {
        return Some((FindingCode::Dangling, setup.to_string()));
    }
    let own = [reading.origin_mm, reading.sigma_mm.unwrap_or(0.0)];
    (!bounded(values) || !bounded(&own)).then(|| (FindingCode::OutOfBounds, String::new()))
}
