//! As few movements of members as explain the displacements that were read.
//!
//! A member's movement is a translation, and a rotation about one of the car's axes where its points
//! show one. Members are taken in one after the other by the Bayesian information criterion,
//! extended for the number of columns to choose from (J. Chen and Z. Chen, *Extended Bayesian
//! information criteria for model selection with large model spaces*, Biometrika 95 (2008)), with
//! the full covariance of what was read. Where two members explain it alike, the blow decides, and
//! the result says so. This file refuses to know how a displacement was measured.

use super::impact::Blow;
use super::regression::{Regression, Whitening};
use super::structure::Structure;
use super::{REAL, is_real};
use crate::adjust::sorting::sort_by;
use crate::geometry::Vec3;
use crate::verdict::Verdict;

mod choose;
mod columns;

use choose::Group;
use columns::Columns;

/// Bent metal does not move as one piece: spread of a row, as a share of the movement found there.
const NOT_RIGID: f64 = 0.1;

/// One point's displacement along an axis, with a factor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Term {
    /// Point.
    pub point: usize,
    /// Axis, 0 to 2.
    pub axis: usize,
    /// Factor.
    pub factor: f64,
}

/// One measured combination of displacements.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// What it combines.
    pub terms: Vec<Term>,
    /// Deviation from its target, millimetres.
    pub value: f64,
    /// What was judged of it.
    pub verdict: Verdict,
}

/// All that was measured of one stage, with its covariance.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Evidence {
    /// Rows.
    pub rows: Vec<Row>,
    /// Their covariance, the spread of undamaged bodies included, square millimetres.
    pub covariance: Vec<Vec<f64>>,
}

/// The movement of one member.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The member.
    pub member: usize,
    /// Movement of the middle of its points with standard uncertainty, millimetres; `None` along an
    /// axis that nothing was read of.
    pub moved: [Option<(f64, f64)>; 3],
    /// Is the movement along this axis part of the explanation?
    pub matters: [bool; 3],
    /// Rotation about x, y, z, radians.
    pub turned: [Option<f64>; 3],
    /// Points whose displacement it explains.
    pub explains: Vec<usize>,
    /// Displacement it predicts for points that were not read along an axis.
    pub predicts: Vec<(usize, [Option<f64>; 3])>,
    /// Did the blow choose the side, because the readings cannot?
    pub side_from_impact: bool,
    /// Members that would explain the same.
    pub instead: Vec<usize>,
    /// Carriers whose own points stand where they should.
    pub clears: Vec<usize>,
}

/// The causes, strongest first.
#[must_use]
pub fn find(structure: &Structure, evidence: &Evidence, blow: Option<&Blow>) -> Vec<Found> {
    let nothing_out = evidence
        .rows
        .iter()
        .all(|row| row.verdict == Verdict::Within);
    if nothing_out || structure.members() == 0 {
        return Vec::new();
    }
    let columns = Columns::new(structure, &evidence.rows);
    let values: Vec<f64> = evidence.rows.iter().map(|row| row.value).collect();
    let mut covariance = evidence.covariance.clone();
    let first = choose::run(structure, &columns, &values, &covariance, blow);
    // What moved far is not known to a tenth of it, however well it was read.
    for (row, fitted) in fitted(&columns, &first.regression).into_iter().enumerate() {
        covariance[row][row] += (NOT_RIGID * fitted).powi(2);
    }
    let chosen = choose::run(structure, &columns, &values, &covariance, blow);
    let spreads: Vec<f64> = (0..values.len())
        .map(|row| covariance[row][row].sqrt())
        .collect();
    let mut found: Vec<(f64, Found)> = Vec::new();
    for group in &chosen.groups {
        let cause = describe(
            structure,
            &columns,
            evidence,
            &chosen.regression,
            group,
            &spreads,
        );
        let effect = effect(&columns, &chosen.regression, group);
        let outside = evidence
            .rows
            .iter()
            .zip(&effect)
            .any(|(row, effect)| row.verdict != Verdict::Within && lessens(row.value, *effect));
        if outside && !cause.explains.is_empty() {
            let strength = effect
                .iter()
                .zip(&spreads)
                .map(|(e, s)| (e / s).powi(2))
                .sum();
            found.push((strength, cause));
        }
    }
    sort_by(&mut found, |a, b| b.0.total_cmp(&a.0));
    let mut found: Vec<Found> = found.into_iter().map(|(_, cause)| cause).collect();
    let members: Vec<usize> = found.iter().map(|cause| cause.member).collect();
    for cause in &mut found {
        cause.clears.retain(|member| !members.contains(member));
    }
    found
}

/// Does the effect take at least half of the value away?
fn lessens(value: f64, effect: f64) -> bool {
    (value - effect).abs() <= 0.5 * value.abs()
}

