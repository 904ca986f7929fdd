//! Cars that the others do not predict, point by point.
//!
//! Millimetres. Each car is left out in turn and predicted from the rest (the deleted residual of
//! W. Viechtbauer and M. W.-L. Cheung, *Outlier and influence diagnostics for meta-analysis*, Research
//! Synthesis Methods 1 (2010), section 3, from memory). With few cars their spread is itself unsure:
//! it is moderated by the stated assumption as if that were worth [`PRIOR_CARS`] more cars (G. K. Smyth,
//! *Linear models and empirical Bayes methods*, Statistical Applications in Genetics and Molecular
//! Biology 3 (2004), from memory, has the idea).

use super::block::{Block, two_sided};
use super::{Car, FEWEST_CARS};
use crate::ids::PointId;
use crate::library::dense::{dot, mul, mul_transposed};
use crate::library::pool::pool;

/// Cars that the assumed spread is worth.
const PRIOR_CARS: f64 = 4.0;
/// Chance of naming any car when all are alike.
const FALSE_ALARM: f64 = 0.05;

/// A coordinate of a car that the other cars do not predict.
#[derive(Debug, Clone, PartialEq)]
pub struct Odd {
    /// The car.
    pub car: String,
    /// The point.
    pub point: PointId,
    /// 0 x, 1 y, 2 z.
    pub axis: usize,
    /// Where the car has it, less where the others do.
    pub off_mm: f64,
    /// Standard uncertainty of that for a car like the others.
    pub sigma_mm: f64,
    /// Standardised residual.
    pub t: f64,
    /// Probability of one at least this large.
    pub p: f64,
    /// The same for the largest of all that were tested (Bonferroni).
    pub p_of_all: f64,
}

/// All that are named, most striking first.
pub(super) fn odd(cars: &[Car], blocks: &[Block], prior_mm: f64) -> Vec<Odd> {
    let (mut all, mut tests) = (Vec::new(), 0_usize);
    for block in blocks {
        for study in 0..block.studies.len() {
            let found = of_study(cars, block, study, prior_mm);
            tests += found.len();
            all.extend(found);
        }
    }
    for odd in &mut all {
        odd.p_of_all = (odd.p * tests as f64).min(1.0);
    }
    all.retain(|odd| odd.p_of_all < FALSE_ALARM);
    all.sort_by(|a, b| a.p.total_cmp(&b.p).then(b.t.abs().total_cmp(&a.t.abs())));
    all
}

fn of_study(cars: &[Car], block: &Block, study: usize, prior_mm: f64) -> Vec<Odd> {
    let mut others = block.studies.clone();
    let own = others.remove(study);
    let given = block.given(prior_mm, Some(study), false);
    let Some(mut pooled) = pool(&others, &given) else {
        return Vec::new();
    };
    for &(i, j) in &given.free {
        let cars = (block.count(i, Some(study)) - 1) as f64;
        let assumed = if i == j { prior_mm * prior_mm } else { 0.0 };
        pooled.between[i][j] =
            (PRIOR_CARS * assumed + cars * pooled.between[i][j]) / (PRIOR_CARS + cars);
    }
    let mut spread = pooled.between;
    for (line, mean) in spread.iter_mut().zip(&pooled.covariance) {
        line.iter_mut()
            .zip(mean)
            .for_each(|(sum, mean)| *sum += mean);
    }
    let across = mul_transposed(&mul(&own.x, &spread), &own.x);
    let mut found = Vec::new();
    for (row, &(side, axis)) in block.rows[study].iter().enumerate() {
        let rest = block.count(axis, Some(study));
        if rest + 1 < FEWEST_CARS {
            continue;
        }
        let off_mm = own.y[row] - dot(&own.x[row], &pooled.mean);
        let sigma_mm = (across[row][row] + own.s[row][row]).sqrt();
        let t = off_mm / sigma_mm;
        let freedom = PRIOR_CARS + rest as f64 - 1.0;
        let Some(p) = two_sided(t, freedom) else {
            continue;
        };
        found.push(Odd {
            car: cars[block.cars[study]].name.clone(),
            point: block.ids[side].clone(),
            axis,
            off_mm,
            sigma_mm,
            t,
            p,
            p_of_all: 1.0,
        });
    }
    found
}
