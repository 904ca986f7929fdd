//! Which observations the others contradict, and which cannot be told apart.
//!
//! Rows far off the robust solution are taken out together, then taken back best first while the
//! rest predicts them; then the w-test on the rest (W. Baarda, *A testing procedure for use in
//! geodetic networks*, 1968). Priors are never tested. This file refuses to know what is a reading
//! and what is trust.

use super::iterate::{ROUGH_STEP, SMALL_STEP, State};
use super::network::Network;
use super::prior::Prior;
use super::problem::Problem;
use super::rows::place_frames;
use super::solution::{Report, Solution};
use super::sparse::Entries;
use super::{INSEPARABLE, LIMIT};
use crate::sorting::sort_by;
use statrs::function::gamma::checked_gamma_ur;

/// Redundancy below this is none: rounding is larger.
pub(crate) const NO_REDUNDANCY: f64 = 1e-6;
/// Least probability of the sum of squares with which everything is taken to agree.
const ALL_IN_ALL: f64 = 0.05;
/// Test value of an observation that the rest predicts well.
const WELL_PREDICTED: f64 = 1.5;
/// Exchanges tried for a simpler explanation.
const MAX_EXCHANGES: usize = 24;
/// Rounds of testing before giving up on a hopeless set of readings.
const MAX_ROUNDS: usize = 400;

/// An observation that the others contradict.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspect {
    /// Index of the observation.
    pub observation: usize,
    /// Estimated error: value minus what the others predict, in the observation's own unit.
    pub error: f64,
    /// Standard uncertainty of the error.
    pub sigma: f64,
    /// Error over its spread.
    pub t: f64,
    /// Observations it cannot be told from, itself first.
    pub one_of: Vec<usize>,
    /// How the solution would move if it counted (by position).
    pub(crate) pull: Vec<f64>,
}

/// What one excluded row looks like to the rest.
#[derive(Debug, Clone, Copy)]
struct Seen {
    row: usize,
    /// Residual over its prediction spread.
    t: f64,
    /// a·Q·aᵀ.
    q: f64,
}

pub(crate) fn solve(mut problem: Problem, start: Option<&[f64]>) -> Solution {
    place_frames(&mut problem);
    let network = Network::new(&problem);
    let idea = problem.first_idea.clone();
    let x = match start {
        Some(x) if x.len() == problem.unknowns() && x.iter().all(|v| v.is_finite()) => x.to_vec(),
        _ => idea.clone(),
    };
    let mut trial = Trial {
        state: State::new(&problem, &network, x),
        problem: &problem,
        network: &network,
        used: vec![true; problem.observations.len()],
    };
    trial.settle();
    // Where everything agrees there is nothing to be robust against.
    let suspects = if trial.agrees() {
        Vec::new()
    } else {
        trial.state = State::new(&problem, &network, idea);
        trial.doubt()
    };
    trial.settle_to(SMALL_STEP);
    let mut inverse = network.pattern.inverse(&trial.state.factor);
    let sound = |entries: &Entries| entries.diagonal.iter().all(|v| v.is_finite() && *v > 0.0);
    if !sound(&inverse) || !trial.state.x.iter().all(|v| v.is_finite()) {
        // Readings that contradict each other without end can drive points to where nothing can be
        // computed. Then nothing counts, and the report says that it did not converge.
        trial.used.fill(false);
        trial.state = State::new(&problem, &network, problem.first_idea.clone());
        trial.settle_to(SMALL_STEP);
        trial.state.converged = false;
        inverse = network.pattern.inverse(&trial.state.factor);
    }
    let Trial { state, used, .. } = trial;
    let prior = Prior::new(&problem);
    let report = Report {
        converged: state.converged,
        iterations: state.iterations,
    };
    Solution {
        problem,
        network,
        state,
        inverse,
        prior,
        used,
        suspects,
        report,
    }
}

struct Trial<'a> {
    problem: &'a Problem,
    network: &'a Network,
    state: State,
    used: Vec<bool>,
}

