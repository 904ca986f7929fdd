//! What is unknown and what was observed, as plain numbers.
//!
//! Lengths in millimetres, angles in radians. A problem is built block by block and row by row;
//! it refuses to know what a block stands for in a car.

use super::sparse::Node;
use crate::geometry::Vec3;

/// One block of unknowns, by its index.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Block(pub(crate) usize);

/// One unknown with a factor: `factor · x[block][axis]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Term {
    /// Block.
    pub block: Block,
    /// Which unknown of the block.
    pub axis: usize,
    /// Factor.
    pub factor: f64,
}

/// A linear combination of unknowns.
#[derive(Debug, Clone, PartialEq)]
pub struct LinearForm(pub Vec<Term>);

/// What a row sees.
#[derive(Debug, Clone, PartialEq)]
pub enum Sight {
    /// Height of a point under or over a level beam.
    Height {
        /// Point block.
        point: Block,
        /// Tilt block.
        tilt: Block,
        /// Level beam block.
        level: Block,
        /// +1 with the beam above the point, else −1.
        sign: f64,
    },
    /// Offset of a point from a plumb beam.
    Offset {
        /// Point block.
        point: Block,
        /// Tilt block.
        tilt: Block,
        /// Plumb beam block (yaw, offset).
        plumb: Block,
        /// Car axis across the beam: +y lengthwise, +x crosswise.
        axis: Vec3,
        /// +1 on the side the axis points to, else −1.
        sign: f64,
    },
    /// Crossing of a plumb beam on a stretched tape.
    Split {
        /// Hooked end.
        from: Block,
        /// Other end.
        to: Block,
        /// Tilt block.
        tilt: Block,
        /// Plumb beam block.
        plumb: Block,
        /// Car axis across the beam.
        axis: Vec3,
    },
    /// Distance between two points.
    Span {
        /// One end.
        from: Block,
        /// Other end.
        to: Block,
    },
    /// Distance between two points seen from above.
    DatumSpan {
        /// One end.
        from: Block,
        /// Other end.
        to: Block,
    },
    /// Coordinates in a device's frame (three rows).
    Fix {
        /// Point block.
        point: Block,
        /// Frame block (rotation vector, translation).
        frame: Block,
    },
    /// A linear combination.
    Linear(LinearForm),
    /// Any function of one block, derived numerically: for problems with certified answers.
    #[cfg(test)]
    Model {
        /// The block.
        block: Block,
        /// Its size.
        size: usize,
        /// Where the function is taken.
        at: f64,
        /// The function.
        model: Curve,
    },
}

/// A function of some unknowns and a place.
#[cfg(test)]
#[derive(Debug, Clone, Copy)]
pub struct Curve(pub fn(&[f64], f64) -> f64);

#[cfg(test)]
impl PartialEq for Curve {
    fn eq(&self, other: &Self) -> bool {
        std::ptr::fn_addr_eq(self.0, other.0)
    }
}

/// A value with its standard uncertainty; `value` has three entries for a fix, else one counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation {
    /// What it sees.
    pub sight: Sight,
    /// Value, millimetres.
    pub value: Vec3,
    /// Standard uncertainty, millimetres (per axis for a fix).
    pub sigma: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct BlockSpec {
    /// Which stage's own; `None` for the tip that all stages share.
    pub(crate) stage: Option<usize>,
    /// Index of the first unknown.
    pub(crate) start: usize,
    pub(crate) size: usize,
}

/// Unknowns, observations and priors.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Problem {
    pub(crate) blocks: Vec<BlockSpec>,
    pub(crate) first_idea: Vec<f64>,
    pub(crate) observations: Vec<Observation>,
    pub(crate) priors: Vec<(LinearForm, f64, f64)>,
    pub(crate) asked_together: Vec<[Block; 2]>,
    /// Rows of unit weight that stand for other stages and for the shared blocks' own priors.
    pub(crate) carried: Vec<(LinearForm, f64)>,
}

