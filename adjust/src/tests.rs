//! The adjustment against published networks and independent programs.
//!
//! Only numbers are used, each with its source. Networks from F. Krumm, *Geodetic Network Adjustment
//! Examples*, rev. 3.5 (2020), as published by the authors named at each; 'scipy' is an independent
//! solution by scipy 1.17.1 `least_squares`, which agrees with GNU Gama 2.33 to its printed digits.

use approx::assert_abs_diff_eq;

use super::*;
use crate::geometry::Vec3;

mod gum;
mod networks;
mod nist;
mod panels;

/// A block that stays where it is.
const FIXED: f64 = 1e-7;
/// A block that may go anywhere.
const FREE: f64 = 1e7;

fn point(problem: &mut Problem, at: Vec3, spread: f64) -> Block {
    problem.block(Some(0), &at, &[spread; 3])
}

fn span(problem: &mut Problem, from: Block, to: Block, value: f64, sigma: f64) -> usize {
    problem.observe(Observation {
        sight: Sight::Span { from, to },
        value: [value, 0.0, 0.0],
        sigma,
    })
}

fn check(
    solution: &Solution,
    block: Block,
    xyz: Vec3,
    sigma: Vec3,
    (near, near_sigma): (f64, f64),
) {
    assert!(solution.report().converged);
    for axis in 0..3 {
        assert_abs_diff_eq!(solution.block(block)[axis], xyz[axis], epsilon = near);
        let form = LinearForm(vec![Term {
            block,
            axis,
            factor: 1.0,
        }]);
        assert_abs_diff_eq!(
            solution.variance(&form).sqrt(),
            sigma[axis],
            epsilon = near_sigma
        );
    }
}

/// H. Wolf, *Ausgleichungsrechnung II* (1979), p. 87: four distances in space to one point, metres.
#[test]
fn wolf_spatial_distances() {
    let mut problem = Problem::new();
    let fixed = [
        [1200.0, 900.0, 900.0],
        [900.0, 600.0, 900.0],
        [600.0, 900.0, 900.0],
        [900.0, 1200.0, 900.0],
    ]
    .map(|at| point(&mut problem, at, FIXED));
    let p = point(&mut problem, [900.0, 900.0, 1300.0], FREE);
    for (from, value) in fixed.into_iter().zip([499.99, 500.00, 500.01, 500.02]) {
        span(&mut problem, from, p, value, 0.01);
    }
    let solution = adjust(problem, None);
    check(
        &solution,
        p,
        [900.0167, 899.9833, 1300.0062],
        [0.011_785_231, 0.011_785_231, 0.006_249_965],
        (5e-5, 5e-6),
    );
}

/// Strang and Borre, *Linear Algebra, Geodesy, and GPS* (1997), example 10.1, p. 345: three level
/// distances, metres. The published spreads are scaled by the a-posteriori factor 3.30293245.
#[test]
fn strang_borre_level_distances() {
    const SCALE: f64 = 3.302_932_45;
    let mut problem = Problem::new();
    let fixed = [
        [170.71, 270.71, 0.0],
        [100.0, 100.0, 5.0],
        [241.42, 100.0, -3.0],
    ]
    .map(|at| point(&mut problem, at, FIXED));
    let p = problem.block(Some(0), &[170.71, 170.71, 1.0], &[FREE, FREE, FIXED]);
    for (from, value) in fixed.into_iter().zip([100.01, 100.02, 100.03]) {
        let sight = Sight::DatumSpan { from, to: p };
        problem.observe(Observation {
            sight,
            value: [value, 0.0, 0.0],
            sigma: 0.01 * SCALE,
        });
    }
    let solution = adjust(problem, None);
    check(
        &solution,
        p,
        [170.7029, 170.7234, 1.0],
        [0.033_03, 0.023_35, 0.0],
        (5e-5, 5e-6),
    );
}

