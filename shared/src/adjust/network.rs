//! Rows of a problem laid out once, linearised and assembled many times.
//!
//! Rows are in unit weight: (value − predicted) / σ. Observation rows come first (three for a fix),
//! then prior rows, then what other stages carry over. This file refuses to know which rows are trusted.

use super::problem::{Observation, Problem, Sight, Term};
use super::sparse::{Entries, Node, Pattern};
use crate::geometry::{Normal, Up, Vec3};
use crate::measure::{Prediction, datum_span, fix, height, offset, span, split};

/// Layout of all rows on the pattern.
#[derive(Debug, Clone)]
pub(crate) struct Network {
    pub(crate) pattern: Pattern,
    /// First row of each observation; one more entry than observations.
    pub(crate) first_row: Vec<usize>,
    /// Weight of each row while every observation counts: 1, or 0 for a prior that carried rows
    /// stand for.
    pub(crate) standing: Vec<f64>,
    /// Where prior rows end.
    prior_end: usize,
    /// First term of each row; one more entry than rows.
    term: Vec<usize>,
    /// Unknown of each term.
    pub(crate) unknown: Vec<usize>,
    /// For each row, the slots of its pairs of terms (i < j).
    slot_start: Vec<usize>,
    slot: Vec<usize>,
}

/// Residuals and derivatives at one place.
#[derive(Debug, Clone, Default)]
pub(crate) struct Linear {
    /// (value − predicted) / σ per row.
    pub(crate) residual: Vec<f64>,
    /// ∂predicted/∂unknown / σ per term.
    pub(crate) coefficient: Vec<f64>,
    /// Rows that predict nothing here (no direction between coinciding points).
    pub(crate) blind: Vec<bool>,
}

impl Network {
    pub(crate) fn new(problem: &Problem) -> Self {
        let nodes: Vec<Node> = problem
            .blocks
            .iter()
            .map(|block| Node {
                stage: block.stage,
                start: block.start,
                size: block.size,
            })
            .collect();
        let mut cliques: Vec<Vec<usize>> = Vec::new();
        for observation in &problem.observations {
            cliques.push(
                observation
                    .sight
                    .blocks()
                    .iter()
                    .map(|block| block.0)
                    .collect(),
            );
        }
        for (form, _, _) in &problem.priors {
            cliques.push(form.0.iter().map(|term| term.block.0).collect());
        }
        for (form, _) in &problem.carried {
            cliques.push(form.0.iter().map(|term| term.block.0).collect());
        }
        cliques.extend(
            problem
                .asked_together
                .iter()
                .map(|pair| vec![pair[0].0, pair[1].0]),
        );
        for clique in &mut cliques {
            clique.sort_unstable();
            clique.dedup();
        }
        let mut network = Self {
            pattern: Pattern::new(&nodes, cliques.iter().map(Vec::as_slice)),
            first_row: vec![0],
            standing: Vec::new(),
            prior_end: 0,
            term: vec![0],
            unknown: Vec::new(),
            slot_start: vec![0],
            slot: Vec::new(),
        };
        for observation in &problem.observations {
            for _ in 0..observation.sight.rows() {
                network.lay_row(unknowns(problem, observation));
            }
            network.first_row.push(network.rows());
        }
        network.standing = vec![1.0; network.rows()];
        for (form, _, _) in &problem.priors {
            network.lay_row(form.0.iter().map(|term| problem.index(term)).collect());
            let shared = |term: &Term| problem.blocks[term.block.0].stage.is_none();
            let stood_for = !problem.carried.is_empty() && form.0.iter().all(shared);
            network.standing.push(if stood_for { 0.0 } else { 1.0 });
        }
        network.prior_end = network.rows();
        for (form, _) in &problem.carried {
            network.lay_row(form.0.iter().map(|term| problem.index(term)).collect());
            network.standing.push(1.0);
        }
        network
    }

    fn lay_row(&mut self, unknowns: Vec<usize>) {
        for (i, a) in unknowns.iter().enumerate() {
            for b in &unknowns[i + 1..] {
                let slot = self
                    .pattern
                    .slot(self.pattern.position[*a], self.pattern.position[*b]);
                self.slot
                    .push(slot.expect("the unknowns of one row are a clique of the pattern"));
            }
        }
        self.slot_start.push(self.slot.len());
        self.unknown.extend(unknowns);
        self.term.push(self.unknown.len());
    }

    /// All rows, priors included.
    pub(crate) fn rows(&self) -> usize {
        self.term.len() - 1
    }

    /// Rows of observations.
    pub(crate) fn observation_rows(&self) -> usize {
        self.first_row.last().copied().unwrap_or(0)
    }

    /// Rows of priors.
    pub(crate) fn prior_rows(&self) -> std::ops::Range<usize> {
        self.observation_rows()..self.prior_end
    }

