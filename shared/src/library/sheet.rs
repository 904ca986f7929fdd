//! One revision of a sheet: where the points of an undamaged body are.
//!
//! Millimetres. Lengths are kept to the nanometre ([`Sheet::rounded`]), so that an inch's 64th is
//! exact and the content can be written in whole numbers. This file only carries values.

use indexmap::IndexMap;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::pattern::Pattern;
use crate::ids::{MemberId, PointId};
use crate::job::Side;

/// One revision of a sheet. A new one is made for every change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Sheet {
    /// Name; the same for all revisions.
    pub name: String,
    /// Revision, from 1.
    pub revision: u32,
    /// Which bodies it is for.
    pub body: Body,
    /// Half width of the tolerance where a point has none of its own; the shop's, when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tolerance_mm: Option<f64>,
    /// Where the numbers come from.
    pub origin: Origin,
    /// Structural members and what carries them.
    #[serde(default, skip_serializing_if = "IndexMap::is_empty")]
    pub members: IndexMap<MemberId, Member>,
    /// Points in the order of the list.
    pub points: IndexMap<PointId, Point>,
}

/// Which bodies a sheet is for.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "SheetBody")]
pub struct Body {
    /// Maker.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub maker: String,
    /// Model.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub model: String,
    /// First and last model year.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub years: Option<Years>,
    /// Body style, as `five-door hatch`.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub style: String,
    /// Identification numbers of these bodies.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vin: Option<Pattern>,
}

/// First and last model year.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "ModelYears")]
pub struct Years {
    /// First year.
    pub from: u16,
    /// Last year.
    pub to: u16,
}

/// Where the numbers come from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "SheetOrigin")]
pub struct Origin {
    /// Kind of source.
    pub kind: OriginKind,
    /// The source in words: which manual, which cars, which file.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub source: String,
    /// Who entered them.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub by: String,
    /// When, RFC 3339; empty when unknown.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub at: String,
}

/// Kind of source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum OriginKind {
    /// Typed from a manual that the shop may use.
    Manual,
    /// Measured on undamaged cars.
    Measured,
    /// Taken from a CSV file.
    Imported,
}

/// A structural member.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "SheetMember")]
pub struct Member {
    /// What it is, in words; empty when the id says it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub label: String,
    /// Members that carry this one, nearest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub carried_by: Vec<MemberId>,
}

/// One point of the body.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "SheetPoint")]
pub struct Point {
    /// What the point is, in words.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub label: String,
    /// Which side of the car.
    pub side: Side,
    /// The matching point on the other side.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mirror: Option<PointId>,
    /// Where it should be [x, y, z].
    pub target_mm: [f64; 3],
    /// How far an undamaged car may be from it: standard deviation per axis.
    pub spread_mm: [f64; 3],
    /// Half width of its own tolerance.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tolerance_mm: Option<f64>,
    /// The pair is not mirrored by design; without it, sides that differ much are taken for a slip.
    #[serde(default, skip_serializing_if = "is_false")]
    pub asymmetric: bool,
    /// The member that carries it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub member: Option<MemberId>,
    /// Cars it was learned from; 0 when it was not.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub cars: u32,
}

fn is_false(value: &bool) -> bool {
    !value
}

fn is_zero(value: &u32) -> bool {
    *value == 0
}

/// A length to the nanometre.
pub(super) fn rounded(value_mm: f64) -> f64 {
    // Adding 0 makes 0 of -0.
    (value_mm * 1e6).round() / 1e6 + 0.0
}

impl Sheet {
    /// The first revision of a sheet that says nothing yet: what a table is read into, or a search
    /// looks at.
    #[must_use]
    pub fn blank(name: impl Into<String>, kind: OriginKind) -> Self {
        Self {
            name: name.into(),
            revision: 1,
            body: Body::default(),
            tolerance_mm: None,
            origin: Origin {
                kind,
                source: String::new(),
                by: String::new(),
                at: String::new(),
            },
            members: IndexMap::new(),
            points: IndexMap::new(),
        }
    }

    /// The sheet with every length to the nanometre.
    #[must_use]
    pub fn rounded(mut self) -> Self {
        let all = |values: &mut [f64; 3]| *values = values.map(rounded);
        self.tolerance_mm = self.tolerance_mm.map(rounded);
        for point in self.points.values_mut() {
            all(&mut point.target_mm);
            all(&mut point.spread_mm);
            point.tolerance_mm = point.tolerance_mm.map(rounded);
        }
        self
    }

    /// Designed asymmetry of a pair: x_L − x_R, y_L + y_R, z_L − z_R of its targets; `None` when the
    /// sheet has not both points.
    #[must_use]
    pub fn asymmetry_mm(&self, left: &PointId, right: &PointId) -> Option<[f64; 3]> {
        let (left, right) = (self.points.get(left)?, self.points.get(right)?);
        Some(super::sheet::gap(left.target_mm, right.target_mm))
    }
}

/// x_L − x_R, y_L + y_R, z_L − z_R: 0 for mirror images.
pub(super) fn gap(left: [f64; 3], right: [f64; 3]) -> [f64; 3] {
    [left[0] - right[0], left[1] + right[1], left[2] - right[2]]
}
