//! What all other stages know of the unknowns that stages share.
//!
//! Stages meet only in the tip of the arrow. Eliminating every stage but one leaves a quadratic on the
//! tip (a Schur complement); its square root is a few rows that stand for all those readings. With
//! them, a reading in one stage needs that stage alone to be solved again: exact to first order at the
//! place where the rows were made. This file refuses to know what a stage is in a car.

use super::problem::{Block, LinearForm, Problem, Term};
use super::solution::Solution;

/// Rows of unit weight on the shared blocks, `form = value`, in the order of those blocks.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Carried {
    rows: Vec<(LinearForm, f64)>,
    /// Shared blocks of the problem they were made in, with their sizes.
    blocks: Vec<(Block, usize)>,
}

impl Solution {
    /// What counts in all stages but one, and the shared blocks' own priors, as rows on the shared
    /// blocks.
    #[must_use]
    pub fn carried(&self, but: usize) -> Carried {
        let problem = &self.problem;
        let stage = |block: usize| problem.blocks[block].stage;
        let elsewhere = |block: usize| stage(block).is_some_and(|of| of != but);
        let mut weight = vec![0.0; self.network.rows()];
        for (observation, seen) in problem.observations.iter().enumerate() {
            let counts = self.used[observation]
                && seen.sight.blocks().iter().any(|block| elsewhere(block.0));
            if counts {
                let rows =
                    self.network.first_row[observation]..self.network.first_row[observation + 1];
                for row in rows {
                    weight[row] = if self.state.linear.blind[row] {
                        0.0
                    } else {
                        1.0
                    };
                }
            }
        }
        let first = self.network.observation_rows();
        for (row, (form, _, _)) in problem.priors.iter().enumerate() {
            // The stage that is left out keeps its blocks' own priors, so that it can be eliminated;
            // they say nothing about the tip.
            let own = form.0.len() == 1;
            if own || form.0.iter().any(|term| elsewhere(term.block.0)) {
                weight[first + row] = 1.0;
            }
        }
        let (mut normal, mut step) = self.network.assemble(&self.state.linear, &weight, 1.0);
        let pattern = &self.network.pattern;
        pattern.factor(&mut normal);
        pattern.solve(&normal, &mut step);

        let mut at = vec![None; pattern.size()];
        let mut blocks = Vec::new();
        for (index, block) in problem.blocks.iter().enumerate() {
            if block.stage.is_some() {
                continue;
            }
            for axis in 0..block.size {
                at[pattern.position[block.start + axis]] = Some((index, axis));
            }
            blocks.push((Block(index), block.size));
        }
        // The tip is eliminated last: its columns of the factor are the quadratic's square root.
        let rows = (0..pattern.size()).filter_map(|position| {
            at[position]?;
            let root = normal.diagonal[position].sqrt();
            let below = pattern
                .below(position)
                .map(|(row, slot)| (row, root * normal.lower[slot]));
            let (mut terms, mut value) = (Vec::new(), 0.0);
            for (position, factor) in std::iter::once((position, root)).chain(below) {
                let (block, axis) = at[position]?;
                let unknown = problem.blocks[block].start + axis;
                value += factor * (self.state.x[unknown] + step[position]);
                terms.push(Term {
                    block: Block(block),
                    axis,
                    factor,
                });
            }
            Some((LinearForm(terms), value))
        });
        Carried {
            rows: rows.collect(),
            blocks,
        }
    }
}

impl Problem {
    /// Lets carried rows stand for the priors of the shared blocks and for all other stages. The
    /// problem must have the same shared blocks in the same order; false, and nothing done, if not.
    pub fn carry(&mut self, carried: &Carried) -> bool {
        let own: Vec<(Block, usize)> = self
            .blocks
            .iter()
            .enumerate()
            .filter(|(_, block)| block.stage.is_none())
            .map(|(index, block)| (Block(index), block.size))
            .collect();
        let same = own.len() == carried.blocks.len()
            && own.iter().zip(&carried.blocks).all(|(a, b)| a.1 == b.1);
        if !same {
            return false;
        }
        let here = |block: Block| {
            let place = carried.blocks.iter().position(|(known, _)| *known == block);
            place.map(|place| own[place].0)
        };
        self.carried = carried
            .rows
            .iter()
            .filter_map(|(form, value)| {
                let terms: Option<Vec<Term>> = form
                    .0
                    .iter()
                    .map(|term| {
                        Some(Term {
                            block: here(term.block)?,
                            ..*term
                        })
                    })
                    .collect();
                Some((LinearForm(terms?), *value))
            })
            .collect();
        true
    }
}