/// C. Ghilani, *Adjustment Computations*, 5th ed. (2010), example 12.6, p. 218: six height
/// differences from one benchmark, metres. The published spreads are scaled by 0.6511842618.
#[test]
fn ghilani_levelling() {
    const SCALE: f64 = 0.651_184_261_8;
    let mut problem = Problem::new();
    let a = problem.block(None, &[437.596], &[FIXED]);
    let [b, c, d] =
        [448.105, 453.465, 444.942].map(|height| problem.block(Some(0), &[height], &[FREE]));
    for (from, to, value, sigma) in [
        (a, b, 10.509, 0.006),
        (b, c, 5.360, 0.004),
        (c, d, -8.523, 0.005),
        (d, a, -7.348, 0.003),
        (b, d, -3.167, 0.004),
        (a, c, 15.881, 0.012),
    ] {
        let term = |block, factor| Term {
            block,
            axis: 0,
            factor,
        };
        let sight = Sight::Linear(LinearForm(vec![term(to, 1.0), term(from, -1.0)]));
        problem.observe(Observation {
            sight,
            value: [value, 0.0, 0.0],
            sigma: sigma * SCALE,
        });
    }
    let solution = adjust(problem, None);
    for (block, height, sigma) in [
        (b, 448.1087, 0.002_30),
        (c, 453.4685, 0.002_64),
        (d, 444.9436, 0.001_76),
    ] {
        assert_abs_diff_eq!(solution.block(block)[0], height, epsilon = 5e-5);
        let form = LinearForm(vec![Term {
            block,
            axis: 0,
            factor: 1.0,
        }]);
        assert_abs_diff_eq!(solution.variance(&form).sqrt(), sigma, epsilon = 5e-6);
    }
}

/// Blankenbach and Willert, AVN 8-9 (2009), 320-327: eight distances in space to one point with two
/// published blunders, MS-51 (0) and MS-103 (6), metres.
fn blankenbach_willert() -> (Problem, Block) {
    let mut problem = Problem::new();
    let p = point(&mut problem, [-2.59, 24.22, 9.62], FREE);
    for (at, value) in [
        ([-8.62, 27.42, 10.29], 8.20),
        ([-4.95, 27.30, 10.04], 3.85),
        ([-4.85, 20.69, 10.51], 4.35),
        ([0.52, 22.59, 9.77], 3.51),
        ([-6.12, 25.48, 10.92], 3.98),
        ([0.45, 27.39, 10.75], 4.37),
        ([0.61, 17.19, 9.71], 8.17),
        ([-7.88, 22.45, 10.16], 5.73),
    ] {
        let fixed = point(&mut problem, at, FIXED);
        span(&mut problem, p, fixed, value, 0.05);
    }
    (problem, p)
}

#[test]
fn exactly_the_two_published_blunders_are_found() {
    let (problem, p) = blankenbach_willert();
    let solution = adjust(problem, None);
    let mut suspects: Vec<usize> = solution
        .suspects()
        .iter()
        .map(|suspect| suspect.observation)
        .collect();
    suspects.sort_unstable();
    assert_eq!(suspects, [0, 6]);
    // Without the two (scipy, recomputed with numpy): -2.50774651, 24.32021815, 9.77531570.
    check(
        &solution,
        p,
        [-2.507_746_51, 24.320_218_15, 9.775_315_70],
        [0.0288, 0.0346, 0.1359],
        (1e-6, 5e-5),
    );
}

/// Ten body points, tape, datum-parallel distances and heights from two level set-ups, millimetres;
/// three points hold the datum. Made for these checks, solved by scipy and by GNU Gama.
struct TenPoints {
    problem: Problem,
    points: Vec<Block>,
    setups: [Block; 2],
}

