//! A car's own frame laid over the reference by the points that both trust.
//!
//! Millimetres. Each car has its own zero plane, datum and centre plane, and without a sheet some of
//! them are only conventions. A small rigid motion per car is fitted to its trusted points, weighted by
//! their whole covariance: what a car does not know of its own frame then costs nothing, and what the
//! motion was fitted to is taken out of the covariance.

use indexmap::IndexMap;

use super::dense::{Matrix, apply, inverse, mul, mul_transposed, transposed, zeros};
use crate::geometry::{Vec3, add, norm, rotation, scale, sub, turn};
use crate::ids::PointId;
use crate::solve::Positions;

/// Fewest points that a frame is laid over.
pub(super) const FEWEST: usize = 3;
/// Most that are used: more make it slower and no better.
const MOST: usize = 40;
/// How far a frame may be off: so far that it does not count, even beside rough places of 300 mm; it
/// only keeps a motion that nothing determines finite.
const LOOSE_MM: f64 = 1e6;
/// Lever that makes a length of an angle.
const LEVER_MM: f64 = 1_000.0;

/// A car over the reference.
#[derive(Debug, Clone)]
pub(super) struct Aligned {
    pub(super) xyz_mm: Vec<Vec3>,
    pub(super) covariance: Matrix,
    /// The motion: shift and rotation vector about `about`.
    pub(super) shift: Vec3,
    pub(super) turn: Vec3,
}

/// Lays a car over the reference by its `trusted` points (indices), with `sigma_mm` for the spread of
/// bodies; `None` with fewer than [`FEWEST`] in both.
pub(super) fn align(
    car: &Positions,
    trusted: &[usize],
    reference: &IndexMap<PointId, Vec3>,
    about: Vec3,
    sigma_mm: f64,
) -> Option<Aligned> {
    let known = |&&at: &&usize| reference.contains_key(&car.points[at]);
    let used: Vec<usize> = trusted.iter().filter(known).take(MOST).copied().collect();
    if used.len() < FEWEST {
        return None;
    }
    let rows: Vec<usize> = used
        .iter()
        .flat_map(|at| [3 * at, 3 * at + 1, 3 * at + 2])
        .collect();
    let (mut shift, mut w) = ([0.0; 3], [0.0; 3]);
    let mut at = placed(car, about, shift, w);
    for _ in 0..20 {
        let fit = Fit::new(&at, &used, &rows, about, sigma_mm)?;
        let rest: Vec<f64> = used
            .iter()
            .flat_map(|&one| sub(reference[&car.points[one]], at.0[one]))
            .collect();
        let step = apply(&fit.gain, &rest);
        let turned = [3, 4, 5].map(|i| step[i] / LEVER_MM);
        shift = add(turn(&rotation(turned), shift), [step[0], step[1], step[2]]);
        w = composed(turned, w);
        at = placed(car, about, shift, w);
        if step.iter().all(|step| step.abs() < 1e-7) {
            break;
        }
    }
    let fit = Fit::new(&at, &used, &rows, about, sigma_mm)?;
    let covariance = fit.taken_out(&at, &rows, about);
    Some(Aligned {
        xyz_mm: at.0,
        covariance,
        shift,
        turn: w,
    })
}

/// Positions and covariance after a motion.
type Placed = (Vec<Vec3>, Matrix);

fn placed(car: &Positions, about: Vec3, shift: Vec3, w: Vec3) -> Placed {
    let r = rotation(w);
    let moved = car
        .xyz_mm
        .iter()
        .map(|p| add(add(turn(&r, sub(*p, about)), about), shift))
        .collect();
    let count = car.points.len();
    let mut covariance = zeros(3 * count, 3 * count);
    for a in 0..count {
        for b in 0..count {
            let block = [0, 1, 2].map(|i| [0, 1, 2].map(|j| car.covariance[3 * a + i][3 * b + j]));
            for i in 0..3 {
                let line = [0, 1, 2].map(|k| (0..3).map(|l| r[i][l] * block[l][k]).sum::<f64>());
                for j in 0..3 {
                    covariance[3 * a + i][3 * b + j] = (0..3).map(|k| line[k] * r[j][k]).sum();
                }
            }
        }
    }
    (moved, covariance)
}

