//! The elimination by panels against a dense textbook solution of the same equations.

use approx::assert_relative_eq;

use super::*;
use crate::network::{Linear, Network};
use crate::prior::Prior;
use crate::sparse::Entries;
use rand::rngs::StdRng;
use rand::{Rng as _, SeedableRng as _};

type Dense = Vec<Vec<f64>>;

/// Inverse of a positive definite matrix by Gauss and Jordan.
fn inverse(mut a: Dense) -> Dense {
    let n = a.len();
    let mut result: Dense = (0..n)
        .map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect())
        .collect();
    for pivot in 0..n {
        let d = a[pivot][pivot];
        for matrix in [&mut a, &mut result] {
            matrix[pivot].iter_mut().for_each(|entry| *entry /= d);
        }
        for row in (0..n).filter(|&row| row != pivot) {
            let factor = a[row][pivot];
            for matrix in [&mut a, &mut result] {
                let above = matrix[pivot].clone();
                let line = matrix[row].iter_mut().zip(above);
                line.for_each(|(entry, above)| *entry -= factor * above);
            }
        }
    }
    result
}

/// Sum of the outer products of all rows that count, by unknown.
fn normal(network: &Network, linear: &Linear, weight: &[f64]) -> Dense {
    let n = network.pattern.size();
    let mut normal = vec![vec![0.0; n]; n];
    for (row, w) in weight.iter().enumerate() {
        for i in network.terms(row) {
            for j in network.terms(row) {
                normal[network.unknown[i]][network.unknown[j]] +=
                    w * linear.coefficient[i] * linear.coefficient[j];
            }
        }
    }
    normal
}

/// Three stages of six points, each with a tilt and a level beam, on four points that they share.
fn three_stages() -> (Problem, Vec<Vec<Block>>, Vec<Block>) {
    let mut random = StdRng::seed_from_u64(0x00C0_FFEE_1234_5678);
    let mut place = |around: f64| [0, 1, 2].map(|_| around + random.random_range(-800.0..800.0));
    let mut problem = Problem::new();
    let shared: Vec<Block> = (0..4)
        .map(|_| problem.block(None, &place(0.0), &[3.0; 3]))
        .collect();
    let mut stages = Vec::new();
    for stage in 0..3 {
        let tilt = problem.block(Some(stage), &[0.01, -0.02], &[0.02; 2]);
        let level = problem.block(Some(stage), &[900.0], &[3000.0]);
        let points: Vec<Block> = (0..6)
            .map(|_| problem.block(Some(stage), &place(1500.0), &[300.0; 3]))
            .collect();
        for pair in points.chunks(2) {
            let term = |block, factor| Term {
                block,
                axis: 1,
                factor,
            };
            let form = LinearForm(vec![term(pair[0], 1.0), term(pair[1], 1.0)]);
            problem.prior(form, 0.0, 30.0);
            problem.ask_together(pair[0], pair[1]);
        }
        // A prior by way of a third block, and one from a stage to the tip.
        for (a, b) in [(points[1], points[2]), (points[0], shared[0])] {
            let term = |block, factor| Term {
                block,
                axis: 2,
                factor,
            };
            let form = LinearForm(vec![term(a, 1.0), term(b, -1.0)]);
            problem.prior(form, 0.0, 50.0);
        }
        let all: Vec<Block> = points.iter().chain(&shared).copied().collect();
        for (index, &from) in all.iter().enumerate() {
            let sight = Sight::Height {
                point: from,
                tilt,
                level,
                sign: 1.0,
            };
            problem.observe(Observation {
                sight,
                value: [10.0, 0.0, 0.0],
                sigma: 0.7,
            });
            for &to in all.iter().skip(index + 1).step_by(3) {
                span(&mut problem, from, to, 1000.0, 1.0);
            }
        }
        stages.push(points);
    }
    (problem, stages, shared)
}

