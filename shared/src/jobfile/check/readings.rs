//! Readings of the form: every key of the kind, every reference, no number out of bounds.

use std::collections::{HashMap, HashSet};

use super::Checker;
use crate::ids::{ReadingId, StageId};
use crate::job::{Job, OffsetSide, Plumb, Reading, Taken};
use crate::jobfile::form::{KindForm, ReadingForm};
use crate::jobfile::place;

impl Checker {
    pub(super) fn readings(
        &mut self,
        job: &mut Job,
        forms: Vec<ReadingForm>,
        stages: &HashSet<StageId>,
    ) {
        let known: HashMap<ReadingId, usize> = forms
            .iter()
            .enumerate()
            .map(|(i, form)| (form.id.clone(), i))
            .collect();
        let mut seen = HashSet::new();
        for (index, form) in forms.into_iter().enumerate() {
            let own = place::index("readings", index);
            if !seen.insert(form.id.clone()) {
                self.refuse(
                    place::key(&own, "id"),
                    format!("\"{}\" stands twice; give each reading its own id", form.id),
                );
            }
            if !stages.contains(&form.stage) {
                self.refuse(
                    place::key(&own, "stage"),
                    format!("there is no stage \"{}\" in stages", form.stage),
                );
            }
            if let Some(tool) = form
                .tool
                .as_ref()
                .filter(|tool| !job.tools.contains_key(*tool))
            {
                self.refuse(
                    place::key(&own, "tool"),
                    format!("there is no tool \"{tool}\" in tools"),
                );
            }
            if let Some(sigma) = form.sigma_mm {
                self.spread(&place::key(&own, "sigma_mm"), sigma);
            }
            self.length(&place::key(&own, "origin_mm"), form.origin_mm);
            match form.replaces.as_ref().map(|id| (id, known.get(id))) {
                Some((id, None)) => self.refuse(
                    place::key(&own, "replaces"),
                    format!("there is no reading \"{id}\""),
                ),
                // An earlier reading only: so that no two replace each other.
                Some((id, Some(&at))) if at >= index => {
                    self.refuse(
                        place::key(&own, "replaces"),
                        format!("\"{id}\" must stand before the reading that replaces it"),
                    );
                }
                _ => {}
            }
            if let Some(taken) = self.taken(job, &form, &own) {
                job.readings.push(Reading {
                    id: form.id,
                    stage: form.stage,
                    taken,
                    sigma_mm: form.sigma_mm,
                    tool: form.tool,
                    origin_mm: form.origin_mm,
                    by: form.by,
                    at: form.at,
                    entered: form.entered,
                    note: form.note,
                    set_aside: form.set_aside,
                    replaces: form.replaces,
                });
            }
        }
    }

    /// What was read; every key that the kind does not know is refused.
    fn taken(&mut self, job: &Job, form: &ReadingForm, own: &str) -> Option<Taken> {
        let keys: &[&str] = match form.kind {
            KindForm::Height => &["setup", "point", "beam", "value_mm"],
            KindForm::Offset => &["setup", "point", "side", "value_mm"],
            KindForm::Split => &["setup", "from", "to", "value_mm"],
            KindForm::Span | KindForm::DatumSpan => &["from", "to", "value_mm"],
            KindForm::Fix => &["frame", "point", "xyz_mm"],
        };
        let kind = serde_json::to_value(form.kind).ok()?;
        let kind = kind.as_str().unwrap_or_default();
        for (key, there) in [
            ("setup", form.setup.is_some()),
            ("frame", form.frame.is_some()),
            ("point", form.point.is_some()),
            ("from", form.from.is_some()),
            ("to", form.to.is_some()),
            ("beam", form.beam.is_some()),
            ("side", form.side.is_some()),
            ("value_mm", form.value_mm.is_some()),
            ("xyz_mm", form.xyz_mm.is_some()),
        ] {
            match (keys.contains(&key), there) {
                (true, false) => self.refuse(
                    place::key(own, key),
                    format!("a {kind} needs {}", keys.join(", ")),
                ),
                (false, true) => self.refuse(
                    place::key(own, key),
                    format!("a {kind} has no {key}; it has {}", keys.join(", ")),
                ),
                _ => {}
            }
        }
        for (key, id) in [
            ("point", &form.point),
            ("from", &form.from),
            ("to", &form.to),
        ] {
            if let Some(id) = id.as_ref().filter(|id| !job.points.contains_key(*id)) {
                self.refuse(
                    place::key(own, key),
                    format!("there is no point \"{id}\" in points"),
                );
            }
        }
        if form.from.is_some() && form.from == form.to {
            self.refuse(place::key(own, "to"), "a tape needs two different points");
        }
        if let Some(value) = form.value_mm {
            self.length(&place::key(own, "value_mm"), value);
        }
        for (axis, value) in form.xyz_mm.iter().flatten().enumerate() {
            self.length(&place::index(&place::key(own, "xyz_mm"), axis), *value);
        }
        self.beams(job, form, own);
        into_taken(form)
    }

    fn beams(&mut self, job: &Job, form: &ReadingForm, own: &str) {
        let Some(id) = &form.setup else { return };
        let Some(setup) = job.setups.get(id) else {
            self.refuse(
                place::key(own, "setup"),
                format!("there is no set-up \"{id}\" in setups"),
            );
            return;
        };
        if !matches!(form.kind, KindForm::Offset | KindForm::Split) {
            return;
        }
        let right = match (setup.plumb, form.side) {
            (None, _) => {
                self.refuse(place::key(own, "setup"), format!("\"{id}\" has no plumb beam; give it \"plumb\": \"lengthwise\" or \"crosswise\""));
                return;
            }
            (Some(Plumb::Lengthwise), Some(OffsetSide::Rear | OffsetSide::Front)) => {
                "right or left"
            }
            (Some(Plumb::Crosswise), Some(OffsetSide::Right | OffsetSide::Left)) => "rear or front",
            _ => return,
        };
        self.refuse(
            place::key(own, "side"),
            format!("the plumb beam of \"{id}\" runs so that a point is {right} of it"),
        );
    }
}

fn into_taken(form: &ReadingForm) -> Option<Taken> {
    let form = form.clone();
    Some(match form.kind {
        KindForm::Height => Taken::Height {
            setup: form.setup?,
            point: form.point?,
            beam: form.beam?,
            value_mm: form.value_mm?,
        },
        KindForm::Offset => Taken::Offset {
            setup: form.setup?,
            point: form.point?,
            side: form.side?,
            value_mm: form.value_mm?,
        },
        KindForm::Split => Taken::Split {
            setup: form.setup?,
            from: form.from?,
            to: form.to?,
            value_mm: form.value_mm?,
        },
        KindForm::Span => Taken::Span {
            from: form.from?,
            to: form.to?,
            value_mm: form.value_mm?,
        },
        KindForm::DatumSpan => Taken::DatumSpan {
            from: form.from?,
            to: form.to?,
            value_mm: form.value_mm?,
        },
        KindForm::Fix => Taken::Fix {
            frame: form.frame?,
            point: form.point?,
            xyz_mm: form.xyz_mm?,
        },
    })
}
