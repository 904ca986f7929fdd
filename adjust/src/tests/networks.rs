//! Textbook networks to their printed digits.

use approx::assert_abs_diff_eq;

use super::*;

mod data;

/// A coordinate that is held, metres: coordinates of kilometres leave no more digits.
const HELD: f64 = 1e-5;

/// One published network; heights use the third axis, level distances the first two.
struct Network {
    source: &'static str,
    /// Free: the points flagged hold the datum by inner constraints; else they are fixed.
    free: bool,
    points: &'static [(Vec3, [bool; 3])],
    /// From, to, value, spread a priori.
    rows: &'static [(usize, usize, f64, f64)],
    scale: f64,
    /// Point, axis, coordinate, spread a posteriori.
    published: &'static [(usize, usize, f64, f64)],
}

impl Network {
    fn is_heights(&self) -> bool {
        self.published[0].1 == 2
    }

    /// The axes that the network determines.
    fn axes(&self) -> &'static [usize] {
        if self.is_heights() { &[2] } else { &[0, 1] }
    }

    fn problem(&self) -> (Problem, Vec<Block>) {
        let mut problem = Problem::new();
        let blocks: Vec<Block> = self
            .points
            .iter()
            .map(|(at, held)| {
                let spread = [0, 1, 2].map(|axis| {
                    let determined = self.axes().contains(&axis);
                    let holds = held[axis] && !(self.free && determined);
                    if holds { HELD } else { FREE }
                });
                problem.block(Some(0), at, &spread)
            })
            .collect();
        for &(from, to, value, sigma) in self.rows {
            let (from, to) = (blocks[from], blocks[to]);
            let sight = if self.is_heights() {
                let term = |block, factor| Term {
                    block,
                    axis: 2,
                    factor,
                };
                Sight::Linear(LinearForm(vec![term(from, -1.0), term(to, 1.0)]))
            } else {
                Sight::DatumSpan { from, to }
            };
            problem.observe(Observation {
                sight,
                value: [value, 0.0, 0.0],
                sigma: sigma * self.scale,
            });
        }
        if self.free {
            self.hold_datum(&mut problem, &blocks);
        }
        (problem, blocks)
    }

    /// Inner constraints: the flagged points neither shift nor turn as a whole (E. Mittermayer, *A
    /// generalisation of the least-squares method for the adjustment of free networks*, Bulletin
    /// géodésique 104 (1972), from memory).
    fn hold_datum(&self, problem: &mut Problem, blocks: &[Block]) {
        let count = self.points.len() as f64;
        let middle =
            [0, 1].map(|axis| self.points.iter().map(|(at, _)| at[axis]).sum::<f64>() / count);
        let mut hold = |factor: &dyn Fn(Vec3, usize) -> f64| {
            let mut terms = Vec::new();
            let mut value = 0.0;
            for ((at, held), &block) in self.points.iter().zip(blocks) {
                for &axis in self.axes().iter().filter(|&&axis| held[axis]) {
                    let factor = factor(*at, axis);
                    value += factor * at[axis];
                    terms.push(Term {
                        block,
                        axis,
                        factor,
                    });
                }
            }
            problem.prior(LinearForm(terms), value, HELD);
        };
        for &kept in self.axes() {
            hold(&|_, axis| f64::from(u8::from(axis == kept)));
        }
        if !self.is_heights() {
            hold(&|at, axis| {
                if axis == 0 {
                    (middle[1] - at[1]) / 1000.0
                } else {
                    (at[0] - middle[0]) / 1000.0
                }
            });
        }
    }
}

#[test]
fn published_coordinates_and_spreads_come_out_to_their_printed_digits() {
    for network in data::NETWORKS {
        let (problem, blocks) = network.problem();
        let solution = adjust(problem, None);
        assert!(solution.report().converged, "{}", network.source);
        assert!(
            solution.suspects().is_empty(),
            "{}: {:?}",
            network.source,
            solution
                .suspects()
                .iter()
                .map(|s| (s.observation, s.error, s.t))
                .collect::<Vec<_>>()
        );
        // Half of the last printed place: 0.1 mm; spreads are printed to 0.01 mm, distances' to
        // 0.001 cm, and a free network's datum turns about its approximate places.
        for &(point, axis, value, sigma) in network.published {
            let form = LinearForm(vec![Term {
                block: blocks[point],
                axis,
                factor: 1.0,
            }]);
            assert_abs_diff_eq!(solution.value(&form), value, epsilon = 5.1e-5);
            assert_abs_diff_eq!(solution.variance(&form).sqrt(), sigma, epsilon = 6e-6);
        }
    }
}

/// The sum of all redundancy numbers is the number of observations that are not needed: counted by
/// hand from each network, with the datum's own unknowns.
#[test]
fn redundancy_numbers_add_up_to_what_is_not_needed() {
    for network in data::NETWORKS {
        let (problem, _) = network.problem();
        let (_, redundancy, rows) = adjust(problem, None).fit();
        let unknown = network.published.len() as f64;
        let datum = match (network.free, network.is_heights()) {
            (false, _) => 0.0,
            (true, true) => 1.0,
            (true, false) => 3.0,
        };
        assert_abs_diff_eq!(redundancy, rows as f64 - unknown + datum, epsilon = 5e-3);
    }
}

/// W. Höpke's list has 1789.499 where his results need 1789.449: a misprint of 50 mm that snooping
/// names first, with 34.3 spreads and its size (Krumm; numpy: w 34.26, estimated error 0.0501).
#[test]
fn a_misprint_in_a_textbook_is_found_with_its_size() {
    let network = data::NETWORKS
        .iter()
        .find(|network| network.source.contains("Höpke"))
        .unwrap();
    let (mut problem, _) = network.problem();
    let at = network
        .rows
        .iter()
        .position(|row| (row.2 - 1789.449).abs() < 1e-6)
        .unwrap();
    problem.observations[at].value[0] = 1789.499;
    let solution = adjust(problem, None);
    let suspect = &solution.suspects()[0];
    assert_eq!(suspect.observation, at);
    assert_abs_diff_eq!(suspect.error, 0.05, epsilon = 0.005);
}