fn fitted(columns: &Columns, regression: &Regression) -> Vec<f64> {
    let mut sum = vec![0.0; columns.rows()];
    for column in (0..columns.count()).filter(|&column| regression.holds(column)) {
        let (value, _) = regression.estimate(column).unwrap_or_default();
        for (total, entry) in sum.iter_mut().zip(columns.column(column)) {
            *total += value * entry;
        }
    }
    sum
}

fn effect(columns: &Columns, regression: &Regression, group: &Group) -> Vec<f64> {
    let mut sum = vec![0.0; columns.rows()];
    for &column in &group.columns {
        let (value, _) = regression.estimate(column).unwrap_or_default();
        for (total, entry) in sum.iter_mut().zip(columns.column(column)) {
            *total += value * entry;
        }
    }
    sum
}

fn describe(
    structure: &Structure,
    columns: &Columns,
    evidence: &Evidence,
    regression: &Regression,
    group: &Group,
    spreads: &[f64],
) -> Found {
    let member = group.member;
    let matters = [0, 1, 2].map(|axis| {
        let column = columns.translation(member, axis);
        group.columns.contains(&column)
    });
    // An axis that is no part of the explanation is told all the same, when readings speak of it.
    let moved = [0, 1, 2].map(|axis| regression.estimate(columns.translation(member, axis)));
    let turned = [0, 1, 2].map(|axis| {
        let column = columns.rotation(member, axis);
        let (value, _) = group
            .columns
            .contains(&column)
            .then(|| regression.estimate(column))??;
        Some(value / columns.lever(member))
    });
    let effect = effect(columns, regression, group);
    let mut explains = Vec::new();
    for ((row, effect), spread) in evidence.rows.iter().zip(&effect).zip(spreads) {
        if !is_real(row.value, *spread) || !lessens(row.value, *effect) {
            continue;
        }
        for term in &row.terms {
            if structure.carries(member).contains(&term.point) && !explains.contains(&term.point) {
                explains.push(term.point);
            }
        }
    }
    Found {
        member,
        moved,
        matters,
        turned,
        predicts: predicts(structure, columns, evidence, member, moved, matters, turned),
        explains,
        side_from_impact: group.side_from_impact,
        instead: group.instead.clone(),
        clears: clears(structure, evidence, member, matters),
    }
}

fn predicts(
    structure: &Structure,
    columns: &Columns,
    evidence: &Evidence,
    member: usize,
    moved: [Option<(f64, f64)>; 3],
    matters: [bool; 3],
    turned: [Option<f64>; 3],
) -> Vec<(usize, [Option<f64>; 3])> {
    let read = |point: usize, axis: usize| {
        let speaks = |term: &Term| term.point == point && term.axis == axis;
        evidence.rows.iter().any(|row| row.terms.iter().any(speaks))
    };
    let turns: Vec3 = turned.map(|turn| turn.unwrap_or(0.0));
    let told =
        |axis: usize| matters[axis] || (0..3).any(|about| about != axis && turns[about] != 0.0);
    let mut predicts = Vec::new();
    for &point in structure.carries(member) {
        let arm = columns.arm(structure, member, point);
        let shift = [0, 1, 2].map(|axis| {
            let (next, last) = ((axis + 1) % 3, (axis + 2) % 3);
            let by_turn = turns[next] * arm[last] - turns[last] * arm[next];
            let by_move = moved[axis]
                .filter(|_| matters[axis])
                .map_or(0.0, |(value, _)| value);
            (told(axis) && !read(point, axis)).then_some(by_move + by_turn)
        });
        if shift.iter().any(Option::is_some) {
            predicts.push((point, shift));
        }
    }
    predicts
}

/// Carriers with readings of their own along these axes, all of them within.
fn clears(
    structure: &Structure,
    evidence: &Evidence,
    member: usize,
    matters: [bool; 3],
) -> Vec<usize> {
    let own = |carrier: usize, row: &Row| {
        let mirror = structure.mirror(carrier);
        let belongs = |term: &Term| {
            let of = structure.spots()[term.point].member;
            matters[term.axis] && of.is_some() && (of == Some(carrier) || of == mirror)
        };
        let touches = |term: &Term| structure.spots()[term.point].member == Some(carrier);
        row.terms.iter().all(belongs) && row.terms.iter().any(touches)
    };
    let stands = |carrier: &usize| {
        let mut rows = evidence
            .rows
            .iter()
            .filter(|row| own(*carrier, row))
            .peekable();
        rows.peek().is_some() && rows.all(|row| row.verdict == Verdict::Within)
    };
    structure
        .carriers(member)
        .iter()
        .copied()
        .filter(|&carrier| !structure.is_root(carrier))
        .filter(|carrier| stands(carrier))
        .collect()
}

/// Smallest movement that counts as told, in spreads of its own.
#[must_use]
pub fn is_told(moved: Option<(f64, f64)>) -> bool {
    moved.is_some_and(|(value, sigma)| value.abs() > REAL * sigma)
}
