//! Sparse LDLᵀ of a symmetric positive definite matrix whose pattern is known beforehand, and the
//! entries of its inverse on that pattern.
//!
//! Order: the blocks of each stage first, by least degree inside the stage, then the shared blocks.
//! Inverse entries by the recursion of Takahashi, Fagan and Chin (1973); see also Davis, *Direct
//! Methods for Sparse Linear Systems* (2006). This file refuses to know where the numbers come from.

use std::collections::BTreeSet;

use super::dense::{combine, product};
use super::order::{eliminate, panels};
/// Where the non-zeros of L are. Rows and columns are positions in the elimination order.
#[derive(Debug, Clone, Default)]
pub(crate) struct Pattern {
    /// Position of each unknown.
    pub(crate) position: Vec<usize>,
    /// Start of each column's rows; one more entry than columns.
    column: Vec<usize>,
    /// Rows below the diagonal, ascending within a column.
    row: Vec<usize>,
    /// First column of each panel: neighbouring columns that are full towards each other and have the
    /// same rows beneath them (a supernode; Davis, section 4.8). One more entry than panels.
    first: Vec<usize>,
    /// Panel of each column.
    panel: Vec<usize>,
}

/// Numbers on a [`Pattern`]: diagonal and strictly lower part.
#[derive(Debug, Clone, Default)]
pub(crate) struct Entries {
    pub(crate) diagonal: Vec<f64>,
    pub(crate) lower: Vec<f64>,
}

/// One block as the ordering sees it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Node {
    pub(crate) stage: Option<usize>,
    pub(crate) start: usize,
    pub(crate) size: usize,
}

