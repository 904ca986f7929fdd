//! Derivatives of every kind against central differences, and slips against what they look like.

use super::slip::{Read, Slip, likely};
use super::*;
use crate::geometry::{Normal, Up};
use approx::{assert_abs_diff_eq, assert_relative_eq};

/// x: a, b, roll, pitch, level, yaw, offset.
type Unknowns = [f64; 11];
const HERE: Unknowns = [
    -60.0, -545.0, 840.0, 410.0, 530.0, 700.0, 0.011, -0.007, 1200.0, 0.013, 25.0,
];

fn check(predict: impl Fn(&Unknowns) -> Prediction) {
    let at = predict(&HERE);
    let analytic: Vec<f64> = at
        .by_a
        .into_iter()
        .chain(at.by_b)
        .chain(at.by_tilt)
        .chain([at.by_level])
        .chain(at.by_plumb)
        .collect();
    for (i, derivative) in analytic.into_iter().enumerate() {
        let step = if HERE[i].abs() < 1.0 { 1e-6 } else { 1e-3 };
        let (mut more, mut less) = (HERE, HERE);
        more[i] += step;
        less[i] -= step;
        let numeric = (predict(&more).value - predict(&less).value) / (2.0 * step);
        assert_relative_eq!(derivative, numeric, epsilon = 1e-6, max_relative = 1e-6);
    }
}

fn a(x: &Unknowns) -> Vec3 {
    [x[0], x[1], x[2]]
}
fn b(x: &Unknowns) -> Vec3 {
    [x[3], x[4], x[5]]
}
fn normal(x: &Unknowns, axis: Vec3) -> Normal {
    Normal::turned(axis, Up::tilted(x[6], x[7]), x[9])
}

#[test]
fn derivatives_of_every_kind() {
    check(|x| height::predict(a(x), Up::tilted(x[6], x[7]), x[8], 1.0));
    check(|x| height::predict(a(x), Up::tilted(x[6], x[7]), x[8], -1.0));
    check(|x| offset::predict(a(x), normal(x, [0.0, 1.0, 0.0]), x[10], 1.0));
    check(|x| offset::predict(a(x), normal(x, [1.0, 0.0, 0.0]), x[10], -1.0));
    check(|x| split::predict(a(x), b(x), normal(x, [0.0, 1.0, 0.0]), x[10]).unwrap());
    check(|x| split::predict(a(x), b(x), normal(x, [1.0, 0.0, 0.0]), x[10]).unwrap());
    check(|x| span::predict(a(x), b(x)).unwrap());
    check(|x| datum_span::predict(a(x), b(x)).unwrap());
}

#[test]
fn derivatives_of_a_fix() {
    let here = [-60.0, -545.0, 840.0, 0.4, -0.9, 1.3, 1500.0, -220.0, 90.0];
    let at =
        |x: &[f64; 9]| fix::predict([x[0], x[1], x[2]], [x[3], x[4], x[5]], [x[6], x[7], x[8]]);
    let analytic = at(&here);
    for i in 0..6 {
        let step = if i < 3 { 1e-3 } else { 1e-6 };
        let (mut more, mut less) = (here, here);
        more[i] += step;
        less[i] -= step;
        for axis in 0..3 {
            let numeric = (at(&more).value[axis] - at(&less).value[axis]) / (2.0 * step);
            let derivative = if i < 3 {
                analytic.by_point[axis][i]
            } else {
                analytic.by_rotation[axis][i - 3]
            };
            assert_relative_eq!(derivative, numeric, epsilon = 1e-5, max_relative = 1e-6);
        }
    }
}

#[test]
fn a_split_at_the_middle_of_a_level_pair_reads_half_the_width() {
    let normal = Normal::turned([0.0, 1.0, 0.0], Up::tilted(0.0, 0.0), 0.0);
    let at = split::predict([0.0, -545.0, 840.0], [0.0, 545.0, 840.0], normal, 0.0).unwrap();
    assert_abs_diff_eq!(at.value, 545.0, epsilon = 1e-12);
}

#[test]
fn what_has_no_direction_predicts_nothing() {
    let p = [1.0, 2.0, 3.0];
    let normal = Normal::turned([0.0, 1.0, 0.0], Up::tilted(0.0, 0.0), 0.0);
    assert_eq!(span::predict(p, p), None);
    assert_eq!(datum_span::predict(p, [1.0, 2.0, 9.0]), None);
    assert_eq!(split::predict(p, p, normal, 0.0), None);
    assert_eq!(
        split::predict([0.0; 3], [1000.0, 0.0, 0.0], normal, 0.0),
        None
    );
}

#[test]
fn best_fit_finds_a_turn_and_never_a_mirror() {
    let from = [
        [0.0, 0.0, 0.0],
        [1000.0, 0.0, 0.0],
        [0.0, 700.0, 0.0],
        [0.0, 0.0, 300.0],
    ];
    let (w, t) = ([0.3, -2.1, 0.9], [1500.0, -220.0, 90.0]);
    let to: Vec<Vec3> = from.iter().map(|p| fix::predict(*p, w, t).value).collect();
    let (found, moved) = fix::best_fit(&from, &to);
    for (p, q) in from.iter().zip(&to) {
        let seen = fix::predict(*p, found, moved).value;
        assert_abs_diff_eq!(seen[..], q[..], epsilon = 1e-8);
    }
}

#[test]
fn slips_are_named_when_the_number_fits() {
    let check = |read, value, error, slip| assert_eq!(likely(read, value, error, 0.9), slip);
    check(Read::Tape, 817.0, 99.6, Some(Slip::HundredMark));
    check(Read::Height, 191.0, 100.3, Some(Slip::Hundred));
    check(Read::Height, 41.0, 82.0, Some(Slip::BeamSide));
    check(Read::Offset, 541.0, 1082.0, Some(Slip::WrongSide));
    check(Read::Tape, 1717.0, 1000.4, Some(Slip::Thousand));
    check(Read::Height, 101.0, 9.8, Some(Slip::Ten));
    check(Read::Tape, 742.4, -25.0, Some(Slip::Inch));
    // 541 read as 514 is 27 too few.
    check(Read::Offset, 514.0, -27.2, Some(Slip::SwappedDigits));
    check(Read::Height, 96.0, 6.3, None);
    check(Read::Height, 96.0, 1.0, None);
}