const PLACES: [Vec3; 10] = [
    [0.0, -450.0, 180.0],
    [0.0, 450.0, 180.0],
    [1400.0, -520.0, 150.0],
    [1400.0, 520.0, 150.0],
    [-950.0, -380.0, 420.0],
    [-945.0, 392.0, 418.0],
    [-1350.0, -520.0, 690.0],
    [-1338.0, 531.0, 684.0],
    [-620.0, -600.0, 810.0],
    [-622.0, 597.0, 812.0],
];
const TAPES: [(usize, usize, f64); 26] = [
    (0, 3, 1705.0),
    (1, 3, 1399.5),
    (2, 3, 1040.0),
    (0, 4, 982.5),
    (0, 5, 1288.0),
    (1, 4, 1285.5),
    (1, 5, 977.0),
    (4, 5, 772.0),
    (0, 7, 1734.5),
    (1, 6, 1739.5),
    (0, 6, 1445.0),
    (1, 7, 1432.5),
    (6, 7, 1051.5),
    (4, 7, 1025.0),
    (5, 6, 1033.5),
    (4, 6, 502.0),
    (5, 7, 494.5),
    (0, 8, 896.5),
    (1, 9, 898.5),
    (0, 9, 1372.5),
    (1, 8, 1373.5),
    (8, 9, 1196.5),
    (8, 7, 1348.0),
    (9, 6, 1338.5),
    (2, 9, 2405.0),
    (3, 8, 2402.5),
];
const PARALLEL: [(usize, usize, f64); 4] = [
    (2, 7, 2932.5),
    (3, 6, 2937.5),
    (2, 5, 2516.5),
    (3, 4, 2515.5),
];
const HEIGHTS: [(usize, usize, f64); 16] = [
    (0, 0, 215.5),
    (0, 1, 215.0),
    (0, 2, 184.5),
    (0, 3, 184.5),
    (0, 4, 455.0),
    (0, 5, 453.5),
    (0, 6, 725.5),
    (0, 7, 718.5),
    (1, 0, 120.0),
    (1, 1, 120.0),
    (1, 4, 360.5),
    (1, 5, 358.5),
    (1, 6, 630.0),
    (1, 7, 625.0),
    (1, 8, 750.0),
    (1, 9, 751.5),
];

impl TenPoints {
    fn new(datum: f64, blunder_mm: f64) -> Self {
        let mut problem = Problem::new();
        let spread = |index: usize| if index < 3 { datum } else { FREE };
        let points: Vec<Block> = PLACES
            .iter()
            .enumerate()
            .map(|(i, at)| point(&mut problem, *at, spread(i)))
            .collect();
        let tilt = problem.block(Some(0), &[0.0; 2], &[1e-12; 2]);
        let setups = [-35.0, 60.0].map(|height| problem.block(Some(0), &[height], &[FREE]));
        for (index, (a, b, value)) in TAPES.into_iter().enumerate() {
            let error = if index == 13 { blunder_mm } else { 0.0 };
            span(&mut problem, points[a], points[b], value + error, 1.0);
        }
        for (a, b, value) in PARALLEL {
            let sight = Sight::DatumSpan {
                from: points[a],
                to: points[b],
            };
            problem.observe(Observation {
                sight,
                value: [value, 0.0, 0.0],
                sigma: 1.5,
            });
        }
        for (setup, index, value) in HEIGHTS {
            let sight = Sight::Height {
                point: points[index],
                tilt,
                level: setups[setup],
                sign: -1.0,
            };
            problem.observe(Observation {
                sight,
                value: [value, 0.0, 0.0],
                sigma: 0.5,
            });
        }
        Self {
            problem,
            points,
            setups,
        }
    }
}

