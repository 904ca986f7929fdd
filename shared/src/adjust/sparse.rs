//! Sparse LDLᵀ of a symmetric positive definite matrix whose pattern is known beforehand, and the
//! entries of its inverse on that pattern.
//!
//! Order: the blocks of each stage first, by least degree inside the stage, then the shared blocks.
//! Inverse entries by the recursion of Takahashi, Fagan and Chin (1973); see also Davis, *Direct
//! Methods for Sparse Linear Systems* (2006). This file refuses to know where the numbers come from.

use std::collections::BTreeSet;

/// Where the non-zeros of L are. Rows and columns are positions in the elimination order.
#[derive(Debug, Clone, Default)]
pub(crate) struct Pattern {
    /// Position of each unknown.
    pub(crate) position: Vec<usize>,
    /// Start of each column's rows; one more entry than columns.
    column: Vec<usize>,
    /// Rows below the diagonal, ascending within a column.
    row: Vec<usize>,
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
        Self {
            position,
            column,
            row,
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

    /// Replaces A by D (diagonal) and L (lower). A pivot that rounding made useless becomes the
    /// smallest useful one, so that the result is always finite.
    pub(crate) fn factor(&self, a: &mut Entries) {
        let n = self.size();
        let mut work = vec![0.0; n];
        // Columns that reach row j next, as linked lists.
        let (mut head, mut link) = (vec![usize::MAX; n], vec![usize::MAX; n]);
        let mut cursor = vec![0; n];
        for j in 0..n {
            let (start, end) = (self.column[j], self.column[j + 1]);
            for q in start..end {
                work[self.row[q]] = a.lower[q];
            }
            let scale = a.diagonal[j];
            let mut pivot = scale;
            let mut k = head[j];
            while k != usize::MAX {
                let after = link[k];
                let at = cursor[k];
                let ljk = a.lower[at];
                let factor = ljk * a.diagonal[k];
                pivot -= factor * ljk;
                let stop = self.column[k + 1];
                for q in at + 1..stop {
                    work[self.row[q]] -= factor * a.lower[q];
                }
                if at + 1 < stop {
                    cursor[k] = at + 1;
                    let row = self.row[at + 1];
                    link[k] = head[row];
                    head[row] = k;
                }
                k = after;
            }
            let least = (scale.abs() * 1e-14).max(1e-30);
            a.diagonal[j] = if pivot > least { pivot } else { least };
            for q in start..end {
                a.lower[q] = work[self.row[q]] / a.diagonal[j];
                work[self.row[q]] = 0.0;
            }
            if start < end {
                cursor[j] = start;
                let row = self.row[start];
                link[j] = head[row];
                head[row] = j;
            }
        }
    }

    /// Solves L D Lᵀ x = b in place; positions, not unknowns.
    pub(crate) fn solve(&self, factor: &Entries, b: &mut [f64]) {
        let n = self.size();
        for j in 0..n {
            let bj = b[j];
            if bj != 0.0 {
                for q in self.column[j]..self.column[j + 1] {
                    b[self.row[q]] -= factor.lower[q] * bj;
                }
            }
        }
        for j in (0..n).rev() {
            let mut x = b[j] / factor.diagonal[j];
            for q in self.column[j]..self.column[j + 1] {
                x -= factor.lower[q] * b[self.row[q]];
            }
            b[j] = x;
        }
    }

    /// D^(−½) L⁻¹ b for a short b: the entries along its way to the root, positions ascending.
    pub(crate) fn half(&self, factor: &Entries, entries: Vec<(usize, f64)>) -> Vec<(usize, f64)> {
        let mut open: std::collections::BTreeMap<usize, f64> = std::collections::BTreeMap::new();
        for (position, value) in entries {
            *open.entry(position).or_insert(0.0) += value;
        }
        // The least position is a node of the tree, its first row is its parent, and its column
        // lies on the way from there to the root: whatever comes next is met in order.
        let mut done = Vec::new();
        while let Some((j, value)) = open.pop_first() {
            for q in self.column[j]..self.column[j + 1] {
                *open.entry(self.row[q]).or_insert(0.0) -= factor.lower[q] * value;
            }
            done.push((j, value / factor.diagonal[j].sqrt()));
        }
        done
    }

    /// The inverse's entries on the pattern.
    pub(crate) fn inverse(&self, factor: &Entries) -> Entries {
        let n = self.size();
        let mut z = self.zeros();
        let mut sum = vec![0.0; n];
        let mut mine = vec![usize::MAX; n];
        let mut weight = vec![0.0; n];
        for j in (0..n).rev() {
            let (start, end) = (self.column[j], self.column[j + 1]);
            for q in start..end {
                mine[self.row[q]] = j;
                weight[self.row[q]] = factor.lower[q];
                sum[self.row[q]] = 0.0;
            }
            for q in start..end {
                let k = self.row[q];
                let lk = weight[k];
                let mut own = lk * z.diagonal[k];
                for p in self.column[k]..self.column[k + 1] {
                    let i = self.row[p];
                    if mine[i] == j {
                        sum[i] += lk * z.lower[p];
                        own += weight[i] * z.lower[p];
                    }
                }
                sum[k] += own;
            }
            let mut diagonal = 1.0 / factor.diagonal[j];
            for q in start..end {
                z.lower[q] = -sum[self.row[q]];
                diagonal -= factor.lower[q] * z.lower[q];
            }
            z.diagonal[j] = diagonal;
        }
        z
    }
}

/// Elimination order; afterwards `near[b]` holds the blocks after b that its column reaches.
fn eliminate(nodes: &[Node], near: &mut [BTreeSet<usize>]) -> Vec<usize> {
    let stages = nodes
        .iter()
        .filter_map(|node| node.stage)
        .max()
        .map_or(0, |last| last + 1);
    let mut groups = vec![Vec::new(); stages + 1];
    for (index, node) in nodes.iter().enumerate() {
        groups[node.stage.unwrap_or(stages)].push(index);
    }
    let mut order = Vec::with_capacity(nodes.len());
    for mut group in groups {
        while let Some(best) =
            (0..group.len()).min_by_key(|&g| (degree(nodes, &near[group[g]]), group[g]))
        {
            let b = group.swap_remove(best);
            order.push(b);
            let reach: Vec<usize> = near[b].iter().copied().collect();
            for &a in &reach {
                near[a].remove(&b);
                near[a].extend(reach.iter().copied().filter(|c| *c != a));
            }
        }
    }
    order
}

fn degree(nodes: &[Node], near: &BTreeSet<usize>) -> usize {
    near.iter().map(|&a| nodes[a].size).sum()
}