impl Trial<'_> {
    fn rows(&self, observation: usize) -> std::ops::Range<usize> {
        self.network.first_row[observation]..self.network.first_row[observation + 1]
    }

    /// Does everything fit together, each row and all in all?
    fn agrees(&self) -> bool {
        if !self.state.converged {
            return false;
        }
        let inverse = self.network.pattern.inverse(&self.state.factor);
        let (mut square, mut redundancy) = (0.0, 0.0);
        for row in 0..self.network.observation_rows() {
            let r = 1.0 - self.network.row_variance(&self.state.linear, &inverse, row);
            let v = self.state.linear.residual[row];
            square += v * v;
            redundancy += r.clamp(0.0, 1.0);
            if r > NO_REDUNDANCY && v.abs() > LIMIT * r.sqrt() {
                return false;
            }
        }
        redundancy < NO_REDUNDANCY
            || checked_gamma_ur(0.5 * redundancy, 0.5 * square.max(1e-12))
                .is_ok_and(|p| p > ALL_IN_ALL)
    }

    /// Finds the observations that do not fit, from a robust start, and leaves them out.
    fn doubt(&mut self) -> Vec<Suspect> {
        self.state.start_robustly(self.problem, self.network);
        for observation in 0..self.used.len() {
            let off = self
                .rows(observation)
                .any(|row| self.state.linear.residual[row].abs() > LIMIT);
            self.used[observation] = !off;
        }
        self.settle();
        self.take_back();
        self.test_each();
        self.take_back();
        let suspects = self.fewest();
        for suspect in &suspects {
            for &observation in &suspect.one_of {
                self.used[observation] = false;
            }
        }
        suspects
    }

    /// One misread explains more than two: where a suspect cannot be told from others, tries each
    /// of them in its place, and keeps the exchange that leaves the fewest observations out.
    fn fewest(&mut self) -> Vec<Suspect> {
        let mut suspects = self.suspects();
        let mut tries = MAX_EXCHANGES;
        'again: while suspects.len() > 1 {
            for suspect in &suspects {
                for &other in &suspect.one_of[1..] {
                    if tries == 0 {
                        return suspects;
                    }
                    tries -= 1;
                    let kept = (self.state.clone(), self.used.clone());
                    self.used[suspect.observation] = true;
                    self.used[other] = false;
                    self.settle();
                    self.take_back();
                    self.test_each();
                    let out = self.used.iter().filter(|used| !**used).count();
                    if out < suspects.len() {
                        suspects = self.suspects();
                        continue 'again;
                    }
                    (self.state, self.used) = kept;
                }
            }
            break;
        }
        suspects
    }

    /// Solves with what is used now, near enough to go on testing.
    fn settle(&mut self) {
        self.settle_to(ROUGH_STEP);
    }

    fn settle_to(&mut self, enough: f64) {
        let mut weight = self.network.standing.clone();
        for (observation, used) in self.used.iter().enumerate() {
            if !used {
                weight[self.rows(observation)].fill(0.0);
            }
        }
        self.state
            .settle(self.problem, self.network, &weight, enough);
    }

    /// The row of an excluded observation that the rest predicts worst.
    fn seen(&self, observation: usize) -> Seen {
        let seen = self.rows(observation).map(|row| {
            let q = self.network.row_half(&self.state, row).variance();
            Seen {
                row,
                t: self.state.linear.residual[row] / (1.0 + q).sqrt(),
                q,
            }
        });
        let first = Seen {
            row: self.network.first_row[observation],
            t: 0.0,
            q: 0.0,
        };
        seen.fold(first, |worst, seen| {
            if seen.t.abs() > worst.t.abs() {
                seen
            } else {
                worst
            }
        })
    }

    /// Q·aᵀ of a row, by position.
    fn solved(&self, row: usize) -> Vec<f64> {
        let mut vector = self.network.spread_row(&self.state.linear, row);
        self.network.pattern.solve(&self.state.factor, &mut vector);
        vector
    }

    /// Takes excluded observations back, best first, while the rest predicts them; those that are
    /// predicted well come together.
    fn take_back(&mut self) {
        for _ in 0..MAX_ROUNDS {
            let out: Vec<(usize, f64)> = (0..self.used.len())
                .filter(|&o| !self.used[o])
                .map(|o| (o, self.seen(o).t.abs()))
                .collect();
            let best = out.iter().map(|(_, t)| *t).fold(f64::INFINITY, f64::min);
            if best > LIMIT {
                return;
            }
            for (observation, t) in out {
                if t <= best.max(WELL_PREDICTED) {
                    self.used[observation] = true;
                }
            }
            self.settle();
        }
    }

    /// Takes out the observation with the largest test value, until none is above the limit.
    fn test_each(&mut self) {
        for _ in 0..MAX_ROUNDS {
            let inverse = self.network.pattern.inverse(&self.state.factor);
            let mut worst: Option<(usize, f64)> = None;
            for observation in (0..self.used.len()).filter(|&o| self.used[o]) {
                for row in self.rows(observation) {
                    let r = 1.0 - self.network.row_variance(&self.state.linear, &inverse, row);
                    if r < NO_REDUNDANCY || self.state.linear.blind[row] {
                        continue;
                    }
                    let w = self.state.linear.residual[row].abs() / r.sqrt();
                    if w > LIMIT && worst.is_none_or(|(_, most)| w > most) {
                        worst = Some((observation, w));
                    }
                }
            }
            let Some((observation, _)) = worst else {
                return;
            };
            self.used[observation] = false;
            self.settle();
        }
    }

    fn suspects(&self) -> Vec<Suspect> {
        let inverse = self.network.pattern.inverse(&self.state.factor);
        let mut suspects: Vec<Suspect> = (0..self.used.len())
            .filter(|&o| !self.used[o])
            .map(|o| self.suspect(o, &inverse))
            .collect();
        sort_by(&mut suspects, |a, b| {
            b.t.abs()
                .total_cmp(&a.t.abs())
                .then(a.observation.cmp(&b.observation))
        });
        suspects
    }

    fn suspect(&self, observation: usize, inverse: &Entries) -> Suspect {
        let Seen { row, t, q } = self.seen(observation);
        let solved = self.solved(row);
        let sigma = self.problem.observations[observation].sigma;
        let mut one_of = vec![observation];
        for other in (0..self.used.len()).filter(|&o| self.used[o]) {
            let alike = self
                .rows(other)
                .any(|row| self.likeness(row, &solved, q, inverse) > INSEPARABLE);
            if alike {
                one_of.push(other);
            }
        }
        let factor = self.state.linear.residual[row] / (1.0 + q);
        Suspect {
            observation,
            error: self.state.linear.residual[row] * sigma,
            sigma: sigma * (1.0 + q).sqrt(),
            t,
            one_of,
            pull: solved.iter().map(|v| v * factor).collect(),
        }
    }

    /// Absolute correlation of a used row's test quantity with the suspect's, as if the suspect
    /// counted: from Q' = Q − Q aᵀ a Q / (1 + q).
    fn likeness(&self, row: usize, solved: &[f64], q: f64, inverse: &Entries) -> f64 {
        let c = self.network.row_times(&self.state.linear, row, solved);
        let r = 1.0 - self.network.row_variance(&self.state.linear, inverse, row);
        let own = r.max(0.0) + c * c / (1.0 + q);
        // Without redundancy even then, the row says nothing about the suspect.
        if own < NO_REDUNDANCY {
            return 0.0;
        }
        c.abs() / (own * (1.0 + q)).sqrt()
    }
}
