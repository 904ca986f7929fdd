//! The checks of the lasers that a stage was read with, as the book has them.

use serde::{Deserialize, Serialize};

use crate::ids::{StageId, ToolId};
use crate::job::{Job, Tool};
use crate::tools::Check;

/// A tool that was used, and what its last checks found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ToolCheck {
    /// The tool.
    pub tool: ToolId,
    /// What it is called; empty when the id says it.
    pub label: String,
    /// Its last two-peg check of the level beam; `None` when the book has none.
    pub level: Option<Checked>,
    /// Its last reversal check of the plumb beam; `None` when the book has none.
    pub plumb: Option<Checked>,
}

/// One check of a tool.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Checked {
    /// When, RFC 3339 text; empty when nobody wrote it down.
    pub at: String,
    /// Who made it; empty when nobody wrote it down.
    pub by: String,
    /// What it found: the beam's slope, micrometres per metre.
    pub found_um_per_m: i64,
    /// Its standard uncertainty, micrometres per metre.
    pub sigma_um_per_m: i64,
}

impl From<&Check> for Checked {
    fn from(check: &Check) -> Self {
        let whole = |mm: f64| (mm * 1e3).round() as i64;
        Self {
            at: check.at.clone(),
            by: check.by.clone(),
            found_um_per_m: whole(check.mm_per_m),
            sigma_um_per_m: whole(check.sigma_mm_per_m),
        }
    }
}

/// The tools behind the counting readings of a stage, in the order of their ids: those of the
/// readings themselves and of their set-ups.
pub(super) fn used_in(job: &Job, stage: &StageId) -> Vec<ToolCheck> {
    let readings = job
        .counting_readings()
        .filter(|reading| reading.stage == *stage);
    let mut ids: Vec<&ToolId> = readings
        .flat_map(|reading| {
            let setup = reading.taken.setup();
            let laser = setup.and_then(|setup| job.setups.get(setup)?.tool.as_ref());
            laser.into_iter().chain(&reading.tool)
        })
        .collect();
    ids.sort();
    ids.dedup();
    let check = |id: &ToolId| {
        let tool: &Tool = job.tools.get(id)?;
        Some(ToolCheck {
            tool: id.clone(),
            label: tool.label.clone(),
            level: tool.level_check.as_ref().map(Checked::from),
            plumb: tool.plumb_check.as_ref().map(Checked::from),
        })
    };
    ids.into_iter().filter_map(check).collect()
}
