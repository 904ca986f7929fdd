//! The regression against figures from outside.

use approx::assert_relative_eq;

use crate::damage::regression::{Regression, Whitening};

/// Certified values of NIST StRD 'Norris' (linear, lower difficulty; itl.nist.gov, statistical
/// reference datasets): B0 −0.262323073774029, B1 1.00211681802045, residual standard deviation
/// 0.884796396144373 with 34 degrees of freedom.
const NORRIS: [(f64, f64); 36] = [
    (0.1, 0.2),
    (338.8, 337.4),
    (118.1, 118.2),
    (888.0, 884.6),
    (9.2, 10.1),
    (228.1, 226.5),
    (668.5, 666.3),
    (998.5, 996.3),
    (449.1, 448.6),
    (778.9, 777.0),
    (559.2, 558.2),
    (0.3, 0.4),
    (0.1, 0.6),
    (778.1, 775.5),
    (668.8, 666.9),
    (339.3, 338.0),
    (448.9, 447.5),
    (10.8, 11.6),
    (557.7, 556.0),
    (228.3, 228.1),
    (998.0, 995.8),
    (888.8, 887.6),
    (119.6, 120.2),
    (0.3, 0.3),
    (0.6, 0.3),
    (557.6, 556.8),
    (339.3, 339.1),
    (888.0, 887.2),
    (998.5, 999.0),
    (778.9, 779.0),
    (10.2, 11.1),
    (117.6, 118.3),
    (228.9, 229.2),
    (668.4, 669.1),
    (449.2, 448.9),
    (0.2, 0.5),
];

#[test]
fn a_straight_line_has_the_certified_values() {
    let y: Vec<f64> = NORRIS.iter().map(|(y, _)| *y).collect();
    let columns = vec![vec![1.0; 36], NORRIS.iter().map(|(_, x)| *x).collect()];
    let mut regression = Regression::new(&columns, &y);
    regression.sweep(&[0, 1]);
    let (b0, s0) = regression.estimate(0).unwrap();
    let (b1, s1) = regression.estimate(1).unwrap();
    let rsd = (regression.left() / 34.0).sqrt();
    assert_relative_eq!(b0, -0.262_323_073_774_029, max_relative = 1e-8);
    assert_relative_eq!(b1, 1.002_116_818_020_45, max_relative = 1e-11);
    assert_relative_eq!(rsd, 0.884_796_396_144_373, max_relative = 1e-6);
    // Certified standard deviations of the estimates.
    assert_relative_eq!(s0 * rsd, 0.232_818_234_301_152, max_relative = 1e-6);
    assert_relative_eq!(s1 * rsd, 0.429_796_848_199_937e-3, max_relative = 1e-6);
}

#[test]
fn a_column_swept_out_again_leaves_no_trace() {
    let y: Vec<f64> = NORRIS.iter().map(|(y, _)| *y).collect();
    let columns = vec![vec![1.0; 36], NORRIS.iter().map(|(_, x)| *x).collect()];
    let mut regression = Regression::new(&columns, &y);
    regression.sweep(&[0]);
    let (before, gain) = (regression.left(), regression.gain(&[1]).unwrap());
    regression.sweep(&[1]);
    assert_relative_eq!(before - regression.left(), gain, max_relative = 1e-9);
    regression.sweep(&[1]);
    assert_relative_eq!(regression.left(), before, max_relative = 1e-9);
}

/// Correlated rows weigh as their covariance says: the mean of two values with variances 1 and 4 and
/// covariance 1 has weights 1 and 0 (generalised least squares by hand), variance 1.
#[test]
fn whitening_gives_correlated_rows_their_weight() {
    let whitening = Whitening::new(&[vec![1.0, 1.0], vec![1.0, 4.0]]);
    let column = whitening.whiten(&[1.0, 1.0]);
    let values = whitening.whiten(&[10.0, 99.0]);
    let mut regression = Regression::new(&[column], &values);
    regression.sweep(&[0]);
    let (mean, sigma) = regression.estimate(0).unwrap();
    assert_relative_eq!(mean, 10.0, max_relative = 1e-12);
    assert_relative_eq!(sigma, 1.0, max_relative = 1e-12);
}