impl Problem {
    /// An empty problem.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a block of unknowns with a first idea and a prior spread per unknown.
    ///
    /// `stage` is `None` for what all stages share.
    pub fn block(&mut self, stage: Option<usize>, idea: &[f64], spread: &[f64]) -> Block {
        let block = Block(self.blocks.len());
        let start = self.first_idea.len();
        self.blocks.push(BlockSpec {
            stage,
            start,
            size: idea.len(),
        });
        self.first_idea.extend_from_slice(idea);
        for (axis, (value, sigma)) in idea.iter().zip(spread).enumerate() {
            let term = Term {
                block,
                axis,
                factor: 1.0,
            };
            self.prior(LinearForm(vec![term]), *value, *sigma);
        }
        block
    }

    /// Starts a block from another value than its prior's.
    pub fn begin_at(&mut self, block: Block, values: &[f64]) {
        let spec = &self.blocks[block.0];
        self.first_idea[spec.start..spec.start + spec.size].copy_from_slice(values);
    }

    /// Where every unknown starts, in the order of the blocks.
    #[must_use]
    pub fn first_idea(&self) -> &[f64] {
        &self.first_idea
    }

    /// Sets one block in a vector of all unknowns; values of another size are left out.
    pub fn set(&self, all: &mut [f64], block: Block, values: &[f64]) {
        let spec = &self.blocks[block.0];
        if values.len() == spec.size {
            all[spec.start..spec.start + spec.size].copy_from_slice(values);
        }
    }

    /// Adds a weak prior: `form = value ± sigma`. Priors are never tested.
    pub fn prior(&mut self, form: LinearForm, value: f64, sigma: f64) {
        self.priors.push((form, value, sigma));
    }

    /// Adds an observation and returns its index. Observations are tested.
    pub fn observe(&mut self, observation: Observation) -> usize {
        self.observations.push(observation);
        self.observations.len() - 1
    }

    /// Says that quantities of these two blocks will be asked for together, so that their
    /// covariance is at hand.
    pub fn ask_together(&mut self, a: Block, b: Block) {
        self.asked_together.push([a, b]);
    }

    /// The observations, by index.
    #[must_use]
    pub fn observations(&self) -> &[Observation] {
        &self.observations
    }

    /// Number of unknowns.
    #[must_use]
    pub fn unknowns(&self) -> usize {
        self.first_idea.len()
    }

    pub(crate) fn index(&self, term: &Term) -> usize {
        self.blocks[term.block.0].start + term.axis
    }
}

impl BlockSpec {
    pub(crate) fn node(&self) -> Node {
        Node {
            stage: self.stage,
            start: self.start,
            size: self.size,
        }
    }
}

impl LinearForm {
    /// The blocks it touches, ascending.
    pub(crate) fn blocks(&self) -> Vec<usize> {
        let mut blocks: Vec<usize> = self.0.iter().map(|term| term.block.0).collect();
        blocks.sort_unstable();
        blocks.dedup();
        blocks
    }
}

impl Sight {
    /// Rows that this sight makes.
    pub(crate) fn rows(&self) -> usize {
        if matches!(self, Self::Fix { .. }) {
            3
        } else {
            1
        }
    }

    /// The blocks it touches, in the order in which derivatives are laid out.
    pub(crate) fn blocks(&self) -> Vec<Block> {
        match self {
            Self::Height {
                point, tilt, level, ..
            } => vec![*point, *tilt, *level],
            Self::Offset {
                point, tilt, plumb, ..
            } => vec![*point, *tilt, *plumb],
            Self::Split {
                from,
                to,
                tilt,
                plumb,
                ..
            } => vec![*from, *to, *tilt, *plumb],
            Self::Span { from, to } | Self::DatumSpan { from, to } => vec![*from, *to],
            Self::Fix { point, frame } => vec![*point, *frame],
            #[cfg(test)]
            Self::Model { block, .. } => vec![*block],
            Self::Linear(form) => form.blocks().into_iter().map(Block).collect(),
        }
    }
}
