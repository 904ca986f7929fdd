//! The form as it stands in the file, field by field; nothing is checked here but types and names.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::FORMAT;
use crate::ids::{FrameId, MemberId, PointId, ReadingId, SetupId, StageId, ToolId};
use crate::job::{
    Beam, DEFAULT_BUILD_SPREAD_MM, DEFAULT_CONFORMITY, DEFAULT_TOLERANCE_MM, Job, Load, OffsetSide,
    Plumb, Reading, SetAside, Side, StageKind, Taken, ToolKind, Zone,
};
use crate::tools::Check;

fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

/// One job.
#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "Baybook job file")]
pub(super) struct JobForm {
    /// Always `baybook-job/1`.
    pub(super) format: String,
    #[serde(default)]
    pub(super) job: CardForm,
    /// Half width of the tolerance, millimetres.
    #[serde(default = "tolerance")]
    pub(super) tolerance_mm: f64,
    /// Probability of conformity that `within` asks for.
    #[serde(default = "conformity")]
    pub(super) conformity: f64,
    /// Spread of an undamaged body between its sides, millimetres.
    #[serde(default = "build_spread")]
    pub(super) build_spread_mm: f64,
    pub(super) points: IndexMap<PointId, PointForm>,
    #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
    pub(super) members: IndexMap<MemberId, MemberForm>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) sheet: Option<SheetForm>,
    #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
    pub(super) tools: IndexMap<ToolId, ToolForm>,
    #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
    pub(super) setups: IndexMap<SetupId, SetupForm>,
    pub(super) stages: Vec<StageForm>,
    pub(super) readings: Vec<ReadingForm>,
}

fn tolerance() -> f64 {
    DEFAULT_TOLERANCE_MM
}
fn conformity() -> f64 {
    DEFAULT_CONFORMITY
}
fn build_spread() -> f64 {
    DEFAULT_BUILD_SPREAD_MM
}

#[derive(Debug, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct CardForm {
    #[serde(default)]
    pub(super) number: String,
    #[serde(default)]
    pub(super) vehicle: String,
    #[serde(default)]
    pub(super) vin: Option<String>,
    #[serde(default)]
    pub(super) impact: Option<ImpactForm>,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ImpactForm {
    pub(super) zone: Zone,
    /// Where the blow came from: 0 the rear, 90 the right, 180 the front, 270 the left.
    pub(super) direction_deg: f64,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct PointForm {
    #[serde(default, skip_serializing_if = "is_default")]
    pub(super) label: String,
    pub(super) side: Side,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) mirror: Option<PointId>,
    /// Rough place [x, y, z], millimetres.
    pub(super) place: [f64; 3],
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) place_sigma_mm: Option<f64>,
    #[serde(default)]
    pub(super) trusted: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) member: Option<MemberId>,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct MemberForm {
    #[serde(default, skip_serializing_if = "is_default")]
    pub(super) label: String,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) carried_by: Vec<MemberId>,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SheetForm {
    pub(super) name: String,
    #[serde(default)]
    pub(super) revision: u32,
    /// SHA-256 of the whole revision in a library.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub(super) digest: String,
    pub(super) spread_mm: f64,
    pub(super) points: IndexMap<PointId, [f64; 3]>,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ToolForm {
    pub(super) kind: ToolKind,
    #[serde(default, skip_serializing_if = "is_default")]
    pub(super) label: String,
    pub(super) sigma_mm: f64,
    #[serde(default)]
    pub(super) per_m_mm: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) level_check: Option<Check>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) plumb_check: Option<Check>,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SetupForm {
    #[serde(default, skip_serializing_if = "is_default")]
    pub(super) label: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) plumb: Option<Plumb>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) tool: Option<ToolId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) stands_mm: Option<[f64; 2]>,
}

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct StageForm {
    pub(super) id: StageId,
    #[serde(default, skip_serializing_if = "is_default")]
    pub(super) label: String,
    #[serde(default = "as_received")]
    pub(super) of: StageKind,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) load: Option<Load>,
}

fn as_received() -> StageKind {
    StageKind::AsReceived
}

/// Kinds of readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub(super) enum KindForm {
    Height,
    Offset,
    Split,
    Span,
    DatumSpan,
    Fix,
}

/// Where: the beam for a height, the point for an offset.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ReadingForm {
    pub(super) id: ReadingId,
    pub(super) stage: StageId,
    pub(super) kind: KindForm,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) setup: Option<SetupId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) frame: Option<FrameId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) point: Option<PointId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) from: Option<PointId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) to: Option<PointId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) beam: Option<Beam>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) side: Option<OffsetSide>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) value_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) xyz_mm: Option<[f64; 3]>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) sigma_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) tool: Option<ToolId>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub(super) origin_mm: f64,
    #[serde(default, skip_serializing_if = "is_default")]
    pub(super) by: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub(super) at: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub(super) entered: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub(super) note: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) set_aside: Option<SetAside>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) replaces: Option<ReadingId>,
}

impl JobForm {
    pub(super) fn of(job: &Job) -> Self {
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
    fn of(point: &crate::job::Point) -> Self {
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
