//! What each movement of each member would do to each row.
//!
//! Six columns a member: translations along x, y, z in millimetres, then rotations about x, y, z
//! through the middle of its points, scaled by the points' distance from it so that they too count
//! in millimetres. This file refuses to know what was read.

use super::Row;
use crate::damage::structure::Structure;
use crate::geometry::Vec3;

/// The columns of all members.
#[derive(Debug, Clone)]
pub(super) struct Columns {
    columns: Vec<Vec<f64>>,
    middles: Vec<Vec3>,
    levers: Vec<f64>,
    own: Vec<[bool; 3]>,
    rows: usize,
}

impl Columns {
    pub(super) fn new(structure: &Structure, rows: &[Row]) -> Self {
        let members = structure.members();
        let (middles, levers): (Vec<Vec3>, Vec<f64>) = (0..members)
            .map(|member| structure.middle(member))
            .map(|(middle, lever)| (middle, lever.max(1.0)))
            .unzip();
        let mut columns = vec![vec![0.0; rows.len()]; 6 * members];
        let mut own = vec![[false; 3]; members];
        for (index, row) in rows.iter().enumerate() {
            for term in &row.terms {
                if let Some(member) = structure.spots()[term.point].member {
                    own[member][term.axis] = true;
                }
                for &member in structure.chain(term.point) {
                    // The passenger cell is what everything else is measured from.
                    if structure.is_root(member) {
                        continue;
                    }
                    columns[6 * member + term.axis][index] += term.factor;
                    let place = structure.spots()[term.point].place;
                    let arm = [0, 1, 2].map(|axis| place[axis] - middles[member][axis]);
                    for about in 0..3 {
                        // e × arm, along the term's axis.
                        let mut unit = [0.0; 3];
                        unit[about] = 1.0;
                        let (next, last) = ((term.axis + 1) % 3, (term.axis + 2) % 3);
                        let shift = unit[next] * arm[last] - unit[last] * arm[next];
                        columns[6 * member + 3 + about][index] +=
                            term.factor * shift / levers[member];
                    }
                }
            }
        }
        Self {
            columns,
            middles,
            levers,
            own,
            rows: rows.len(),
        }
    }

    pub(super) fn rows(&self) -> usize {
        self.rows
    }

    pub(super) fn count(&self) -> usize {
        self.columns.len()
    }

    pub(super) fn column(&self, column: usize) -> &[f64] {
        &self.columns[column]
    }

    pub(super) fn translation(&self, member: usize, axis: usize) -> usize {
        6 * member + axis
    }

    pub(super) fn rotation(&self, member: usize, axis: usize) -> usize {
        6 * member + 3 + axis
    }

    /// Was any of the member's own points read along an axis that these columns move it on?
    pub(super) fn has_own_rows(&self, member: usize, columns: &[usize]) -> bool {
        columns.iter().any(|&column| {
            (0..3).any(|axis| {
                let moves = column == self.translation(member, axis)
                    || (0..3).any(|about| about != axis && column == self.rotation(member, about));
                moves && self.own[member][axis]
            })
        })
    }

    pub(super) fn lever(&self, member: usize) -> f64 {
        self.levers[member]
    }

    pub(super) fn arm(&self, structure: &Structure, member: usize, point: usize) -> Vec3 {
        let place = structure.spots()[point].place;
        [0, 1, 2].map(|axis| place[axis] - self.middles[member][axis])
    }
}
