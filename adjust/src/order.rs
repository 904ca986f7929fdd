//! In which order blocks are eliminated, and which columns make a panel.
//!
//! The blocks of each stage first, by least degree inside the stage, then the shared blocks. This file
//! refuses to know numbers.

use std::collections::BTreeSet;

use super::sparse::Node;

/// Elimination order; afterwards `near[b]` holds the blocks after b that its column reaches.
pub(crate) fn eliminate(nodes: &[Node], near: &mut [BTreeSet<usize>]) -> Vec<usize> {
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
    let mut degrees: Vec<usize> = near.iter().map(|near| degree(nodes, near)).collect();
    for mut group in groups {
        while let Some(best) = (0..group.len()).min_by_key(|&g| (degrees[group[g]], group[g])) {
            let b = group.swap_remove(best);
            order.push(b);
            let reach: Vec<usize> = near[b].iter().copied().collect();
            for &a in &reach {
                near[a].remove(&b);
                near[a].extend(reach.iter().copied().filter(|c| *c != a));
                degrees[a] = degree(nodes, &near[a]);
            }
        }
    }
    order
}

fn degree(nodes: &[Node], near: &BTreeSet<usize>) -> usize {
    near.iter().map(|&a| nodes[a].size).sum()
}

/// First columns of the panels, and the panel of each column.
pub(crate) fn panels(column: &[usize], row: &[usize]) -> (Vec<usize>, Vec<usize>) {
    let n = column.len() - 1;
    let rows = |j: usize| &row[column[j]..column[j + 1]];
    let mut first = Vec::new();
    let mut panel = Vec::with_capacity(n);
    for j in 0..n {
        // What a column reaches, its first row's column reaches too: equal numbers are equal rows.
        let goes_on =
            j > 0 && rows(j - 1).first() == Some(&j) && rows(j - 1).len() == rows(j).len() + 1;
        if !goes_on {
            first.push(j);
        }
        panel.push(first.len() - 1);
    }
    first.push(n);
    (first, panel)
}
