//! What a revision says, as one digest, and its copy in a job.
//!
//! The digest is SHA-256 of the canonical JSON of `proof`: lengths in whole nanometres, lists in their
//! order. This file refuses to know how a sheet is stored.

use indexmap::IndexMap;
use serde_json::{Value, json};

use super::sheet::Sheet;
use crate::job::{self, Job};
use crate::proof::{Digest, canonical};

/// Nanometres in a millimetre.
const NM: f64 = 1e6;

/// Digest of everything that a revision says; the same on every machine.
///
/// Lengths that are not numbers or beyond the rules of a sheet count as nothing: check the sheet first.
#[must_use]
pub fn digest(sheet: &Sheet) -> Digest {
    let whole = |value: f64| (value * NM).round() as i64;
    let axes = |values: [f64; 3]| values.map(whole);
    let body = &sheet.body;
    // Lists, since the order of points and members is part of what a sheet says.
    let points: Vec<Value> = sheet
        .points
        .iter()
        .map(|(id, point)| {
            json!({
                "id": id, "label": point.label, "side": point.side, "mirror": point.mirror,
                "target_nm": axes(point.target_mm), "spread_nm": axes(point.spread_mm),
                "tolerance_nm": point.tolerance_mm.map(whole), "asymmetric": point.asymmetric,
                "member": point.member, "cars": point.cars,
            })
        })
        .collect();
    let members: Vec<Value> = sheet
        .members
        .iter()
        .map(|(id, member)| json!({"id": id, "label": member.label, "carried_by": member.carried_by}))
        .collect();
    let content = json!({
        "format": super::FORMAT, "name": sheet.name, "revision": sheet.revision,
        "body": {
            "maker": body.maker, "model": body.model, "years": body.years, "style": body.style,
            "vin": body.vin,
        },
        "tolerance_nm": sheet.tolerance_mm.map(whole), "origin": sheet.origin,
        "members": members, "points": points,
    });
    // Checked lengths are far within ±(2^53 − 1) nanometres; the rest are texts and counts.
    Digest::of(canonical::write(&content).unwrap_or_default().as_bytes())
}

/// A revision as it is pinned into a job.
#[derive(Debug, Clone, PartialEq)]
pub struct Pinned {
    /// The copy for the job, with the digest of the whole revision.
    pub sheet: job::Sheet,
    /// Points of the job that the revision does not know.
    pub unknown: Vec<crate::ids::PointId>,
    /// Points whose targets are looser than the tolerance that judges them along an axis: they could
    /// prove nothing. They are not pinned.
    pub loose: Vec<crate::ids::PointId>,
}

/// Makes the copy for a job: the targets of the points that the job has.
///
/// Each target keeps its spread, and its tolerance: its own, or the sheet's; the job's rule stays for
/// points that have neither. The copy's one spread is the largest that the job's rule would bear: it is
/// also that of pairs which the sheet does not know, and one wide target must not make them unprovable.
#[must_use]
pub fn pinned(sheet: &Sheet, job: &Job) -> Pinned {
    let mut points = IndexMap::new();
    let (mut spreads, mut tolerances) = (IndexMap::new(), IndexMap::new());
    let (mut unknown, mut loose) = (Vec::new(), Vec::new());
    let mut spread_mm = super::rules::LEAST_SPREAD_MM;
    for id in job.points.keys() {
        let Some(point) = sheet.points.get(id) else {
            unknown.push(id.clone());
            continue;
        };
        let own = point.tolerance_mm.or(sheet.tolerance_mm);
        let tolerance = own.unwrap_or(job.settings.tolerance_mm);
        if point.spread_mm.iter().any(|spread| *spread > tolerance) {
            loose.push(id.clone());
            continue;
        }
        points.insert(id.clone(), point.target_mm);
        spreads.insert(id.clone(), point.spread_mm);
        tolerances.extend(own.map(|own| (id.clone(), own)));
        let within = |spread: &f64| *spread <= job.settings.tolerance_mm;
        let usual = point.spread_mm.into_iter().filter(within);
        spread_mm = usual.fold(spread_mm, f64::max);
    }
    // Said once for all where all are alike.
    spreads.retain(|_, own| *own != [spread_mm; 3]);
    let sheet = job::Sheet {
        name: sheet.name.clone(),
        revision: sheet.revision,
        digest: digest(sheet).to_string(),
        spread_mm,
        points,
        spreads,
        tolerances,
    };
    Pinned {
        sheet,
        unknown,
        loose,
    }
}
