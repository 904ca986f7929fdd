//! What does not fit: suspects, tested trust, and each reading's residual.
//!
//! Millimetres. This file refuses to know how a suspect was found.

use crate::adjust::sorting::sort_by;
use indexmap::IndexMap;

use super::network::Built;
use super::quantities::pair_quantities;
use crate::adjust::{NON_CENTRALITY, Solution};
use crate::ids::ReadingId;
use crate::job::{Job, Reading, Side, Taken};
use crate::measure::slip::{Read, likely};
use crate::result::{Difference, ReadingResult, Suspect, TrustTest};

/// Differences smaller than this are not worth a line.
const WORTH_SAYING_MM: f64 = 0.1;
/// At most this many differences per suspect.
const MAX_DIFFERENCES: usize = 5;
const AXES: [&str; 3] = ["x", "y", "z"];

pub(super) fn suspects(job: &Job, built: &Built, solution: &Solution) -> Vec<Suspect> {
    let mut suspects = Vec::new();
    for suspect in solution.suspects() {
        let Some(&index) = built.reading_of.get(&suspect.observation) else {
            continue;
        };
        let reading = &job.readings[index];
        let slip = likely(read(reading), value(reading), suspect.error, suspect.sigma);
        suspects.push(Suspect {
            reading: reading.id.clone(),
            error_mm: suspect.error,
            sigma_mm: suspect.sigma,
            t: suspect.t,
            one_of: suspect
                .one_of
                .iter()
                .map(|&o| name(job, built, o))
                .collect(),
            slip: slip.map(|slip| slip.says().to_owned()),
            slip_code: slip.map(|slip| slip.code().to_owned()),
            difference: differences(job, built, solution, suspect),
        });
    }
    suspects
}

pub(super) fn trust(job: &Job, built: &Built, solution: &Solution) -> Vec<TrustTest> {
    let test = |row: &super::network::TrustRow| {
        let suspect = solution
            .suspects()
            .iter()
            .find(|s| s.one_of.contains(&row.observation));
        let own = suspect.filter(|s| s.observation == row.observation);
        let tested = solution.tested(row.observation);
        TrustTest {
            points: row.points.clone(),
            axis: AXES[row.axis].to_owned(),
            t: own.map(|s| s.t).or(tested.w),
            // A row says value − form, so a point that is off by +e reads −e.
            error_mm: own.map(|s| -s.error),
            fits: own.is_none(),
            one_of: suspect.map_or_else(Vec::new, |s| {
                s.one_of.iter().map(|&o| name(job, built, o)).collect()
            }),
        }
    };
    built.trust.iter().map(test).collect()
}

pub(super) fn readings(
    job: &Job,
    built: &Built,
    solution: &Solution,
) -> IndexMap<ReadingId, ReadingResult> {
    let mut readings = IndexMap::new();
    for (index, reading) in job.readings.iter().enumerate() {
        let Some(&observation) = built.observation_of.get(&index) else {
            continue;
        };
        let tested = solution.tested(observation);
        let sigma = built.problem.observations()[observation].sigma;
        let redundant = tested.redundancy > 1e-6;
        readings.insert(
            reading.id.clone(),
            ReadingResult {
                residual_mm: tested.residual,
                w: tested.w,
                redundancy: tested.redundancy,
                catches_mm: redundant.then(|| NON_CENTRALITY * sigma / tested.redundancy.sqrt()),
                used: solution.uses(observation),
            },
        );
    }
    readings
}

fn read(reading: &Reading) -> Read {
    match reading.taken {
        Taken::Height { .. } => Read::Height,
        Taken::Offset { .. } => Read::Offset,
        Taken::Split { .. } | Taken::Span { .. } | Taken::DatumSpan { .. } => Read::Tape,
        Taken::Fix { .. } => Read::Device,
    }
}

fn value(reading: &Reading) -> f64 {
    match reading.taken {
        Taken::Height { value_mm, .. }
        | Taken::Offset { value_mm, .. }
        | Taken::Split { value_mm, .. }
        | Taken::Span { value_mm, .. }
        | Taken::DatumSpan { value_mm, .. } => value_mm,
        Taken::Fix { .. } => 0.0,
    }
}

/// A reading by its id, a row of trust by its points and axis.
fn name(job: &Job, built: &Built, observation: usize) -> String {
    if let Some(&index) = built.reading_of.get(&observation) {
        return job.readings[index].id.to_string();
    }
    let row = built
        .trust
        .iter()
        .find(|row| row.observation == observation);
    row.map_or_else(String::new, |row| {
        let points: Vec<&str> = row.points.iter().map(crate::ids::PointId::as_str).collect();
        format!("{} {}", points.join("/"), AXES[row.axis])
    })
}

fn differences(
    job: &Job,
    built: &Built,
    solution: &Solution,
    suspect: &crate::adjust::Suspect,
) -> Vec<Difference> {
    const NAMES: [&str; 4] = [
        "right_higher_mm",
        "centre_right_mm",
        "right_rearward_mm",
        "width_mm",
    ];
    let mut found = Vec::new();
    for (stage, of) in job.stages.iter().enumerate() {
        for (left, point) in job
            .points
            .iter()
            .filter(|(_, point)| point.side == Side::Left)
        {
            let Some(right) = &point.mirror else { continue };
            let Some(quantities) = pair_quantities(job, built, stage, left, right) else {
                continue;
            };
            for (quantity, kind) in quantities.iter().zip(NAMES) {
                let change_mm = -solution.pulled_by(suspect, &quantity.form);
                if change_mm.abs() >= WORTH_SAYING_MM && quantity.measured(solution) {
                    found.push(Difference {
                        quantity: format!("{left}/{right} {kind}"),
                        stage: of.id.clone(),
                        change_mm,
                    });
                }
            }
        }
    }
    sort_by(&mut found, |a, b| {
        b.change_mm.abs().total_cmp(&a.change_mm.abs())
    });
    found.truncate(MAX_DIFFERENCES);
    found
}
