//! From the form to a job that holds together, or everything that does not.

mod readings;

use std::collections::HashSet;

use indexmap::IndexMap;

use super::form::{JobForm, PointForm};
use super::{FORMAT, MAX_POINTS, MAX_READINGS, MAX_REFUSALS, MAX_STAGES, Refusal, place};
use crate::ids::PointId;
use crate::job::{Card, Impact, Job, Member, Point, Settings, Setup, Sheet, Side, Stage, Tool};

/// Longest length, millimetres.
const MAX_MM: f64 = 50_000.0;

pub(super) fn check(form: JobForm) -> Result<Job, Vec<Refusal>> {
    let mut checker = Checker {
        refusals: Vec::new(),
    };
    checker.whole(&form);
    if !checker.refusals.is_empty() {
        return Err(checker.refusals);
    }
    let job = checker.job(form);
    if checker.refusals.is_empty() {
        return Ok(job);
    }
    checker.refusals.truncate(MAX_REFUSALS);
    Err(checker.refusals)
}

struct Checker {
    refusals: Vec<Refusal>,
}

impl Checker {
    fn refuse(&mut self, place: impl Into<String>, says: impl Into<String>) {
        if self.refusals.len() <= MAX_REFUSALS {
            self.refusals.push(Refusal {
                place: place.into(),
                says: says.into(),
            });
        }
    }

    fn whole(&mut self, form: &JobForm) {
        if form.format != FORMAT {
            self.refuse(
                "format",
                format!("\"{}\" is not known here; write \"{FORMAT}\"", form.format),
            );
        }
        for (name, count, most) in [
            ("points", form.points.len(), MAX_POINTS),
            ("stages", form.stages.len(), MAX_STAGES),
            ("readings", form.readings.len(), MAX_READINGS),
        ] {
            if count > most {
                self.refuse(
                    name,
                    format!("{count} are too many; a file may hold {most}"),
                );
            }
        }
    }

    fn length(&mut self, place: &str, value: f64) {
        if !value.is_finite() || value.abs() > MAX_MM {
            self.refuse(
                place,
                format!("{value} is no length here; write millimetres between -50000 and 50000"),
            );
        }
    }

    fn spread(&mut self, place: &str, value: f64) {
        if !value.is_finite() || value <= 0.0 || value > MAX_MM {
            self.refuse(
                place,
                format!("{value} is no spread; write millimetres above 0"),
            );
        }
    }

