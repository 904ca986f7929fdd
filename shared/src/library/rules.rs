//! What holds in every sheet, each rule once, with the place of what breaks it and the remedy.
//!
//! Millimetres. What a sheet has in common with a job is asked of `job::rules`.

use std::collections::HashSet;

use indexmap::IndexMap;

use super::sheet::{Point, Sheet};
use super::{MAX_MEMBERS, MAX_POINTS, MAX_TEXT};
use crate::ids::{MemberId, PointId};
use crate::job::{self, Side, rules};
use crate::jobfile::{MAX_REFUSALS, Refusal, place};
use crate::moment::is_moment;

/// Smallest spread of a target: nobody builds or measures a body better than this.
pub(super) const LEAST_SPREAD_MM: f64 = 0.001;
/// A pair whose sides differ by more is designed so, or somebody slipped (common practice: new bodies
/// differ side to side by one or two millimetres; this is five times that).
pub(super) const MOST_GAP_MM: f64 = 10.0;
/// Model years that can be meant.
const YEARS: std::ops::RangeInclusive<u16> = 1900..=2200;

/// Everything that cannot be in a sheet, at most [`MAX_REFUSALS`] of it. Lengths are taken to the
/// nanometre first ([`Sheet::rounded`]).
#[must_use]
pub fn check(sheet: &Sheet) -> Vec<Refusal> {
    let mut checker = Checker(Vec::new());
    checker.head(sheet);
    checker.members(sheet);
    checker.points(sheet);
    checker.0
}

struct Checker(Vec<Refusal>);

impl Checker {
    fn refuse(&mut self, place: impl Into<String>, says: impl Into<String>) {
        if self.0.len() < MAX_REFUSALS {
            self.0.push(Refusal::new(place, says));
        }
    }

    fn text(&mut self, place: &str, text: &str) {
        if let Some(says) = text_fault(text) {
            self.refuse(place, says);
        }
    }

    fn spread(&mut self, place: &str, value: f64) {
        if !(LEAST_SPREAD_MM..=rules::MAX_SPREAD_MM).contains(&value) {
            let most = rules::MAX_SPREAD_MM;
            self.refuse(
                place,
                format!("{value} is no spread; write millimetres from {LEAST_SPREAD_MM} to {most}"),
            );
        }
    }

    fn tolerance(&mut self, place: &str, value: Option<f64>) {
        let most = rules::MAX_SPREAD_MM;
        if let Some(value) = value.filter(|value| !(*value > 0.0 && *value <= most)) {
            self.refuse(
                place,
                format!("{value} is no tolerance; write millimetres above 0, at most {most}"),
            );
        }
    }

    fn head(&mut self, sheet: &Sheet) {
        if sheet.name.is_empty() {
            self.refuse("name", "a sheet needs a name; write what the shop calls it");
        }
        self.text("name", &sheet.name);
        if sheet.revision == 0 {
            self.refuse("revision", "revisions count from 1; write 1 for the first");
        }
        let (body, origin) = (&sheet.body, &sheet.origin);
        for (place, text) in [
            ("body.maker", &body.maker),
            ("body.model", &body.model),
            ("body.style", &body.style),
            ("origin.source", &origin.source),
            ("origin.by", &origin.by),
        ] {
            self.text(place, text);
        }
        if body.model.is_empty() && body.vin.is_none() {
            self.refuse(
                "body",
                "says neither a model nor a VIN pattern; write one, so that the sheet can be found",
            );
        }
        if let Some(years) = body.years {
            if !YEARS.contains(&years.from) || !YEARS.contains(&years.to) {
                let (from, to) = (YEARS.start(), YEARS.end());
                self.refuse(
                    "body.years",
                    format!("write model years between {from} and {to}"),
                );
            } else if years.from > years.to {
                self.refuse(
                    "body.years",
                    format!(
                        "{} comes after {}; write the first year first",
                        years.from, years.to
                    ),
                );
            }
        }
        self.tolerance("tolerance_mm", sheet.tolerance_mm);
        if !origin.at.is_empty() && !is_moment(&origin.at) {
            self.refuse(
                "origin.at",
                format!(
                    "\"{}\" is no time; write 2026-03-02T09:14:00Z, or nothing",
                    crate::plain::clip(&origin.at, 40)
                ),
            );
        }
    }

