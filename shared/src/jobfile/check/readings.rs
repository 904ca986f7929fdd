//! Readings of the form: every key of the kind and no other, every id once.

use std::collections::HashSet;

use super::Checker;
use crate::ids::StageId;
use crate::job::rules;
use crate::job::{Job, Reading, Taken};
use crate::jobfile::form::{KindForm, ReadingForm};
use crate::jobfile::place;

impl Checker {
    /// Readings into the job. One that lacks a key is refused for that alone.
    pub(super) fn readings(
        &mut self,
        job: &mut Job,
        forms: Vec<ReadingForm>,
        stages: &HashSet<StageId>,
    ) {
        let all = forms.len();
        let mut seen = HashSet::new();
        for (index, form) in forms.into_iter().enumerate() {
            let own = place::index("readings", index);
            if !seen.insert(form.id.clone()) {
                self.refuse(
                    place::key(&own, "id"),
                    format!("\"{}\" stands twice; give each reading its own id", form.id),
                );
            }
            self.keys(&form, &own);
            if let Some(reading) = into_reading(form) {
                self.faults(&own, rules::reading(job, stages, &reading));
                job.readings.push(reading);
            }
        }
        // A reading that could not be made would be missed by its correction.
        if job.readings.len() == all {
            for (index, fault) in rules::corrections(&job.readings) {
                self.faults(&place::index("readings", index), vec![fault]);
            }
        }
    }

    /// Every key that the kind needs is there, and none that it does not know.
    fn keys(&mut self, form: &ReadingForm, own: &str) {
        let (kind, keys): (_, &[&str]) = match form.kind {
            KindForm::Height => ("height", &["setup", "point", "beam", "value_mm"]),
            KindForm::Offset => ("offset", &["setup", "point", "side", "value_mm"]),
            KindForm::Split => ("split", &["setup", "from", "to", "value_mm"]),
            KindForm::Span => ("span", &["from", "to", "value_mm"]),
            KindForm::DatumSpan => ("datum_span", &["from", "to", "value_mm"]),
            KindForm::Fix => ("fix", &["frame", "point", "xyz_mm"]),
        };
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
    }
}

fn into_reading(form: ReadingForm) -> Option<Reading> {
    let taken = into_taken(&form)?;
    Some(Reading {
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
    })
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