    fn job(&mut self, form: JobForm) -> Job {
        let settings = Settings {
            tolerance_mm: form.tolerance_mm,
            conformity: form.conformity,
            build_spread_mm: form.build_spread_mm,
        };
        self.spread("tolerance_mm", settings.tolerance_mm);
        self.spread("build_spread_mm", settings.build_spread_mm);
        if !(0.5..1.0).contains(&settings.conformity) {
            self.refuse(
                "conformity",
                format!(
                    "{} is no level; write a probability from 0.5 to below 1, as 0.95",
                    settings.conformity
                ),
            );
        }
        let impact = form.job.impact.map(|impact| {
            if !(-360.0..=360.0).contains(&impact.direction_deg) {
                self.refuse(
                    "job.impact.direction_deg",
                    "write degrees between -360 and 360",
                );
            }
            Impact {
                zone: impact.zone,
                direction_deg: impact.direction_deg,
            }
        });
        let card = Card {
            number: form.job.number,
            vehicle: form.job.vehicle,
            vin: form.job.vin,
            impact,
        };
        for (id, point) in &form.points {
            self.point(&form.points, &form.members, id, point);
        }
        let members: IndexMap<_, _> = form
            .members
            .iter()
            .map(|(id, member)| {
                (
                    id.clone(),
                    Member {
                        label: member.label.clone(),
                        carried_by: member.carried_by.clone(),
                    },
                )
            })
            .collect();
        self.members(&members);
        let mut job = Job {
            card,
            settings,
            members,
            ..Job::default()
        };
        for (id, tool) in form.tools {
            let place = place::key("tools", id.as_str());
            if !tool.sigma_mm.is_finite() || tool.sigma_mm < 0.0 || tool.sigma_mm > MAX_MM {
                self.refuse(
                    place::key(&place, "sigma_mm"),
                    "write millimetres, 0 or more",
                );
            }
            if !tool.per_m_mm.is_finite() || tool.per_m_mm < 0.0 || tool.per_m_mm > 1000.0 {
                self.refuse(
                    place::key(&place, "per_m_mm"),
                    "write millimetres per metre, 0 to 1000",
                );
            }
            job.tools.insert(
                id,
                Tool {
                    kind: tool.kind,
                    label: tool.label,
                    sigma_mm: tool.sigma_mm,
                    per_m_mm: tool.per_m_mm,
                },
            );
        }
        for (id, setup) in form.setups {
            if let Some(tool) = setup
                .tool
                .as_ref()
                .filter(|tool| !job.tools.contains_key(*tool))
            {
                self.refuse(
                    place::key(&place::key("setups", id.as_str()), "tool"),
                    format!("there is no tool \"{tool}\" in tools"),
                );
            }
            job.setups.insert(
                id,
                Setup {
                    label: setup.label,
                    plumb: setup.plumb,
                    tool: setup.tool,
                },
            );
        }
        let mut stages = HashSet::new();
        for (index, stage) in form.stages.into_iter().enumerate() {
            if !stages.insert(stage.id.clone()) {
                self.refuse(
                    place::key(&place::index("stages", index), "id"),
                    format!("\"{}\" stands twice; give each stage its own id", stage.id),
                );
            }
            job.stages.push(Stage {
                id: stage.id,
                label: stage.label,
                of: stage.of,
                load: stage.load,
            });
        }
        job.sheet = form.sheet.map(|sheet| {
            self.spread("sheet.spread_mm", sheet.spread_mm);
            for (id, target) in &sheet.points {
                let place = place::key("sheet.points", id.as_str());
                if !form.points.contains_key(id) {
                    self.refuse(
                        place.clone(),
                        format!("there is no point \"{id}\" in points"),
                    );
                }
                for (axis, value) in target.iter().enumerate() {
                    self.length(&place::index(&place, axis), *value);
                }
            }
            Sheet {
                name: sheet.name,
                revision: sheet.revision,
                spread_mm: sheet.spread_mm,
                points: sheet.points,
            }
        });
        job.points = form
            .points
            .into_iter()
            .map(|(id, point)| (id, into_point(point)))
            .collect();
        self.readings(&mut job, form.readings, &stages);
        job
    }

    fn point(
        &mut self,
        points: &IndexMap<PointId, PointForm>,
        members: &IndexMap<crate::ids::MemberId, super::form::MemberForm>,
        id: &PointId,
        point: &PointForm,
    ) {
        let own = place::key("points", id.as_str());
        for (axis, value) in point.place.iter().enumerate() {
            self.length(&place::index(&place::key(&own, "place"), axis), *value);
        }
        if let Some(sigma) = point.place_sigma_mm {
            self.spread(&place::key(&own, "place_sigma_mm"), sigma);
        }
        if let Some(member) = point
            .member
            .as_ref()
            .filter(|member| !members.contains_key(*member))
        {
            self.refuse(
                place::key(&own, "member"),
                format!("there is no member \"{member}\" in members"),
            );
        }
        let Some(mirror) = &point.mirror else { return };
        let place = place::key(&own, "mirror");
        let Some(other) = points.get(mirror) else {
            self.refuse(place, format!("there is no point \"{mirror}\" in points"));
            return;
        };
        if other.mirror.as_ref() != Some(id) {
            self.refuse(
                place,
                format!(
                    "\"{mirror}\" does not name \"{id}\" as its mirror; a pair names each other"
                ),
            );
        } else if !matches!(
            (point.side, other.side),
            (Side::Left, Side::Right) | (Side::Right, Side::Left)
        ) {
            self.refuse(
                place,
                format!("\"{id}\" and \"{mirror}\" must be one left and one right"),
            );
        }
    }

    fn members(&mut self, members: &IndexMap<crate::ids::MemberId, Member>) {
        for (id, member) in members {
            let place = place::key(&place::key("members", id.as_str()), "carried_by");
            for (index, carrier) in member.carried_by.iter().enumerate() {
                if carrier == id {
                    self.refuse(place::index(&place, index), "a member cannot carry itself");
                } else if !members.contains_key(carrier) {
                    self.refuse(
                        place::index(&place, index),
                        format!("there is no member \"{carrier}\" in members"),
                    );
                }
            }
        }
    }
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
