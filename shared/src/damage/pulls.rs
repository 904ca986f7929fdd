//! What to pull: the opposite movement, nearest the cell first, and what springs back.
//!
//! Millimetres. Springback is taken from this job's own pulls and from nothing else: a car without a
//! pull that was read under load and released has none. This file refuses to know how metal yields.

use super::structure::Structure;
use super::{Found, is_real};
use crate::adjust::sorting::sort_by;

/// At most this many points to watch.
const WATCH: usize = 4;
/// A pull that loses more than this share springs back nearly whole: pulling further is no answer.
const MOST_SPRINGBACK: f64 = 0.7;

/// One point along one axis over a pull: before, under load and released.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sprung {
    /// The point.
    pub point: usize,
    /// Movement from before to under load, millimetres.
    pub pulled: f64,
    /// Its standard uncertainty.
    pub pulled_sigma: f64,
    /// Movement from under load to released, millimetres.
    pub back: f64,
    /// Its standard uncertainty.
    pub back_sigma: f64,
}

/// Share of a pull that springs back, along one axis: weighted over the points that really moved.
/// `None` when none did, when the springback is not real, or when most of the pull was lost.
#[must_use]
pub fn springback(sprung: &[Sprung]) -> Option<f64> {
    let (mut top, mut bottom) = (0.0, 0.0);
    for one in sprung
        .iter()
        .filter(|one| is_real(one.pulled, one.pulled_sigma))
    {
        let weight = one.back_sigma.max(1e-6).powi(-2);
        top += weight * one.pulled * -one.back;
        bottom += weight * one.pulled * one.pulled;
    }
    if bottom <= 0.0 {
        return None;
    }
    let (share, sigma) = (top / bottom, bottom.sqrt().recip());
    (share > 0.0 && is_real(share, sigma) && share < MOST_SPRINGBACK).then_some(share)
}

/// What to pull beyond the target so that it stays there: a movement `needed` with a share that
/// springs back.
#[must_use]
pub fn overpull(needed: f64, share: f64) -> f64 {
    needed * share / (1.0 - share)
}

/// Causes in the order of pulling: nearest the cell first, the larger first among equals.
#[must_use]
pub fn order(structure: &Structure, causes: &[Found]) -> Vec<usize> {
    let size = |cause: &Found| {
        let moved = cause.moved.iter().zip(cause.matters);
        moved
            .filter_map(|(moved, matters)| moved.filter(|_| matters))
            .map(|(value, _)| value * value)
            .sum::<f64>()
    };
    let mut order: Vec<usize> = (0..causes.len()).collect();
    sort_by(&mut order, |&a, &b| {
        let depth = |cause: usize| structure.depth(causes[cause].member);
        depth(a)
            .cmp(&depth(b))
            .then(size(&causes[b]).total_cmp(&size(&causes[a])))
    });
    order
}

/// Up to four points to watch: what the cause explains, the member's own points first, then as far
/// apart as they come.
#[must_use]
pub fn watch(structure: &Structure, cause: &Found) -> Vec<usize> {
    let mut left: Vec<usize> = cause.explains.clone();
    let elsewhere = |point: usize| structure.spots()[point].member != Some(cause.member);
    sort_by(&mut left, |a, b| elsewhere(*a).cmp(&elsewhere(*b)));
    let mut chosen: Vec<usize> = Vec::new();
    while chosen.len() < WATCH && !left.is_empty() {
        let apart = |point: usize| {
            let place = structure.spots()[point].place;
            chosen
                .iter()
                .map(|&other| {
                    let there = structure.spots()[other].place;
                    (0..3)
                        .map(|axis| (place[axis] - there[axis]).powi(2))
                        .sum::<f64>()
                })
                .fold(f64::INFINITY, f64::min)
        };
        let next = if chosen.is_empty() {
            0
        } else {
            (0..left.len())
                .max_by(|&a, &b| apart(left[a]).total_cmp(&apart(left[b])))
                .unwrap_or(0)
        };
        chosen.push(left.remove(next));
    }
    chosen
}