#[test]
fn ten_body_points_with_three_fixed() {
    let TenPoints {
        problem,
        points,
        setups,
    } = TenPoints::new(FIXED, 0.0);
    let solution = adjust(problem, None);
    let near = (1e-4, 1e-5);
    for (index, xyz, sigma) in [
        (
            3,
            [1_398.577_526_883, 521.023_140_261, 149.546_955_642],
            [0.699_867_234, 0.918_349_725, 0.555_254_686],
        ),
        (
            4,
            [-950.467_502_676, -380.682_116_752, 420.244_575_126],
            [0.713_512_743, 0.999_433_745, 0.415_109_287],
        ),
        (
            5,
            [-945.715_064_945, 391.152_710_082, 418.477_403_885],
            [0.703_867_414, 0.997_377_872, 0.414_819_045],
        ),
        (
            7,
            [-1_338.493_175_675, 531.093_053_685, 684.201_925_666],
            [0.829_809_532, 1.249_369_028, 0.415_101_800],
        ),
        (
            9,
            [-623.716_022_761, 596.432_818_184, 811.326_779_685],
            [0.926_188_235, 0.890_715_502, 0.552_421_104],
        ),
    ] {
        check(&solution, points[index], xyz, sigma, near);
    }
    for (setup, height, sigma) in [
        (setups[0], -34.912_068_015, 0.248_473_224),
        (setups[1], 59.864_768_214, 0.274_899_156),
    ] {
        assert_abs_diff_eq!(solution.block(setup)[0], height, epsilon = near.0);
        let form = LinearForm(vec![Term {
            block: setup,
            axis: 0,
            factor: 1.0,
        }]);
        assert_abs_diff_eq!(solution.variance(&form).sqrt(), sigma, epsilon = near.1);
    }
    let (chi2, redundancy, rows) = solution.fit();
    assert_eq!(rows, 46);
    assert_abs_diff_eq!(chi2, 21.723_958_293_7, epsilon = 1e-4);
    assert_abs_diff_eq!(redundancy, 23.0, epsilon = 1e-4);
    // Redundancy and w of the first tape (scipy): 0.679660386, 2.560076199.
    let first = solution.tested(0);
    assert_abs_diff_eq!(first.redundancy, 0.679_660_386, epsilon = 1e-5);
    assert_abs_diff_eq!(first.w.unwrap().abs(), 2.560_076_199, epsilon = 1e-4);
}

/// Ten millimetres on the tape C_L-D_R: the largest test value there, 5.2064, estimated error 8.70 mm
/// (GNU Gama 2.33 and scipy).
#[test]
fn a_blunder_of_ten_millimetres_is_named_with_its_size() {
    let solution = adjust(TenPoints::new(FIXED, 10.0).problem, None);
    let suspect = &solution.suspects()[0];
    assert_eq!(suspect.observation, 13);
    // Ours is predicted without the row, theirs is linear in it.
    assert_abs_diff_eq!(suspect.t.abs(), 5.2064, epsilon = 5e-3);
    assert_abs_diff_eq!(suspect.error, 8.70, epsilon = 0.02);
}

/// Standard values: normal quantile at 1 - 0.001/2 and its sum with the quantile of power 0.80.
#[test]
fn limits_are_the_quantiles_they_claim() {
    assert_abs_diff_eq!(crate::LIMIT, 3.290_526_731_5, epsilon = 1e-9);
    assert_abs_diff_eq!(NON_CENTRALITY, LIMIT + 0.841_621_233_6, epsilon = 1e-9);
}

/// With one redundant row every test value is the same: nobody can say which row is wrong.
#[test]
fn one_redundant_row_names_all_rows() {
    let mut problem = Problem::new();
    let [a, b] = [0.0, 1000.0].map(|x| point(&mut problem, [x, 0.0, 0.0], FIXED));
    let p = problem.block(Some(0), &[500.0, 0.0, 0.0], &[FREE, FIXED, FIXED]);
    span(&mut problem, a, p, 500.0, 1.0);
    span(&mut problem, p, b, 510.0, 1.0);
    let solution = adjust(problem, None);
    let suspects = solution.suspects();
    assert_eq!(suspects.len(), 1);
    assert_eq!(suspects[0].one_of.len(), 2);
    assert!(!solution.uses(0) && !solution.uses(1));
}
