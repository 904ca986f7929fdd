//! Which members moved: taken in one after the other, best first, then looked at again.
//!
//! This file refuses to know what a member is called.

use super::columns::Columns;
use super::{Regression, Whitening};
use crate::adjust::sorting::sort_by;
use crate::damage::impact::Blow;
use crate::damage::structure::Structure;

/// Explanations whose criterion differs by less cannot be told apart ('not worth more than a bare
/// mention': Kass and Raftery, *Bayes Factors*, J. Am. Stat. Assoc. 90 (1995)).
const ALIKE: f64 = 2.0;
/// No car is explained by more.
const MOST: usize = 12;

/// The columns of one member that were taken in.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Group {
    pub(super) member: usize,
    pub(super) columns: Vec<usize>,
    pub(super) side_from_impact: bool,
    pub(super) instead: Vec<usize>,
}

/// The explanation.
#[derive(Debug, Clone)]
pub(super) struct Chosen {
    pub(super) regression: Regression,
    pub(super) groups: Vec<Group>,
}

struct Candidate {
    member: usize,
    columns: Vec<usize>,
    net: f64,
}

impl Candidate {
    /// Its translation once it is taken in.
    fn moved(&self, columns: &Columns, regression: &Regression) -> [f64; 3] {
        let mut tried = regression.clone();
        tried.sweep(&self.columns);
        [0, 1, 2].map(|axis| {
            let column = columns.translation(self.member, axis);
            let inside = self.columns.contains(&column);
            inside
                .then(|| tried.estimate(column))
                .flatten()
                .map_or(0.0, |(value, _)| value)
        })
    }
}

pub(super) fn run(
    structure: &Structure,
    columns: &Columns,
    values: &[f64],
    covariance: &[Vec<f64>],
    blow: Option<&Blow>,
) -> Chosen {
    let whitening = Whitening::new(covariance);
    let white: Vec<Vec<f64>> = (0..columns.count())
        .map(|column| whitening.whiten(columns.column(column)))
        .collect();
    let mut regression = Regression::new(&white, &whitening.whiten(values));
    let usable = (0..columns.count())
        .filter(|&column| regression.is_new(column))
        .count();
    let price = (values.len().max(2) as f64).ln() + (usable.max(1) as f64).ln();
    let mut groups: Vec<Group> = Vec::new();
    for _ in 0..MOST {
        let candidates = candidates(structure, columns, &regression, price);
        let Some(group) = best(structure, columns, &regression, candidates, blow) else {
            break;
        };
        regression.sweep(&group.columns);
        match groups.iter_mut().find(|known| known.member == group.member) {
            Some(known) => known.columns.extend(group.columns),
            None => groups.push(group),
        }
    }
    drop_needless(&mut regression, &mut groups, price);
    Chosen { regression, groups }
}

/// Per member its best set of columns: any translations, with or without one rotation.
fn candidates(
    structure: &Structure,
    columns: &Columns,
    regression: &Regression,
    price: f64,
) -> Vec<Candidate> {
    let mut candidates = Vec::new();
    for member in (0..structure.members()).filter(|&member| !structure.is_root(member)) {
        let mut best: Option<Candidate> = None;
        let rotates = (0..3).any(|axis| regression.holds(columns.rotation(member, axis)));
        for translations in 0..8_usize {
            for rotation in 0..4_usize {
                let mut set: Vec<usize> = (0..3)
                    .filter(|axis| translations & (1 << axis) != 0)
                    .map(|axis| columns.translation(member, axis))
                    .collect();
                if rotation > 0 {
                    set.push(columns.rotation(member, rotation - 1));
                }
                if set.is_empty()
                    || (rotation > 0 && rotates)
                    || !set.iter().all(|&column| regression.is_new(column))
                {
                    continue;
                }
                let Some(gain) = regression.gain(&set) else {
                    continue;
                };
                let net = gain - price * set.len() as f64;
                if net > best.as_ref().map_or(0.0, |best| best.net) {
                    best = Some(Candidate {
                        member,
                        columns: set,
                        net,
                    });
                }
            }
        }
        candidates.extend(best);
    }
    candidates
}

/// The best candidate; among those that are alike the blow decides, then readings of its own, then
/// the smaller member.
fn best(
    structure: &Structure,
    columns: &Columns,
    regression: &Regression,
    mut candidates: Vec<Candidate>,
    blow: Option<&Blow>,
) -> Option<Group> {
    sort_by(&mut candidates, |a, b| b.net.total_cmp(&a.net));
    let most = candidates.first()?.net;
    candidates.retain(|candidate| candidate.net >= most - ALIKE);
    let alike: Vec<usize> = candidates
        .iter()
        .map(|candidate| candidate.member)
        .collect();
    let speaks = |member: usize| {
        let candidate = candidates
            .iter()
            .find(|candidate| candidate.member == member);
        candidate.zip(blow).map_or(0.0, |(candidate, blow)| {
            blow.speaks_for(structure, member, candidate.moved(columns, regression))
        })
    };
    let other_side = |member: usize| {
        structure
            .mirror(member)
            .filter(|mirror| alike.contains(mirror))
    };
    let against_blow = |member: usize| {
        other_side(member).is_some_and(|mirror| speaks(member) + 1e-9 < speaks(mirror))
    };
    let chosen = candidates
        .iter()
        .filter(|candidate| !against_blow(candidate.member))
        .min_by(|a, b| {
            let own =
                |candidate: &Candidate| columns.has_own_rows(candidate.member, &candidate.columns);
            let size = |candidate: &Candidate| structure.carries(candidate.member).len();
            own(b)
                .cmp(&own(a))
                .then(size(a).cmp(&size(b)))
                .then(b.net.total_cmp(&a.net))
        })?;
    let member = chosen.member;
    Some(Group {
        member,
        columns: chosen.columns.clone(),
        side_from_impact: other_side(member)
            .is_some_and(|mirror| speaks(member) > speaks(mirror) + 1e-9),
        instead: alike
            .iter()
            .copied()
            .filter(|&other| other != member)
            .collect(),
    })
}

/// Takes out again what the others explain by now.
fn drop_needless(regression: &mut Regression, groups: &mut Vec<Group>, price: f64) {
    loop {
        let left = regression.left();
        let needless = groups.iter().position(|group| {
            let mut without = regression.clone();
            without.sweep(&group.columns);
            without.left() - left < price * group.columns.len() as f64
        });
        let Some(index) = needless else { return };
        let group = groups.remove(index);
        regression.sweep(&group.columns);
    }
}
