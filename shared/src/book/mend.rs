//! What does not hold together in a document, left out of the job and said.
//!
//! The rules are those of `job::rules`. A field that may be empty is emptied, so that its record
//! still counts; a record that cannot be without the field is left out. The document keeps both.

use std::collections::HashSet;

use indexmap::IndexMap;

use crate::finding::{Finding, FindingCode, Severity};
use crate::ids::{MemberId, StageId};
use crate::job::rules::{self, Fault, Step, What};
use crate::job::{Impact, Job, OffsetSide, Plumb, Reading, SetAside, Settings, Taken};

/// Leaves out what does not hold together; afterwards every rule of a job holds.
pub(super) fn mend(job: &mut Job, findings: &mut Vec<Finding>) {
    let mut mender = Mender { findings };
    mender.settings(&mut job.settings);
    for fault in rules::card(&job.card) {
        mender.say(Severity::Ask, "job", &fault);
        job.card.impact = None::<Impact>;
    }
    mender.members(&mut job.members);
    mender.points(job);
    job.tools.retain(|id, tool| {
        let mut sound = true;
        for fault in rules::tool(tool) {
            // A check that cannot be is no reason to lose the tool, nor its time to lose the check.
            let check = match fault.name() {
                "level_check" => Some(&mut tool.level_check),
                "plumb_check" => Some(&mut tool.plumb_check),
                _ => None,
            };
            let severity = if check.is_some() {
                Severity::Ask
            } else {
                Severity::Left
            };
            sound &= check.is_some();
            match check {
                Some(Some(made)) if matches!(fault.what, What::NotAMoment(_)) => made.at.clear(),
                Some(check) => *check = None,
                None => {}
            }
            mender.say(severity, &format!("tools/{id}"), &fault);
        }
        sound
    });
    for (id, setup) in &mut job.setups {
        for fault in rules::setup(&job.tools, setup) {
            mender.say(Severity::Ask, &format!("setups/{id}"), &fault);
            match fault.name() {
                "stands_mm" => setup.stands_mm = None,
                _ => setup.tool = None,
            }
        }
    }
    mender.sheet(job);
    mender.beams(job);
    mender.readings(job);
}

struct Mender<'a> {
    findings: &'a mut Vec<Finding>,
}

