//! The engine against an independent solution of the same model in numpy.
//!
//! Jobs and answers stand in `tests/oracle`; `make_jobs.py` makes both again.

use anyhow::{Context, Result, ensure};
use serde_json::Value;
use shared::ids::StageId;
use shared::result::{JobResult, Judged};

/// Rounding of the answers, and what two stopping rules may differ by, millimetres.
const NEAR_MM: f64 = 0.01;
/// Relative difference of spreads.
const NEAR_SIGMA: f64 = 0.005;

fn compare(name: &str) -> Result<usize> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/oracle");
    let job = std::fs::read_to_string(format!("{folder}/{name}.job.json"))?;
    let job = shared::jobfile::parse(&job).map_err(|refusals| anyhow::anyhow!("{refusals:?}"))?;
    let expected: Value = serde_json::from_str(&std::fs::read_to_string(format!(
        "{folder}/{name}.expected.json"
    ))?)?;
    let result = shared::solve::solve(&job);
    ensure!(result.fit.converged, "{name}: not converged");
    ensure!(
        result.suspects.is_empty() && result.trust.iter().all(|test| test.fits),
        "{name}: {:?}",
        result.suspects
    );
    let mut compared = 0;
    for (stage, answer) in expected["stages"].as_object().context("stages")? {
        compared += stage_agrees(&result, &StageId::parse(stage)?, answer)
            .with_context(|| format!("{name}, {stage}"))?;
    }
    Ok(compared)
}

fn stage_agrees(result: &JobResult, id: &StageId, answer: &Value) -> Result<usize> {
    let stage = result
        .stages
        .iter()
        .find(|stage| stage.id == *id)
        .context("no such stage")?;
    let roll = stage.tilt_deg.roll.context("roll is measured")?;
    ensure!(
        (roll - number(&answer["roll_deg"])?).abs() < 1e-4,
        "roll {roll}, {}",
        answer["roll_deg"]
    );
    let mut compared = 0;
    for pair in &stage.pairs {
        let answer = &answer["pairs"][format!("{}/{}", pair.left, pair.right)];
        for (name, judged) in [
            ("right_higher_mm", &pair.right_higher_mm),
            ("centre_right_mm", &pair.centre_right_mm),
            ("right_rearward_mm", &pair.right_rearward_mm),
            ("width_mm", &pair.width_mm),
        ] {
            compared +=
                agrees(judged, &answer[name]).with_context(|| format!("{} {name}", pair.left))?;
        }
    }
    for (id, point) in &stage.points {
        for axis in 0..3 {
            let answer = &answer["points"][id.as_str()][axis];
            let sigma = number(&answer["sigma"])?;
            // A coordinate that is hardly measured may drift along its own spread.
            let near = NEAR_MM.max(1e-4 * sigma);
            let off = (point.xyz_mm[axis] - number(&answer["value"])?).abs();
            ensure!(off < near, "{id}, axis {axis}: off by {off}");
            ensure!(
                (point.sigma_mm[axis] / sigma - 1.0).abs() < NEAR_SIGMA,
                "{id}, axis {axis}: spread {} for {sigma}",
                point.sigma_mm[axis]
            );
            compared += 1;
        }
    }
    Ok(compared)
}

fn agrees(judged: &Judged, answer: &Value) -> Result<usize> {
    let (Some(value), Some(sigma)) = (judged.value, judged.sigma) else {
        return Ok(0);
    };
    let off = (value - number(&answer["value"])?).abs();
    ensure!(off < NEAR_MM, "off by {off}: {value}");
    let expected = number(&answer["sigma"])?;
    ensure!(
        (sigma / expected - 1.0).abs() < NEAR_SIGMA,
        "spread {sigma} for {expected}"
    );
    Ok(1)
}

fn number(value: &Value) -> Result<f64> {
    value
        .as_f64()
        .with_context(|| format!("{value} is no number"))
}

#[test]
fn by_symmetry_alone() -> Result<()> {
    let compared = compare("symmetry")?;
    ensure!(compared > 90, "only {compared} numbers were compared");
    Ok(())
}

#[test]
fn against_a_sheet_whose_targets_have_spreads_of_their_own() -> Result<()> {
    let compared = compare("spreads")?;
    ensure!(compared > 90, "only {compared} numbers were compared");
    Ok(())
}

#[test]
fn against_a_sheet() -> Result<()> {
    let compared = compare("sheet")?;
    ensure!(compared > 90, "only {compared} numbers were compared");
    Ok(())
}