    pub(crate) fn terms(&self, row: usize) -> std::ops::Range<usize> {
        self.term[row]..self.term[row + 1]
    }

    /// Fills `linear` at `x`.
    pub(crate) fn linearise(&self, problem: &Problem, x: &[f64], linear: &mut Linear) {
        linear.residual.clear();
        linear.coefficient.clear();
        linear.blind.clear();
        for observation in &problem.observations {
            observe(problem, observation, x, linear);
        }
        for (form, value, sigma) in &problem.priors {
            linear_row(problem, &form.0, *value, *sigma, x, linear);
        }
        for (form, value) in &problem.carried {
            linear_row(problem, &form.0, *value, 1.0, x, linear);
        }
    }

    /// Normal matrix and right-hand side (by position) with a weight per row. `stiffness` multiplies
    /// the priors in the matrix alone, which shortens steps where little but priors holds.
    pub(crate) fn assemble(
        &self,
        linear: &Linear,
        weight: &[f64],
        stiffness: f64,
    ) -> (Entries, Vec<f64>) {
        let mut normal = self.pattern.zeros();
        let mut right = vec![0.0; self.pattern.size()];
        for (row, &w) in weight.iter().enumerate() {
            if w == 0.0 {
                continue;
            }
            let matrix = if row < self.observation_rows() {
                w
            } else {
                w * stiffness
            };
            let terms = self.terms(row);
            let mut slot = self.slot_start[row];
            for i in terms.clone() {
                let scaled = matrix * linear.coefficient[i];
                let position = self.pattern.position[self.unknown[i]];
                normal.diagonal[position] += scaled * linear.coefficient[i];
                right[position] += w * linear.coefficient[i] * linear.residual[row];
                for j in i + 1..terms.end {
                    normal.lower[self.slot[slot]] += scaled * linear.coefficient[j];
                    slot += 1;
                }
            }
        }
        (normal, right)
    }

    /// a·Q·aᵀ of one row from the inverse on the pattern.
    pub(crate) fn row_variance(&self, linear: &Linear, inverse: &Entries, row: usize) -> f64 {
        let terms = self.terms(row);
        let mut slot = self.slot_start[row];
        let mut sum = 0.0;
        for i in terms.clone() {
            let c = linear.coefficient[i];
            sum += c * c * inverse.diagonal[self.pattern.position[self.unknown[i]]];
            for j in i + 1..terms.end {
                sum += 2.0 * c * linear.coefficient[j] * inverse.lower[self.slot[slot]];
                slot += 1;
            }
        }
        sum
    }

    /// One row's derivatives as a vector by position.
    pub(crate) fn spread_row(&self, linear: &Linear, row: usize) -> Vec<f64> {
        let mut vector = vec![0.0; self.pattern.size()];
        for i in self.terms(row) {
            vector[self.pattern.position[self.unknown[i]]] += linear.coefficient[i];
        }
        vector
    }

    /// One row's derivatives times a vector by position.
    pub(crate) fn row_times(&self, linear: &Linear, row: usize, vector: &[f64]) -> f64 {
        self.terms(row)
            .map(|i| linear.coefficient[i] * vector[self.pattern.position[self.unknown[i]]])
            .sum()
    }
}

/// The unknowns of an observation's rows, in the order of its derivatives.
pub(crate) fn unknowns(problem: &Problem, observation: &Observation) -> Vec<usize> {
    if let Sight::Linear(form) = &observation.sight {
        return form.0.iter().map(|term| problem.index(term)).collect();
    }
    let blocks = observation.sight.blocks();
    let all = blocks.iter().flat_map(|block| {
        let spec = &problem.blocks[block.0];
        spec.start..spec.start + spec.size
    });
    all.collect()
}

