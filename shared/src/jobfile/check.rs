//! From the form to a job that holds together, or everything that does not.
//!
//! What belongs to the form alone is asked here and in `readings`; what holds in every job is asked
//! of `job::rules`.

mod readings;

use std::collections::HashSet;

use super::form::{JobForm, PointForm};
use super::{FORMAT, MAX_REFUSALS, Refusal, place};
use crate::ids::StageId;
use crate::job::rules::{self, Fault, Step};
use crate::job::{Card, Impact, Job, Member, Point, Settings, Setup, Sheet, Stage, Tool};
use crate::plain::clip;

/// Longest name of a format that is shown.
const MAX_FORMAT: usize = 40;

pub(super) fn check(form: JobForm) -> Result<Job, Vec<Refusal>> {
    let mut checker = Checker {
        refusals: Vec::new(),
    };
    if form.format != FORMAT {
        let found = clip(&form.format, MAX_FORMAT);
        let says = format!("\"{found}\" is not known here; write \"{FORMAT}\"");
        checker.refuse("format", says);
        return Err(checker.refusals);
    }
    let job = checker.job(form);
    if checker.refusals.is_empty() {
        return Ok(job);
    }
    Err(checker.refusals)
}

struct Checker {
    refusals: Vec<Refusal>,
}

impl Checker {
    fn refuse(&mut self, place: impl Into<String>, says: impl Into<String>) {
        if self.refusals.len() < MAX_REFUSALS {
            self.refusals.push(Refusal::new(place, says));
        }
    }

    fn faults(&mut self, place: &str, faults: Vec<Fault>) {
        for fault in faults {
            self.refuse(place::behind(place, &fault.at), fault.what.to_string());
        }
    }

    fn job(&mut self, form: JobForm) -> Job {
        let mut job = Job {
            card: Card {
                number: form.job.number,
                vehicle: form.job.vehicle,
                vin: form.job.vin,
                impact: form.job.impact.map(|impact| Impact {
                    zone: impact.zone,
                    direction_deg: impact.direction_deg,
                }),
            },
            settings: Settings {
                tolerance_mm: form.tolerance_mm,
                conformity: form.conformity,
                build_spread_mm: form.build_spread_mm,
            },
            points: each(form.points, into_point),
            members: each(form.members, |member| Member {
                label: member.label,
                carried_by: member.carried_by,
            }),
            sheet: form.sheet.map(|sheet| Sheet {
                name: sheet.name,
                revision: sheet.revision,
                digest: sheet.digest,
                spread_mm: sheet.spread_mm,
                points: sheet.points,
                spreads: sheet.spreads,
                tolerances: sheet.tolerances,
            }),
            tools: each(form.tools, |tool| Tool {
                kind: tool.kind,
                label: tool.label,
                sigma_mm: tool.sigma_mm,
                per_m_mm: tool.per_m_mm,
                level_check: tool.level_check,
                plumb_check: tool.plumb_check,
            }),
            setups: each(form.setups, |setup| Setup {
                label: setup.label,
                plumb: setup.plumb,
                tool: setup.tool,
                stands_mm: setup.stands_mm,
            }),
            stages: Vec::new(),
            readings: Vec::new(),
        };
        for stage in form.stages {
            job.stages.push(Stage {
                id: stage.id,
                label: stage.label,
                of: stage.of,
                load: stage.load,
            });
        }
        self.parts(&job);
        let stages = self.stages(&job);
        self.readings(&mut job, form.readings, &stages);
        job
    }

    /// Everything but stages and readings.
    fn parts(&mut self, job: &Job) {
        self.faults("", rules::settings(&job.settings));
        self.faults("job", rules::card(&job.card));
        for (id, point) in &job.points {
            let faults = rules::point(&job.points, &job.members, id, point);
            self.faults(&place::key("points", id.as_str()), faults);
        }
        let of_member = |id: &crate::ids::MemberId| place::key("members", id.as_str());
        for (id, member) in &job.members {
            let faults = rules::carriers(&job.members, id, &member.carried_by);
            self.faults(&of_member(id), faults);
        }
        for (id, fault) in rules::circles(&job.members) {
            self.faults(&of_member(&id), vec![fault]);
        }
        for (id, tool) in &job.tools {
            self.faults(&place::key("tools", id.as_str()), rules::tool(tool));
        }
        for (id, setup) in &job.setups {
            let faults = rules::setup(&job.tools, setup);
            self.faults(&place::key("setups", id.as_str()), faults);
        }
        if let Some(sheet) = &job.sheet {
            self.faults("sheet", rules::sheet(&job.points, sheet));
        }
    }

    fn stages(&mut self, job: &Job) -> HashSet<StageId> {
        let mut stages = HashSet::new();
        for (index, stage) in job.stages.iter().enumerate() {
            if !stages.insert(stage.id.clone()) {
                self.refuse(
                    place::of_steps(&[
                        Step::Field("stages"),
                        Step::Index(index),
                        Step::Field("id"),
                    ]),
                    format!("\"{}\" stands twice; give each stage its own id", stage.id),
                );
            }
        }
        stages
    }
}

fn each<K: std::hash::Hash + Eq, A, B>(
    map: indexmap::IndexMap<K, A>,
    into: impl Fn(A) -> B,
) -> indexmap::IndexMap<K, B> {
    map.into_iter()
        .map(|(key, value)| (key, into(value)))
        .collect()
}

fn into_point(form: PointForm) -> Point {
    Point {
        label: form.label,
        side: form.side,
        mirror: form.mirror,
        place_mm: form.place,
        place_sigma_mm: form.place_sigma_mm,
        trusted: form.trusted,
        member: form.member,
    }
}