#[test]
fn panels_give_what_a_dense_solution_gives() {
    let (problem, stages, shared) = three_stages();
    let network = Network::new(&problem);
    let mut linear = Linear::default();
    network.linearise(&problem, &problem.first_idea, &mut linear);
    let weight = vec![1.0; network.rows()];
    let (mut factor, right) = network.assemble(&linear, &weight, 1.0);
    assert_eq!(right.len(), network.right(&linear, &weight).len());
    for (a, b) in right.iter().zip(network.right(&linear, &weight)) {
        assert_relative_eq!(*a, b, max_relative = 1e-12, epsilon = 1e-12);
    }
    network.pattern.factor(&mut factor);
    let dense = inverse(normal(&network, &linear, &weight));
    let entries = network.pattern.inverse(&factor);
    let position = &network.pattern.position;
    let n = position.len();
    let near = |a: f64, b: f64, i: usize, j: usize| {
        let scale = (dense[i][i] * dense[j][j]).sqrt();
        assert!((a - b).abs() < 1e-10 * scale, "{i} {j}: {a} {b}");
    };
    let mut on_pattern = 0;
    for i in 0..n {
        near(entries.diagonal[position[i]], dense[i][i], i, i);
        let half = |k: usize| [(position[k], 1.0)].into_iter();
        let own = super::half::Half::new(&network.pattern, &factor, half(i));
        let mut solved = vec![0.0; n];
        solved[position[i]] = 1.0;
        network.pattern.solve(&factor, &mut solved);
        for j in 0..n {
            near(solved[position[j]], dense[i][j], i, j);
            let other = super::half::Half::new(&network.pattern, &factor, half(j));
            near(own.dot(&other), dense[i][j], i, j);
            if let Some(slot) = network.pattern.slot(position[i], position[j]) {
                near(entries.lower[slot], dense[i][j], i, j);
                on_pattern += usize::from(i != j);
            }
        }
    }
    assert!(on_pattern > n && on_pattern < n * (n - 1));
    assert_eq!((stages.len(), shared.len()), (3, 4));
}

#[test]
fn priors_alone_give_what_a_dense_solution_gives() {
    let (problem, stages, shared) = three_stages();
    let network = Network::new(&problem);
    let mut linear = Linear::default();
    network.linearise(&problem, &problem.first_idea, &mut linear);
    let mut weight = vec![1.0; network.rows()];
    weight[..network.observation_rows()].fill(0.0);
    let dense = inverse(normal(&network, &linear, &weight));
    let prior = Prior::new(&problem);
    let all: Vec<Block> = stages[0].iter().chain(&shared).copied().collect();
    let mut coupled = 0;
    for &a in &all {
        for &b in &all {
            for axis in 0..3 {
                let term = |block, factor| Term {
                    block,
                    axis,
                    factor,
                };
                let form = LinearForm(vec![term(a, 1.0), term(b, -0.5)]);
                let (p, q) = (problem.index(&form.0[0]), problem.index(&form.0[1]));
                let position = &network.pattern.position;
                let together = p == q || network.pattern.slot(position[p], position[q]).is_some();
                let between = if together { dense[p][q] } else { 0.0 };
                let expected = dense[p][p] + 0.25 * dense[q][q] - between;
                let variance = prior.variance(&problem, &network.pattern, &form);
                assert_relative_eq!(variance, expected, max_relative = 1e-10);
                coupled += usize::from(a != b && between.abs() > 1e-6);
            }
        }
    }
    assert!(coupled > 8, "{coupled}");
}