pub(crate) fn observe(
    problem: &Problem,
    observation: &Observation,
    x: &[f64],
    linear: &mut Linear,
) {
    let at = |block: super::Block| problem.blocks[block.0].start;
    let point = |block: super::Block| -> Vec3 {
        let start = at(block);
        [x[start], x[start + 1], x[start + 2]]
    };
    let up = |tilt: super::Block| Up::tilted(x[at(tilt)], x[at(tilt) + 1]);
    let w = 1.0 / observation.sigma;
    let value = observation.value[0];
    match &observation.sight {
        Sight::Height {
            point: p,
            tilt,
            level,
            sign,
        } => {
            let seen = height::predict(point(*p), up(*tilt), x[at(*level)], *sign);
            push(
                linear,
                value,
                w,
                &seen,
                [&seen.by_a, &seen.by_tilt, &[seen.by_level]],
            );
        }
        Sight::Offset {
            point: p,
            tilt,
            plumb,
            axis,
            sign,
        } => {
            let normal = Normal::turned(*axis, up(*tilt), x[at(*plumb)]);
            let seen = offset::predict(point(*p), normal, x[at(*plumb) + 1], *sign);
            push(
                linear,
                value,
                w,
                &seen,
                [&seen.by_a, &seen.by_tilt, &seen.by_plumb],
            );
        }
        Sight::Split {
            from,
            to,
            tilt,
            plumb,
            axis,
        } => {
            let normal = Normal::turned(*axis, up(*tilt), x[at(*plumb)]);
            match split::predict(point(*from), point(*to), normal, x[at(*plumb) + 1]) {
                Some(seen) => push(
                    linear,
                    value,
                    w,
                    &seen,
                    [&seen.by_a, &seen.by_b, &seen.by_tilt, &seen.by_plumb],
                ),
                None => push_blind(linear, 10),
            }
        }
        Sight::Span { from, to } => match span::predict(point(*from), point(*to)) {
            Some(seen) => push(linear, value, w, &seen, [&seen.by_a, &seen.by_b]),
            None => push_blind(linear, 6),
        },
        Sight::DatumSpan { from, to } => match datum_span::predict(point(*from), point(*to)) {
            Some(seen) => push(linear, value, w, &seen, [&seen.by_a, &seen.by_b]),
            None => push_blind(linear, 6),
        },
        Sight::Fix { point: p, frame } => {
            let f = at(*frame);
            let seen = fix::predict(
                point(*p),
                [x[f], x[f + 1], x[f + 2]],
                [x[f + 3], x[f + 4], x[f + 5]],
            );
            for axis in 0..3 {
                linear
                    .residual
                    .push((observation.value[axis] - seen.value[axis]) * w);
                linear.blind.push(false);
                let identity = [0, 1, 2].map(|other| if other == axis { w } else { 0.0 });
                linear
                    .coefficient
                    .extend(seen.by_point[axis].map(|c| c * w));
                linear
                    .coefficient
                    .extend(seen.by_rotation[axis].map(|c| c * w));
                linear.coefficient.extend(identity);
            }
        }
        #[cfg(test)]
        Sight::Model {
            block,
            size,
            at: place,
            model,
        } => {
            let own = &x[at(*block)..at(*block) + size];
            linear.residual.push((value - (model.0)(own, *place)) * w);
            linear.blind.push(false);
            for axis in 0..*size {
                let step = 1e-6 * own[axis].abs().max(1e-12);
                let mut moved = own.to_vec();
                moved[axis] = own[axis] + step;
                let more = (model.0)(&moved, *place);
                moved[axis] = own[axis] - step;
                let less = (model.0)(&moved, *place);
                linear.coefficient.push((more - less) / (2.0 * step) * w);
            }
        }
        Sight::Linear(form) => linear_row(problem, &form.0, value, observation.sigma, x, linear),
    }
}

fn push<const N: usize>(
    linear: &mut Linear,
    value: f64,
    w: f64,
    seen: &Prediction,
    parts: [&[f64]; N],
) {
    linear.residual.push((value - seen.value) * w);
    linear.blind.push(false);
    for part in parts {
        linear.coefficient.extend(part.iter().map(|c| c * w));
    }
}

fn push_blind(linear: &mut Linear, terms: usize) {
    linear.residual.push(0.0);
    linear.blind.push(true);
    linear.coefficient.extend(std::iter::repeat_n(0.0, terms));
}

fn linear_row(
    problem: &Problem,
    form: &[Term],
    value: f64,
    sigma: f64,
    x: &[f64],
    linear: &mut Linear,
) {
    let sum: f64 = form
        .iter()
        .map(|term| term.factor * x[problem.index(term)])
        .sum();
    linear.residual.push((value - sum) / sigma);
    linear.blind.push(false);
    linear
        .coefficient
        .extend(form.iter().map(|term| term.factor / sigma));
}

/// Starts each device's frame where it best takes the first ideas of its points to the fixes.
pub(crate) fn place_frames(problem: &mut Problem) {
    let mut frames: Vec<(super::Block, Vec<Vec3>, Vec<Vec3>)> = Vec::new();
    for observation in &problem.observations {
        if let Sight::Fix { point, frame } = observation.sight {
            let start = problem.blocks[point.0].start;
            let idea = [0, 1, 2].map(|axis| problem.first_idea[start + axis]);
            match frames.iter_mut().find(|(known, _, _)| *known == frame) {
                Some((_, from, to)) => {
                    from.push(idea);
                    to.push(observation.value);
                }
                None => frames.push((frame, vec![idea], vec![observation.value])),
            }
        }
    }
    for (frame, from, to) in frames {
        let (w, t) = fix::best_fit(&from, &to);
        problem.begin_at(frame, &[w[0], w[1], w[2], t[0], t[1], t[2]]);
    }
}