/// The rotation vector of `first` after `then`, for small turns (Baker–Campbell–Hausdorff to the
/// second order); the iteration takes up what is left.
fn composed(first: Vec3, then: Vec3) -> Vec3 {
    add(
        add(first, then),
        scale(crate::geometry::cross(first, then), 0.5),
    )
}

struct Fit {
    /// Motion per misclosure.
    gain: Matrix,
    /// Covariance of what the loose prior leaves open.
    left: Matrix,
}

impl Fit {
    fn new(
        at: &Placed,
        used: &[usize],
        rows: &[usize],
        about: Vec3,
        sigma_mm: f64,
    ) -> Option<Self> {
        let mut v: Matrix = rows
            .iter()
            .map(|&i| rows.iter().map(|&j| at.1[i][j]).collect())
            .collect();
        for (i, line) in v.iter_mut().enumerate() {
            line[i] += sigma_mm * sigma_mm;
        }
        let (weight, _) = inverse(&v)?;
        let g: Matrix = used
            .iter()
            .flat_map(|&one| effects(sub(at.0[one], about)))
            .collect();
        let gw = mul(&transposed(&g), &weight);
        let mut normal = mul(&gw, &g);
        for (i, line) in normal.iter_mut().enumerate() {
            line[i] += LOOSE_MM.powi(-2);
        }
        let (cofactor, _) = inverse(&normal)?;
        let gain = mul(&cofactor, &gw);
        let mut left = mul(&cofactor, &cofactor);
        for value in left.iter_mut().flatten() {
            *value *= LOOSE_MM.powi(-2);
        }
        Some(Self { gain, left })
    }

    /// (I − G A) S (I − G A)ᵀ, and what the motion leaves open.
    fn taken_out(&self, at: &Placed, rows: &[usize], about: Vec3) -> Matrix {
        let g: Matrix = at.0.iter().flat_map(|p| effects(sub(*p, about))).collect();
        let of_rows: Matrix = rows.iter().map(|&row| at.1[row].clone()).collect();
        let gained = mul(&self.gain, &of_rows);
        let chosen: Matrix = gained
            .iter()
            .map(|line| rows.iter().map(|&row| line[row]).collect())
            .collect();
        let mut own = mul_transposed(&chosen, &self.gain);
        for (line, left) in own.iter_mut().zip(&self.left) {
            line.iter_mut()
                .zip(left)
                .for_each(|(own, left)| *own += left);
        }
        let across = mul(&g, &gained);
        let within = mul_transposed(&mul(&g, &own), &g);
        let mut covariance = at.1.clone();
        for (i, line) in covariance.iter_mut().enumerate() {
            for (j, value) in line.iter_mut().enumerate() {
                *value += within[i][j] - across[i][j] - across[j][i];
            }
        }
        covariance
    }
}

/// What a shift and a turn (at the lever) do to a point: rows x, y, z.
fn effects(p: Vec3) -> Vec<Vec<f64>> {
    let [x, y, z] = scale(p, 1.0 / LEVER_MM);
    vec![
        vec![1.0, 0.0, 0.0, 0.0, z, -y],
        vec![0.0, 1.0, 0.0, -z, 0.0, x],
        vec![0.0, 0.0, 1.0, y, -x, 0.0],
    ]
}

/// The reference moved back by a motion.
pub(super) fn moved_back(
    reference: &mut IndexMap<PointId, Vec3>,
    about: Vec3,
    shift: Vec3,
    w: Vec3,
) -> f64 {
    let r = rotation(scale(w, -1.0));
    let mut most: f64 = 0.0;
    for place in reference.values_mut() {
        let back = add(turn(&r, sub(sub(*place, shift), about)), about);
        most = most.max(norm(sub(back, *place)));
        *place = back;
    }
    most
}