#[test]
fn readings_that_are_only_planned_change_a_variance_as_counting_ones_do() {
    let (problem, stages, shared) = three_stages();
    let solution = adjust(problem, None);
    let seen = |sight: Sight| Observation {
        sight,
        value: [1000.0, 0.0, 0.0],
        sigma: 0.8,
    };
    let forms: Vec<LinearForm> = (0..3)
        .map(|axis| {
            let term = |block, factor| Term {
                block,
                axis,
                factor,
            };
            LinearForm(vec![term(stages[2][0], 1.0), term(stages[2][3], -1.0)])
        })
        .collect();
    let planned = [(stages[2][0], shared[1]), (stages[2][3], stages[2][5])]
        .map(|(from, to)| solution.sighted(&seen(Sight::Span { from, to })).unwrap());
    let mut rows: Vec<Row> = forms.iter().map(|form| solution.row(form)).collect();
    rows.extend(planned);
    let joint = solution.joint(rows);
    // The same from the formula of a common covariance matrix: its inverse gains what readings say.
    let weight: Vec<f64> = (0..solution.network.rows())
        .map(|row| {
            if solution.state.linear.blind[row] {
                0.0
            } else {
                1.0
            }
        })
        .zip(observation_of_row(&solution))
        .map(|(w, of)| {
            if of.is_none_or(|of| solution.used[of]) {
                w
            } else {
                0.0
            }
        })
        .collect();
    let now = normal(&solution.network, &solution.state.linear, &weight);
    for count in 0..=2 {
        let mut after = now.clone();
        for (from, to) in [(stages[2][0], shared[1]), (stages[2][3], stages[2][5])]
            .into_iter()
            .take(count)
        {
            let (linear, unknowns) = solution.look(&seen(Sight::Span { from, to })).unwrap();
            for (i, a) in unknowns.iter().zip(&linear.coefficient) {
                for (j, b) in unknowns.iter().zip(&linear.coefficient) {
                    after[*i][*j] += a * b;
                }
            }
        }
        let dense = inverse(after);
        for (index, form) in forms.iter().enumerate() {
            let mut expected = 0.0;
            for a in &form.0 {
                for b in &form.0 {
                    let (p, q) = (solution.problem.index(a), solution.problem.index(b));
                    expected += a.factor * b.factor * dense[p][q];
                }
            }
            let variance = match count {
                0 => joint.covariance(index, index),
                1 => joint.variance_after(&joint.along(index), 3, None),
                _ => joint.variance_after(&joint.along(index), 3, Some(4)),
            };
            assert_relative_eq!(variance, expected, max_relative = 1e-9);
        }
    }
}

/// The observation of each row; `None` for priors.
fn observation_of_row(solution: &Solution) -> impl Iterator<Item = Option<usize>> {
    let observations = solution.network.first_row.windows(2).enumerate();
    let of_rows = observations.flat_map(|(of, rows)| (rows[0]..rows[1]).map(move |_| Some(of)));
    of_rows.chain(std::iter::repeat(None))
}

#[test]
fn carried_rows_add_what_their_products_add() {
    let (problem, stages, _) = three_stages();
    let solution = adjust(problem.clone(), None);
    let mut alone = problem;
    assert!(alone.carry(&solution.carried(1)));
    let network = Network::new(&alone);
    let mut linear = Linear::default();
    network.linearise(&alone, solution.unknowns(), &mut linear);
    let (entries, right): (Entries, Vec<f64>) = network.assemble(&linear, &network.standing, 1.0);
    let dense = normal(&network, &linear, &network.standing);
    let position = &network.pattern.position;
    for i in 0..position.len() {
        let along = (0..network.rows()).flat_map(|row| network.terms(row).map(move |k| (row, k)));
        let sum: f64 = along
            .filter(|(_, k)| network.unknown[*k] == i)
            .map(|(row, k)| network.standing[row] * linear.coefficient[k] * linear.residual[row])
            .sum();
        assert_relative_eq!(right[position[i]], sum, max_relative = 1e-9, epsilon = 1e-9);
        for j in 0..position.len() {
            let entry = match network.pattern.slot(position[i], position[j]) {
                Some(slot) => entries.lower[slot],
                None if i == j => entries.diagonal[position[i]],
                None => 0.0,
            };
            assert_relative_eq!(entry, dense[i][j], max_relative = 1e-9, epsilon = 1e-12);
        }
    }
    assert_eq!(stages.len(), 3);
}
