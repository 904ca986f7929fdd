//! From a book and its statements to the rows that lists and searches read.
//!
//! Lengths in millimetres. Solved from nothing, so that the same book always gives the same rows.
//! This file refuses to know databases and clocks.

use automerge::{Automerge, ChangeHash};
use shared::book;
use shared::ids::ToolId;
use shared::job::{Job, Tool, ToolKind};
use shared::moment::millis;
use shared::proof::statement::{Counts, Deed, SignedStatement};
use shared::result::{JobResult, Judged, PairResult, StageResult};
use shared::solve::solve;

use super::load::guarded;
use crate::store::{PairRow, PointRow, Projected, SignOffRow, StageRow, ToolRow};

const AXES: [&str; 3] = ["x", "y", "z"];

/// The rows of a book. Takes as long as solving it, so it is called away from the async threads.
///
/// # Errors
/// When the document engine or the solver gives up, or a kept statement cannot be read.
pub fn project(doc: &Automerge, statements: &[String]) -> anyhow::Result<Projected> {
    guarded(|| {
        let (job, _) = book::read(doc);
        let result = solve(&job);
        Ok(Projected {
            number: job.card.number.clone(),
            vehicle: job.card.vehicle.clone(),
            vin: job.card.vin.clone(),
            readings: number(job.readings.len()),
            suspects: number(result.suspects.len()),
            stages: stages(&job, &result),
            tools: tools(&job),
            points: result.stages.iter().flat_map(points).collect(),
            pairs: result.stages.iter().flat_map(pairs).collect(),
            sign_offs: statements
                .iter()
                .map(|text| sign_off(doc, text))
                .collect::<anyhow::Result<_>>()?,
        })
    })
}

fn number(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

fn stages(job: &Job, result: &JobResult) -> Vec<StageRow> {
    let stages = result.stages.iter().zip(0..);
    stages
        .map(|(stage, place)| {
            let counts = Counts::of(stage);
            let label = job.stages.iter().find(|found| found.id == stage.id);
            let readings = job.counting_readings().filter(|r| r.stage == stage.id);
            StageRow {
                stage: stage.id.to_string(),
                place,
                label: label.map(|stage| stage.label.clone()).unwrap_or_default(),
                readings: number(readings.count()),
                within: counts.within.cast_signed(),
                outside: counts.outside.cast_signed(),
                unproven: counts.unproven.cast_signed(),
            }
        })
        .collect()
}

fn tools(job: &Job) -> Vec<ToolRow> {
    let tool = |(id, tool): (&ToolId, &Tool)| {
        let checks = [&tool.level_check, &tool.plumb_check];
        let times = checks.into_iter().flatten();
        ToolRow {
            tool: id.to_string(),
            kind: kind(tool.kind),
            label: tool.label.clone(),
            checked_at_ms: times.filter_map(|check| millis(&check.at)).max(),
        }
    };
    job.tools.iter().map(tool).collect()
}

fn kind(kind: ToolKind) -> &'static str {
    match kind {
        ToolKind::Tape => "tape",
        ToolKind::Scale => "scale",
        ToolKind::TramBar => "tram-bar",
        ToolKind::Laser => "laser",
        ToolKind::Device3d => "device3d",
        ToolKind::Other => "other",
    }
}

fn points(stage: &StageResult) -> Vec<PointRow> {
    let mut rows = Vec::new();
    for (id, point) in &stage.points {
        for (axis, name) in AXES.into_iter().enumerate() {
            if point.measured[axis] {
                rows.push(PointRow {
                    stage: stage.id.to_string(),
                    point: id.to_string(),
                    axis: name,
                    value_mm: point.xyz_mm[axis],
                    sigma_mm: point.sigma_mm[axis],
                    deviation_mm: point.deviation_mm[axis],
                    deviation_sigma_mm: point.deviation_sigma_mm[axis],
                    conformity: point.conformity[axis],
                    verdict: point.verdict[axis],
                });
            }
        }
    }
    rows
}

fn pairs(stage: &StageResult) -> Vec<PairRow> {
    let each = stage.pairs.iter().flat_map(quantities);
    each.filter_map(|(pair, quantity, judged)| {
        Some(PairRow {
            stage: stage.id.to_string(),
            left: pair.left.to_string(),
            right: pair.right.to_string(),
            quantity,
            value_mm: judged.value?,
            sigma_mm: judged.sigma?,
            target_mm: judged.target,
            conformity: judged.conformity,
            verdict: judged.verdict,
        })
    })
    .collect()
}

fn quantities(pair: &PairResult) -> [(&PairResult, &'static str, &Judged); 4] {
    [
        (pair, "right_higher_mm", &pair.right_higher_mm),
        (pair, "centre_right_mm", &pair.centre_right_mm),
        (pair, "right_rearward_mm", &pair.right_rearward_mm),
        (pair, "width_mm", &pair.width_mm),
    ]
}

fn sign_off(doc: &Automerge, text: &str) -> anyhow::Result<SignOffRow> {
    let signed = SignedStatement::parse(text)?;
    let said = signed.statement();
    // The server keeps no statement over heads that it does not have.
    let heads: Vec<ChangeHash> = said.heads.iter().map(|head| ChangeHash(head.0)).collect();
    let since = book::since(doc, &heads)
        .ok_or_else(|| anyhow::anyhow!("a statement over heads that the book never had"))?;
    Ok(SignOffRow {
        digest: signed.digest().to_string(),
        joins: match said.deed {
            Deed::SignOff => None,
            Deed::Countersign { of } => Some(of.to_string()),
        },
        stage: said.claims.stage.to_string(),
        user: said.who.user.to_string(),
        name: said.who.name.clone(),
        at_ms: said.at_ms,
        readings_since: number(since.readings),
        is_current: since.entries == 0,
    })
}