    fn members(&mut self, sheet: &Sheet) {
        if sheet.members.len() > MAX_MEMBERS {
            self.refuse("members", format!("a sheet may hold {MAX_MEMBERS}"));
        }
        let members = of_job(sheet);
        let at = |id: &MemberId| place::key("members", id.as_str());
        for (id, member) in &sheet.members {
            self.text(&format!("{}.label", at(id)), &member.label);
            for fault in rules::carriers(&members, id, &member.carried_by) {
                self.refuse(place::behind(&at(id), &fault.at), fault.what.to_string());
            }
            let mut seen = HashSet::new();
            if let Some(twice) = member.carried_by.iter().find(|one| !seen.insert(*one)) {
                self.refuse(
                    format!("{}.carried_by", at(id)),
                    format!("\"{twice}\" stands twice; keep one"),
                );
            }
        }
        for (id, fault) in rules::circles(&members) {
            self.refuse(place::behind(&at(&id), &fault.at), fault.what.to_string());
        }
    }

    fn points(&mut self, sheet: &Sheet) {
        if sheet.points.is_empty() {
            self.refuse("points", "no point is here; a sheet has at least one");
        }
        if sheet.points.len() > MAX_POINTS {
            self.refuse("points", format!("a sheet may hold {MAX_POINTS}"));
        }
        let (members, points) = (of_job(sheet), points_of_job(sheet));
        for (id, point) in &sheet.points {
            let at = place::key("points", id.as_str());
            self.text(&format!("{at}.label"), &point.label);
            let of_job = &points[id];
            for fault in rules::point(&points, &members, id, of_job) {
                let place = place::behind(&at, &fault.at).replace(".place[", ".target_mm[");
                self.refuse(place, fault.what.to_string());
            }
            for (axis, spread) in point.spread_mm.into_iter().enumerate() {
                self.spread(&format!("{at}.spread_mm[{axis}]"), spread);
            }
            self.tolerance(&format!("{at}.tolerance_mm"), point.tolerance_mm);
            if point.side == Side::Left {
                self.pair(sheet, &at, point);
            }
        }
    }

    fn pair(&mut self, sheet: &Sheet, at: &str, left: &Point) {
        let Some(right) = left.mirror.as_ref().and_then(|id| sheet.points.get(id)) else {
            return;
        };
        if left.asymmetric != right.asymmetric {
            self.refuse(
                format!("{at}.asymmetric"),
                "its mirror says otherwise; a pair is asymmetric as a whole, say it on both",
            );
        } else if !left.asymmetric {
            let gap = super::sheet::gap(left.target_mm, right.target_mm);
            for (axis, name) in ["x", "y", "z"].into_iter().enumerate() {
                if gap[axis].abs() > MOST_GAP_MM {
                    self.refuse(
                        format!("{at}.target_mm[{axis}]"),
                        format!(
                            "its mirror is {:.1} mm from where symmetry has it along {name}; correct one of them, or mark both asymmetric if it is designed so",
                            gap[axis].abs()
                        ),
                    );
                }
            }
        }
    }
}

/// Why a text cannot stand in a sheet.
pub(super) fn text_fault(text: &str) -> Option<String> {
    if text.chars().count() > MAX_TEXT {
        return Some(format!("longer than {MAX_TEXT} characters; write less"));
    }
    if text.chars().any(char::is_control) {
        return Some("line ends, tabs or control characters are in it; write one line".into());
    }
    (text.trim() != text).then(|| "spaces stand around it; leave them out".into())
}

/// The members as a job has them.
pub(super) fn of_job(sheet: &Sheet) -> IndexMap<MemberId, job::Member> {
    let member = |(id, member): (&MemberId, &super::Member)| {
        let member = job::Member {
            label: member.label.clone(),
            carried_by: member.carried_by.clone(),
        };
        (id.clone(), member)
    };
    sheet.members.iter().map(member).collect()
}

/// The points as a job has them, at their targets.
pub(super) fn points_of_job(sheet: &Sheet) -> IndexMap<PointId, job::Point> {
    let point = |(id, point): (&PointId, &Point)| {
        let point = job::Point {
            label: point.label.clone(),
            side: point.side,
            mirror: point.mirror.clone(),
            place_mm: point.target_mm,
            place_sigma_mm: None,
            trusted: false,
            member: point.member.clone(),
        };
        (id.clone(), point)
    };
    sheet.points.iter().map(point).collect()
}
