//! The form as it stands in the file, field by field; nothing is checked here but types and names.

mod of;

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::ids::{FrameId, MemberId, PointId, ReadingId, SetupId, StageId, ToolId};
use crate::job::{
    Beam, DEFAULT_BUILD_SPREAD_MM, DEFAULT_CONFORMITY, DEFAULT_TOLERANCE_MM, Load, OffsetSide,
    Plumb, SetAside, Side, StageKind, ToolKind, Zone,
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
    /// Spread of every target that has none of its own, millimetres per axis.
    pub(super) spread_mm: f64,
    pub(super) points: IndexMap<PointId, [f64; 3]>,
    /// Spread [x, y, z] of single targets, millimetres.
    #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
    pub(super) spreads: IndexMap<PointId, [f64; 3]>,
    /// Half width of the tolerance of single points, millimetres.
    #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
    pub(super) tolerances: IndexMap<PointId, f64>,
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
