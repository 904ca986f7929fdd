//! A job as the form has it.

use super::{
    CardForm, ImpactForm, JobForm, KindForm, MemberForm, PointForm, ReadingForm, SetupForm,
    SheetForm, StageForm, ToolForm,
};
use crate::job::{Job, Point, Reading, Taken};
use crate::jobfile::FORMAT;

impl JobForm {
    pub(in crate::jobfile) fn of(job: &Job) -> Self {
        Self {
            format: FORMAT.to_owned(),
            job: CardForm {
                number: job.card.number.clone(),
                vehicle: job.card.vehicle.clone(),
                vin: job.card.vin.clone(),
                impact: job.card.impact.as_ref().map(|impact| ImpactForm {
                    zone: impact.zone,
                    direction_deg: impact.direction_deg,
                }),
            },
            tolerance_mm: job.settings.tolerance_mm,
            conformity: job.settings.conformity,
            build_spread_mm: job.settings.build_spread_mm,
            points: job
                .points
                .iter()
                .map(|(id, point)| (id.clone(), PointForm::of(point)))
                .collect(),
            members: job
                .members
                .iter()
                .map(|(id, member)| {
                    (
                        id.clone(),
                        MemberForm {
                            label: member.label.clone(),
                            carried_by: member.carried_by.clone(),
                        },
                    )
                })
                .collect(),
            sheet: job.sheet.as_ref().map(|sheet| SheetForm {
                name: sheet.name.clone(),
                revision: sheet.revision,
                digest: sheet.digest.clone(),
                spread_mm: sheet.spread_mm,
                points: sheet.points.clone(),
                spreads: sheet.spreads.clone(),
                tolerances: sheet.tolerances.clone(),
            }),
            tools: job
                .tools
                .iter()
                .map(|(id, tool)| {
                    let form = ToolForm {
                        kind: tool.kind,
                        label: tool.label.clone(),
                        sigma_mm: tool.sigma_mm,
                        per_m_mm: tool.per_m_mm,
                        level_check: tool.level_check.clone(),
                        plumb_check: tool.plumb_check.clone(),
                    };
                    (id.clone(), form)
                })
                .collect(),
            setups: job
                .setups
                .iter()
                .map(|(id, setup)| {
                    (
                        id.clone(),
                        SetupForm {
                            label: setup.label.clone(),
                            plumb: setup.plumb,
                            tool: setup.tool.clone(),
                            stands_mm: setup.stands_mm,
                        },
                    )
                })
                .collect(),
            stages: job
                .stages
                .iter()
                .map(|stage| StageForm {
                    id: stage.id.clone(),
                    label: stage.label.clone(),
                    of: stage.of,
                    load: stage.load,
                })
                .collect(),
            readings: job.readings.iter().map(ReadingForm::of).collect(),
        }
    }
}

impl PointForm {
    fn of(point: &Point) -> Self {
        Self {
            label: point.label.clone(),
            side: point.side,
            mirror: point.mirror.clone(),
            place: point.place_mm,
            place_sigma_mm: point.place_sigma_mm,
            trusted: point.trusted,
            member: point.member.clone(),
        }
    }
}

impl ReadingForm {
    fn of(reading: &Reading) -> Self {
        let mut form = Self {
            id: reading.id.clone(),
            stage: reading.stage.clone(),
            kind: KindForm::Fix,
            setup: None,
            frame: None,
            point: None,
            from: None,
            to: None,
            beam: None,
            side: None,
            value_mm: None,
            xyz_mm: None,
            sigma_mm: reading.sigma_mm,
            tool: reading.tool.clone(),
            origin_mm: reading.origin_mm,
            by: reading.by.clone(),
            at: reading.at.clone(),
            entered: reading.entered.clone(),
            note: reading.note.clone(),
            set_aside: reading.set_aside.clone(),
            replaces: reading.replaces.clone(),
        };
        match reading.taken.clone() {
            Taken::Height {
                setup,
                point,
                beam,
                value_mm,
            } => {
                form.kind = KindForm::Height;
                (form.setup, form.point, form.beam, form.value_mm) =
                    (Some(setup), Some(point), Some(beam), Some(value_mm));
            }
            Taken::Offset {
                setup,
                point,
                side,
                value_mm,
            } => {
                form.kind = KindForm::Offset;
                (form.setup, form.point, form.side, form.value_mm) =
                    (Some(setup), Some(point), Some(side), Some(value_mm));
            }
            Taken::Split {
                setup,
                from,
                to,
                value_mm,
            } => {
                form.kind = KindForm::Split;
                (form.setup, form.from, form.to, form.value_mm) =
                    (Some(setup), Some(from), Some(to), Some(value_mm));
            }
            Taken::Span { from, to, value_mm } => {
                form.kind = KindForm::Span;
                (form.from, form.to, form.value_mm) = (Some(from), Some(to), Some(value_mm));
            }
            Taken::DatumSpan { from, to, value_mm } => {
                form.kind = KindForm::DatumSpan;
                (form.from, form.to, form.value_mm) = (Some(from), Some(to), Some(value_mm));
            }
            Taken::Fix {
                frame,
                point,
                xyz_mm,
            } => {
                (form.frame, form.point, form.xyz_mm) = (Some(frame), Some(point), Some(xyz_mm));
            }
        }
        form
    }
}