impl Pattern {
    /// The pattern of L for blocks that are coupled in `cliques`.
    pub(crate) fn new<'a>(nodes: &[Node], cliques: impl Iterator<Item = &'a [usize]>) -> Self {
        let mut near: Vec<BTreeSet<usize>> = vec![BTreeSet::new(); nodes.len()];
        for clique in cliques {
            for &a in clique {
                near[a].extend(clique.iter().copied().filter(|b| *b != a));
            }
        }
        let order = eliminate(nodes, &mut near);
        // After elimination `near[b]` holds exactly the later blocks of b's column.
        let unknowns = nodes.iter().map(|node| node.size).sum();
        let mut position = vec![0; unknowns];
        let mut next = 0;
        for &b in &order {
            for k in 0..nodes[b].size {
                position[nodes[b].start + k] = next;
                next += 1;
            }
        }
        let mut column = vec![0];
        let mut row = Vec::new();
        for &b in &order {
            let mut later: Vec<usize> = near[b]
                .iter()
                .flat_map(|&c| (0..nodes[c].size).map(move |k| (c, k)))
                .map(|(c, k)| position[nodes[c].start + k])
                .collect();
            later.sort_unstable();
            for k in 0..nodes[b].size {
                row.extend((k + 1..nodes[b].size).map(|m| position[nodes[b].start + m]));
                row.extend_from_slice(&later);
                column.push(row.len());
            }
        }
        let (first, panel) = panels(&column, &row);
        Self {
            position,
            column,
            row,
            first,
            panel,
        }
    }

    pub(crate) fn size(&self) -> usize {
        self.position.len()
    }

    /// Index in `lower` of the entry of two different positions, if it is in the pattern.
    pub(crate) fn slot(&self, a: usize, b: usize) -> Option<usize> {
        let (col, row) = if a < b { (a, b) } else { (b, a) };
        let (start, end) = (self.column[col], self.column[col + 1]);
        self.row[start..end]
            .binary_search(&row)
            .ok()
            .map(|k| start + k)
    }

    /// Rows of a column below the diagonal, each with its slot in `lower`.
    pub(crate) fn below(&self, column: usize) -> impl Iterator<Item = (usize, usize)> {
        let slots = self.column[column]..self.column[column + 1];
        slots.map(|slot| (self.row[slot], slot))
    }

    pub(crate) fn zeros(&self) -> Entries {
        Entries {
            diagonal: vec![0.0; self.size()],
            lower: vec![0.0; self.row.len()],
        }
    }

    /// Rows beneath a panel, with which all its columns end.
    fn beneath(&self, panel: usize) -> &[usize] {
        let last = self.first[panel + 1] - 1;
        &self.row[self.column[last]..self.column[last + 1]]
    }

    /// Slot of a column's first row beneath its panel, which ends before column `to`.
    fn beneath_slot(&self, column: usize, to: usize) -> usize {
        self.column[column] + (to - 1 - column)
    }

    /// Replaces A by D (diagonal) and L (lower), panel by panel. A pivot that rounding made useless
    /// becomes the smallest useful one, so that the result is always finite.
    pub(crate) fn factor(&self, a: &mut Entries) {
        let n = self.size();
        let panels = self.first.len() - 1;
        let given = a.diagonal.clone();
        // Panels that reach this one next, as linked lists, and how many of their rows are dealt with.
        let (mut head, mut link) = (vec![usize::MAX; panels], vec![usize::MAX; panels]);
        let mut dealt = vec![0; panels];
        let mut place = vec![0; n];
        let mut sums = Vec::new();
        let mut parts: Vec<(f64, usize)> = Vec::new();
        for target in 0..panels {
            let (from, to) = (self.first[target], self.first[target + 1]);
            for (local, row) in (from..to)
                .chain(self.beneath(target).iter().copied())
                .enumerate()
            {
                place[row] = local;
            }
            let mut source = head[target];
            while source != usize::MAX {
                let after = link[source];
                let rows = self.beneath(source);
                let columns = self.first[source]..self.first[source + 1];
                let mut at = dealt[source];
                while at < rows.len() && rows[at] < to {
                    let column = rows[at];
                    parts.clear();
                    parts.extend(columns.clone().map(|k| {
                        let slot = self.beneath_slot(k, columns.end) + at;
                        (-a.lower[slot] * a.diagonal[k], slot)
                    }));
                    sums.clear();
                    sums.resize(rows.len() - at, 0.0);
                    combine(&mut sums, &a.lower, &parts);
                    a.diagonal[column] += sums[0];
                    let own = &mut a.lower[self.column[column]..self.column[column + 1]];
                    let before = column - from + 1;
                    for (sum, &row) in sums[1..].iter().zip(&rows[at + 1..]) {
                        own[place[row] - before] += sum;
                    }
                    at += 1;
                }
                dealt[source] = at;
                if let Some(&row) = rows.get(at) {
                    let next = self.panel[row];
                    link[source] = head[next];
                    head[next] = source;
                }
                source = after;
            }
            self.factor_panel(a, &given, from..to, &mut parts);
            if let Some(&row) = self.beneath(target).first() {
                let next = self.panel[row];
                link[target] = head[next];
                head[next] = target;
            }
        }
    }

    /// Factors the columns of one panel, from which all earlier panels have been taken off.
    fn factor_panel(
        &self,
        a: &mut Entries,
        given: &[f64],
        columns: std::ops::Range<usize>,
        parts: &mut Vec<(f64, usize)>,
    ) {
        for column in columns.clone() {
            let (earlier, own) = a.lower.split_at_mut(self.column[column]);
            let own = &mut own[..self.column[column + 1] - self.column[column]];
            let mut pivot = a.diagonal[column];
            parts.clear();
            for k in columns.start..column {
                let slot = self.column[k] + (column - k - 1);
                let factor = earlier[slot] * a.diagonal[k];
                pivot -= factor * earlier[slot];
                parts.push((-factor, slot + 1));
            }
            combine(own, earlier, parts);
            let least = (given[column].abs() * 1e-14).max(1e-30);
            let pivot = if pivot > least { pivot } else { least };
            a.diagonal[column] = pivot;
            own.iter_mut().for_each(|entry| *entry /= pivot);
        }
    }

    /// L⁻¹ b in place, for a b that begins in a panel; panels where nothing arrives are passed by.
    fn forward(&self, factor: &Entries, b: &mut [f64], panel: usize) {
        let (mut sums, mut parts) = (Vec::new(), Vec::new());
        for panel in panel..self.first.len() - 1 {
            let (from, to) = (self.first[panel], self.first[panel + 1]);
            if b[from..to].iter().all(|value| *value == 0.0) {
                continue;
            }
            parts.clear();
            for column in from..to {
                let value = b[column];
                let own = &factor.lower[self.column[column]..];
                for (entry, l) in b[column + 1..to].iter_mut().zip(own) {
                    *entry -= l * value;
                }
                parts.push((-value, self.beneath_slot(column, to)));
            }
            let rows = self.beneath(panel);
            sums.clear();
            sums.resize(rows.len(), 0.0);
            combine(&mut sums, &factor.lower, &parts);
            for (sum, &row) in sums.iter().zip(rows) {
                b[row] += sum;
            }
        }
    }

    /// Solves L D Lᵀ x = b in place; positions, not unknowns.
    pub(crate) fn solve(&self, factor: &Entries, b: &mut [f64]) {
        self.forward(factor, b, 0);
        let mut later = Vec::new();
        for panel in (0..self.first.len() - 1).rev() {
            let (from, to) = (self.first[panel], self.first[panel + 1]);
            later.clear();
            later.extend(self.beneath(panel).iter().map(|&row| b[row]));
            for column in (from..to).rev() {
                let lower = &factor.lower[self.column[column]..self.column[column + 1]];
                let (own, beneath) = lower.split_at(to - 1 - column);
                b[column] = b[column] / factor.diagonal[column]
                    - product(own, &b[column + 1..to])
                    - product(beneath, &later);
            }
        }
    }

    /// D^(−½) L⁻¹ b for a short b: only panels on its way to the root of the elimination tree are
    /// touched. Runs of neighbouring positions, ascending: first position and length; then all values.
    pub(crate) fn half(
        &self,
        factor: &Entries,
        entries: impl Iterator<Item = (usize, f64)>,
    ) -> (Vec<(usize, usize)>, Vec<f64>) {
        let mut work = vec![0.0; self.size()];
        let mut start = self.size();
        for (position, value) in entries {
            work[position] += value;
            start = start.min(position);
        }
        let (mut runs, mut values): (Vec<(usize, usize)>, Vec<f64>) = (Vec::new(), Vec::new());
        let begin = self.panel.get(start).copied().unwrap_or(usize::MAX);
        self.forward(factor, &mut work, begin);
        for panel in begin..self.first.len() - 1 {
            let (from, to) = (self.first[panel], self.first[panel + 1]);
            if work[from..to].iter().all(|value| *value == 0.0) {
                continue;
            }
            match runs.last_mut() {
                Some((first, length)) if *first + *length == from => *length += to - from,
                _ => runs.push((from, to - from)),
            }
            let scaled = (from..to).map(|column| work[column] / factor.diagonal[column].sqrt());
            values.extend(scaled);
        }
        (runs, values)
    }

    /// The inverse's entries on the pattern, panel by panel from the last.
    pub(crate) fn inverse(&self, factor: &Entries) -> Entries {
        let mut z = self.zeros();
        let mut place = vec![usize::MAX; self.size()];
        // The inverse among a panel's columns and the rows beneath it, both triangles.
        let mut square: Vec<f64> = Vec::new();
        let mut parts = Vec::new();
        for panel in (0..self.first.len() - 1).rev() {
            let (from, to) = (self.first[panel], self.first[panel + 1]);
            let (rows, width) = (self.beneath(panel), to - from);
            let size = width + rows.len();
            square.clear();
            square.resize(size * size, 0.0);
            for (k, &row) in rows.iter().enumerate() {
                place[row] = width + k;
            }
            for &row in rows {
                let own = place[row];
                square[own * size + own] = z.diagonal[row];
                for (other, slot) in self.below(row) {
                    let other = place[other];
                    if other != usize::MAX {
                        square[own * size + other] = z.lower[slot];
                        square[other * size + own] = z.lower[slot];
                    }
                }
            }
            rows.iter().for_each(|&row| place[row] = usize::MAX);
            for column in (from..to).rev() {
                let own = column - from;
                let slots = self.column[column]..self.column[column + 1];
                let lower = &factor.lower[slots.clone()];
                parts.clear();
                let later = lower.iter().zip(own + 1..size);
                parts.extend(later.map(|(l, k)| (-l, k * size + own + 1)));
                let found = &mut z.lower[slots];
                combine(found, &square, &parts);
                let mut diagonal = 1.0 / factor.diagonal[column];
                square[own * size + own] = 0.0;
                for ((l, entry), k) in lower.iter().zip(found.iter()).zip(own + 1..size) {
                    diagonal -= l * entry;
                    square[own * size + k] = *entry;
                    square[k * size + own] = *entry;
                }
                square[own * size + own] = diagonal;
                z.diagonal[column] = diagonal;
            }
        }
        z
    }
}