impl Mender<'_> {
    fn say(&mut self, severity: Severity, record: &str, fault: &Fault) {
        let mut subject = record.to_owned();
        for step in &fault.at {
            subject.push('/');
            match step {
                Step::Field(name) => subject.push_str(name),
                Step::Key(key) => subject.push_str(key),
                Step::Index(index) => subject.push_str(&index.to_string()),
            }
        }
        self.findings.push(Finding {
            code: fault.what.code(),
            severity,
            subject,
            values: vec![fault.what.value()],
        });
    }

    fn all(&mut self, severity: Severity, record: &str, faults: &[Fault]) {
        for fault in faults {
            self.say(severity, record, fault);
        }
    }

    fn settings(&mut self, settings: &mut Settings) {
        let usual = Settings::default();
        for fault in rules::settings(settings) {
            self.say(Severity::Ask, "settings", &fault);
            match fault.name() {
                "tolerance_mm" => settings.tolerance_mm = usual.tolerance_mm,
                "build_spread_mm" => settings.build_spread_mm = usual.build_spread_mm,
                _ => settings.conformity = usual.conformity,
            }
        }
    }

    fn members(&mut self, members: &mut IndexMap<MemberId, crate::job::Member>) {
        let mut faults: Vec<(MemberId, Fault)> = Vec::new();
        for (id, member) in members.iter() {
            let own = rules::carriers(members, id, &member.carried_by);
            faults.extend(own.into_iter().map(|fault| (id.clone(), fault)));
        }
        faults.extend(rules::circles(members));
        let mut out: HashSet<(MemberId, usize)> = HashSet::new();
        for (id, fault) in faults {
            self.say(Severity::Ask, &format!("members/{id}"), &fault);
            if let Some(Step::Index(index)) = fault.at.last() {
                out.insert((id, *index));
            }
        }
        for (id, member) in members {
            let mut index = 0;
            member.carried_by.retain(|_| {
                let keep = !out.contains(&(id.clone(), index));
                index += 1;
                keep
            });
        }
    }

    fn points(&mut self, job: &mut Job) {
        job.points.retain(|id, point| {
            let faults = rules::place(point.place_mm, None);
            self.all(Severity::Left, &format!("points/{id}"), &faults);
            faults.is_empty()
        });
        let faults: Vec<_> = job
            .points
            .iter()
            .flat_map(|(id, point)| {
                let faults = rules::point(&job.points, &job.members, id, point);
                faults.into_iter().map(|fault| (id.clone(), fault))
            })
            .collect();
        for (id, fault) in faults {
            self.say(Severity::Ask, &format!("points/{id}"), &fault);
            let Some(point) = job.points.get_mut(&id) else {
                continue;
            };
            match fault.name() {
                "place_sigma_mm" => point.place_sigma_mm = None,
                "member" => point.member = None,
                _ => point.mirror = None,
            }
        }
    }

    /// A sheet may know more points than the car has; its other targets wait in the document.
    fn sheet(&mut self, job: &mut Job) {
        let Some(sheet) = &mut job.sheet else { return };
        let faults = rules::sheet(&job.points, sheet);
        let mut unused = Vec::new();
        for fault in &faults {
            match &fault.at[..] {
                [Step::Field("points"), Step::Key(key)] => unused.push(key.clone()),
                _ => self.say(Severity::Left, "sheet", fault),
            }
            if let [Step::Field(map), Step::Key(key), ..] = &fault.at[..] {
                match *map {
                    "points" => drop(sheet.points.shift_remove(key.as_str())),
                    "spreads" => drop(sheet.spreads.shift_remove(key.as_str())),
                    _ => drop(sheet.tolerances.shift_remove(key.as_str())),
                }
            }
        }
        let points = &sheet.points;
        sheet.spreads.retain(|id, _| points.contains_key(id));
        sheet.tolerances.retain(|id, _| points.contains_key(id));
        if faults.iter().any(|fault| fault.name() == "digest") {
            sheet.digest.clear();
        }
        if faults.iter().any(|fault| fault.name() == "spread_mm") {
            job.sheet = None;
        }
        if !unused.is_empty() {
            self.findings.push(Finding {
                code: FindingCode::Dangling,
                severity: Severity::Note,
                subject: "sheet/points".to_owned(),
                values: unused,
            });
        }
    }

    /// Somebody read from a plumb beam that its set-up does not name: it has one, as it was read.
    fn beams(&mut self, job: &mut Job) {
        for reading in &job.readings {
            let (setup, plumb) = match &reading.taken {
                Taken::Offset { setup, side, .. } => (setup, run(*side)),
                Taken::Split { setup, .. } => (setup, Plumb::Lengthwise),
                _ => continue,
            };
            if let Some(known) = job.setups.get_mut(setup)
                && known.plumb.is_none()
            {
                known.plumb = Some(plumb);
                let fault = Fault::field("plumb", What::NoPlumbBeam(setup.clone()));
                self.say(Severity::Ask, &format!("setups/{setup}"), &fault);
            }
        }
    }

    fn readings(&mut self, job: &mut Job) {
        let stages: HashSet<StageId> = job.stages.iter().map(|stage| stage.id.clone()).collect();
        for mut reading in std::mem::take(&mut job.readings) {
            let faults = rules::reading(job, &stages, &reading);
            let mut sound = true;
            for fault in &faults {
                let emptied = empty(&mut reading, fault);
                let severity = if emptied {
                    Severity::Ask
                } else {
                    Severity::Left
                };
                self.say(severity, &format!("readings/{}", reading.id), fault);
                sound &= emptied;
            }
            if sound {
                job.readings.push(reading);
            }
        }
        for (index, fault) in rules::corrections(&job.readings) {
            let reading = &mut job.readings[index];
            reading.replaces = None;
            let record = format!("readings/{}", reading.id);
            self.say(Severity::Ask, &record, &fault);
        }
        for (corrected, by) in job.corrected_twice() {
            self.findings.push(Finding {
                code: FindingCode::CorrectedTwice,
                severity: Severity::Ask,
                subject: format!("readings/{}", corrected.id),
                values: by.iter().map(|reading| reading.id.to_string()).collect(),
            });
        }
    }
}

/// How a beam runs that has this side.
pub(super) fn run(side: OffsetSide) -> Plumb {
    match side {
        OffsetSide::Right | OffsetSide::Left => Plumb::Lengthwise,
        OffsetSide::Rear | OffsetSide::Front => Plumb::Crosswise,
    }
}

/// Empties the field that cannot be as it is; `false` when a reading is none without it.
fn empty(reading: &mut Reading, fault: &Fault) -> bool {
    match fault.name() {
        "tool" => reading.tool = None,
        "sigma_mm" => reading.sigma_mm = None,
        "at" => reading.at.clear(),
        // Setting aside is a decision with a reason; without one it is none.
        "set_aside" => reading.set_aside = None::<SetAside>,
        "origin_mm" if matches!(fault.what, What::OriginOfAFix) => reading.origin_mm = 0.0,
        _ => return false,
    }
    true
}
