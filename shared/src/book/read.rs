//! A document as a car: `(Job, Vec<Finding>)`, whatever the document is.
//!
//! Unknown or broken parts are findings, never failures; the job that comes out holds together: every
//! rule of `job::rules` holds, so that it can be solved and written as a job file. Fields that this
//! program does not know are passed over, and stay in the document.

use crate::adjust::sorting::sort_by;
use std::collections::HashMap;
use std::str::FromStr;

use automerge::{Automerge, ObjId, ObjType, ROOT, ReadDoc, Value};
use indexmap::IndexMap;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value as Json};

use super::mend::mend;
use super::record::{SHEET, conflict, read_map, shown_in};
use super::start::SCHEMA;
use super::tree::Tree;
use crate::finding::{Finding, FindingCode, Severity};
use crate::ids::ReadingId;
use crate::job::{Job, Reading, SetAside, Sheet, Stage};

/// Reads a book.
#[must_use]
pub fn read(doc: &Automerge) -> (Job, Vec<Finding>) {
    let mut reader = Reader {
        tree: Tree::of(doc),
        findings: Vec::new(),
    };
    reader.schema();
    let mut job = Job {
        card: reader.single("job").unwrap_or_default(),
        settings: reader.single("settings").unwrap_or_default(),
        points: reader.keyed("points"),
        members: reader.keyed("members"),
        sheet: reader.sheet(),
        tools: reader.keyed("tools"),
        setups: reader.keyed("setups"),
        stages: reader.listed("stages", |stage: &mut Stage| &mut stage.id),
        readings: reader.listed("readings", |reading: &mut Reading| &mut reading.id),
    };
    let asides = reader.asides();
    for reading in &mut job.readings {
        reading.set_aside = asides.get(&reading.id).cloned();
    }
    mend(&mut job, &mut reader.findings);
    (job, reader.findings)
}

struct Reader<'a> {
    tree: Tree<'a>,
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
            .tree
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

    /// A map of the root; what stands in its place instead is said.
    fn root(&mut self, name: &str) -> Option<ObjId> {
        match self.tree.doc.get(ROOT, name).ok()?? {
            (Value::Object(ObjType::Map), id) => Some(id),
            (other, id) => {
                let value = shown_in(self.tree.doc, &other, &id);
                self.say(FindingCode::Unreadable, Severity::Left, name, value);
                None
            }
        }
    }

    fn map(&mut self, name: &str) -> Map<String, Json> {
        match self.root(name) {
            Some(id) => read_map(&self.tree, &id, name, 0, &mut self.findings),
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

    fn sheet(&mut self) -> Option<Sheet> {
        let mut fields = self.map(SHEET);
        if fields.is_empty() {
            return None;
        }
        let chosen = conflict(self.tree.doc, &ROOT, SHEET, SHEET.to_owned());
        self.findings.extend(chosen);
        fields
            .entry("points")
            .or_insert_with(|| Json::Object(Map::new()));
        self.by_point::<[f64; 3]>(&mut fields, "points");
        self.by_point::<[f64; 3]>(&mut fields, "spreads");
        self.by_point::<f64>(&mut fields, "tolerances");
        self.record("sheet", Json::Object(fields))
    }

    /// One target that cannot be read does not take the others with it.
    fn by_point<T: DeserializeOwned>(&mut self, sheet: &mut Map<String, Json>, name: &str) {
        let place = format!("sheet/{name}");
        let whole = sheet.get(name).filter(|_| name != "points").cloned();
        // A sheet is none without its targets; without these it is.
        if let Some(whole) = whole
            && self.record::<Map<String, Json>>(&place, whole).is_none()
        {
            sheet.remove(name);
        }
        let Some(map) = sheet.get_mut(name).and_then(Json::as_object_mut) else {
            return;
        };
        map.retain(|key, value| {
            let place = format!("sheet/{name}/{key}");
            self.record::<T>(&place, value.clone()).is_some()
                && self.id::<crate::ids::PointId>(&place, key).is_some()
        });
    }

    fn record<T: DeserializeOwned>(&mut self, path: &str, value: Json) -> Option<T> {
        match serde_json::from_value(value) {
            Ok(record) => Some(record),
            Err(error) => {
                self.unreadable(path, &error);
                None
            }
        }
    }

    fn unreadable(&mut self, path: &str, error: &serde_json::Error) {
        self.say(
            FindingCode::Unreadable,
            Severity::Left,
            path,
            error.to_string(),
        );
    }

    /// The records of a map in their order; equal places (two people at once) by time and key.
    fn raw(&mut self, name: &str) -> Vec<(String, Json)> {
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
        sort_by(&mut raw, |a, b| (a.0, &a.1, &a.2).cmp(&(b.0, &b.1, &b.2)));
        raw.into_iter()
            .map(|(_, _, key, value)| (key, value))
            .collect()
    }

    /// The same as what they are; what cannot be read is said and left out.
    fn records<T: DeserializeOwned>(&mut self, name: &str) -> Vec<(String, T)> {
        let mut records = Vec::new();
        for (key, value) in self.raw(name) {
            if let Some(record) = self.record(&format!("{name}/{key}"), value) {
                records.push((key, record));
            }
        }
        records
    }

    fn id<K: FromStr>(&mut self, place: &str, key: &str) -> Option<K> {
        let id = key.parse().ok();
        if id.is_none() {
            self.say(FindingCode::Unreadable, Severity::Left, place, key);
        }
        id
    }

    fn keyed<K: FromStr + std::hash::Hash + Eq, T: DeserializeOwned>(
        &mut self,
        name: &str,
    ) -> IndexMap<K, T> {
        let mut keyed = IndexMap::new();
        for (key, record) in self.records(name) {
            if let Some(id) = self.id(&format!("{name}/{key}"), &key) {
                keyed.insert(id, record);
            }
        }
        keyed
    }

    /// Records that carry their identifier inside too. The key is what others name, so it counts.
    fn listed<K: FromStr + PartialEq + ToString, T: DeserializeOwned>(
        &mut self,
        name: &str,
        inside: impl Fn(&mut T) -> &mut K,
    ) -> Vec<T> {
        let mut list = Vec::new();
        for (key, mut record) in self.records::<T>(name) {
            let Some(id) = self.id::<K>(&format!("{name}/{key}"), &key) else {
                continue;
            };
            let own = std::mem::replace(inside(&mut record), id);
            if own != *inside(&mut record) {
                let place = format!("{name}/{key}/id");
                let other = own.to_string();
                self.say(FindingCode::KeyDiffers, Severity::Ask, place, other);
            }
            list.push(record);
        }
        list
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
}

fn default_list(value: &mut Json, field: &str) {
    if let Some(fields) = value.as_object_mut() {
        fields
            .entry(field)
            .or_insert_with(|| Json::Array(Vec::new()));
    }
}
