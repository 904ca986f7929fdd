//! One mean from several cars that differ: the multivariate random-effects model.
//!
//! ```text
//! y_k = X_k (β + b_k) + e_k,   b_k ~ N(0, Ψ) between cars,   e_k ~ N(0, S_k) within a car, known
//! ```
//!
//! Ψ is estimated by restricted maximum likelihood (D. Jackson, R. Riley and I. R. White,
//! *Multivariate meta-analysis: potential and promise*, Statistics in Medicine 30 (2011), sections
//! 4 and 5, from memory) over its Cholesky factor, so that it stays a covariance, by Fisher's scoring
//! with Levenberg's damping; β is then the generalised least-squares mean. This file refuses to know
//! what a car is.

use super::dense::{
    Matrix, apply, dot, inverse, mul, mul_transposed, trace_of_product, transposed,
    without_negative, zeros,
};

/// What one car says.
#[derive(Debug, Clone)]
pub(super) struct Study {
    /// Values.
    pub(super) y: Vec<f64>,
    /// What each value is of the quantities: one row per value.
    pub(super) x: Matrix,
    /// Covariance of the values within the car.
    pub(super) s: Matrix,
}

/// What is known of Ψ and β beforehand.
#[derive(Debug, Clone)]
pub(super) struct Given {
    /// Entries of Ψ that are estimated: (row, column), row ≤ column; those off the diagonal among
    /// quantities that are all free with each other.
    pub(super) free: Vec<(usize, usize)>,
    /// Ψ to begin with, a diagonal; entries that are not free stay.
    pub(super) between: Matrix,
    /// Quantities with an own prior: which, mean, standard deviation.
    pub(super) priors: Vec<(usize, f64, f64)>,
}

/// The pooled quantities.
#[derive(Debug, Clone)]
pub(super) struct Pooled {
    /// β.
    pub(super) mean: Vec<f64>,
    /// Its covariance, Ψ taken as known.
    pub(super) covariance: Matrix,
    /// Ψ.
    pub(super) between: Matrix,
    /// Did the iteration come to rest?
    pub(super) converged: bool,
}

/// Most iterations.
const ITERATIONS: usize = 300;
/// A gain of the log-likelihood that is none.
const REST: f64 = 1e-10;

/// Pools the studies; `None` when they do not determine the quantities.
pub(super) fn pool(studies: &[Study], given: &Given) -> Option<Pooled> {
    let mut factor = given.between.clone();
    for (i, row) in factor.iter_mut().enumerate() {
        row[i] = row[i].sqrt();
    }
    let mut at = At::new(studies, given, factor)?;
    let mut converged = given.free.is_empty();
    let mut damping = 1e-6;
    for _ in 0..ITERATIONS {
        if converged {
            break;
        }
        match better(studies, given, &at, &mut damping) {
            Some(next) => {
                converged = next.likelihood - at.likelihood <= REST;
                at = next;
            }
            None => converged = true,
        }
    }
    Some(Pooled {
        mean: at.mean,
        covariance: at.covariance,
        between: at.between,
        converged,
    })
}

/// Everything at one Ψ.
struct At {
    /// Lower factor of Ψ.
    factor: Matrix,
    between: Matrix,
    mean: Vec<f64>,
    covariance: Matrix,
    /// XᵀV⁻¹X and XᵀV⁻¹r per study.
    weights: Vec<(Matrix, Vec<f64>)>,
    likelihood: f64,
}

impl At {
    fn new(studies: &[Study], given: &Given, factor: Matrix) -> Option<Self> {
        let between = mul_transposed(&factor, &factor);
        let size = between.len();
        let (mut normal, mut right, mut log) = (zeros(size, size), vec![0.0; size], 0.0);
        for &(which, mean, sigma) in &given.priors {
            let weight = sigma.powi(-2);
            normal[which][which] += weight;
            right[which] += weight * mean;
        }
        let mut parts = Vec::with_capacity(studies.len());
        for study in studies {
            let mut v = mul_transposed(&mul(&study.x, &between), &study.x);
            for (line, own) in v.iter_mut().zip(&study.s) {
                line.iter_mut().zip(own).for_each(|(v, s)| *v += s);
            }
            let (v, log_v) = inverse(&v)?;
            let xv = mul(&transposed(&study.x), &v);
            let m = mul(&xv, &study.x);
            for (sum, line) in normal.iter_mut().zip(&m) {
                sum.iter_mut().zip(line).for_each(|(sum, m)| *sum += m);
            }
            for (sum, value) in right.iter_mut().zip(apply(&xv, &study.y)) {
                *sum += value;
            }
            log += log_v;
            parts.push((v, xv, m));
        }
        let (covariance, log_n) = inverse(&normal)?;
        let mean = apply(&covariance, &right);
        let mut squares = 0.0;
        for &(which, prior, sigma) in &given.priors {
            squares += ((mean[which] - prior) / sigma).powi(2);
        }
        let mut weights = Vec::with_capacity(studies.len());
        for (study, (v, xv, m)) in studies.iter().zip(parts) {
            let predicted = apply(&study.x, &mean);
            let rest: Vec<f64> = study.y.iter().zip(predicted).map(|(y, p)| y - p).collect();
            squares += dot(&rest, &apply(&v, &rest));
            weights.push((m, apply(&xv, &rest)));
        }
        let likelihood = -0.5 * (log + log_n + squares);
        likelihood.is_finite().then_some(Self {
            factor,
            between,
            mean,
            covariance,
            weights,
            likelihood,
        })
    }
}

/// A step to a larger likelihood, damped until there is one; `None` when there is none.
fn better(studies: &[Study], given: &Given, at: &At, damping: &mut f64) -> Option<At> {
    let (slope, curve) = slopes(given, at);
    let count = given.free.len();
    // How entry (i, j) of Ψ moves with entry (r, c) of its factor, r ≥ c.
    let moves = |(i, j): (usize, usize), (c, r): (usize, usize)| {
        let on = |is: bool, value: f64| if is { value } else { 0.0 };
        on(i == r, at.factor[j][c]) + on(j == r, at.factor[i][c])
    };
    let jacobian: Matrix = given
        .free
        .iter()
        .map(|&entry| given.free.iter().map(|&of| moves(entry, of)).collect())
        .collect();
    let back = transposed(&jacobian);
    let uphill = apply(&back, &slope);
    let mut normal = mul(&mul(&back, &curve), &jacobian);
    // Where the likelihood falls with Ψ, its factor is drawn to 0 by the curve of the square.
    let falls = falling(given, &slope, at.between.len());
    for (a, &(c, r)) in given.free.iter().enumerate() {
        for (b, &(d, s)) in given.free.iter().enumerate() {
            if c == d {
                normal[a][b] += 2.0 * falls[r][s];
            }
        }
    }
    let scale = (0..count).map(|i| normal[i][i]).sum::<f64>() / count as f64;
    for _ in 0..30 {
        let mut damped = normal.clone();
        for (i, row) in damped.iter_mut().enumerate() {
            row[i] += *damping * (row[i] + 1e-6 * scale) + 1e-12 * scale;
        }
        let step = inverse(&damped).map(|(inverse, _)| apply(&inverse, &uphill));
        let next = step.and_then(|step| {
            let mut factor = at.factor.clone();
            for (&(c, r), step) in given.free.iter().zip(step) {
                factor[r][c] += step;
            }
            At::new(studies, given, factor)
        });
        if let Some(next) = next.filter(|next| next.likelihood > at.likelihood) {
            *damping = (*damping * 0.1).max(1e-9);
            return Some(next);
        }
        *damping *= 10.0;
    }
    None
}

/// Derivatives of the likelihood by the free entries of Ψ, and their expected curvature.
fn slopes(given: &Given, at: &At) -> (Vec<f64>, Matrix) {
    let count = given.free.len();
    let size = at.between.len();
    let unit = |&(i, j): &(usize, usize)| {
        let mut e = zeros(size, size);
        e[i][j] = 1.0;
        e[j][i] = 1.0;
        e
    };
    let units: Vec<Matrix> = given.free.iter().map(unit).collect();
    let mut slope = vec![0.0; count];
    let mut curve = zeros(count, count);
    let mut sums = vec![zeros(size, size); count];
    for (m, w) in &at.weights {
        let me: Vec<Matrix> = units.iter().map(|e| mul(m, e)).collect();
        let mem: Vec<Matrix> = me.iter().map(|me| mul(me, m)).collect();
        let cm = mul(&at.covariance, m);
        for i in 0..count {
            slope[i] += 0.5
                * (dot(w, &apply(&units[i], w)) - trace_of_product(&units[i], m)
                    + trace_of_product(&at.covariance, &mem[i]));
            let cme = mul(&cm, &units[i]);
            for j in 0..count {
                curve[i][j] +=
                    0.5 * trace_of_product(&me[i], &me[j]) - trace_of_product(&cme, &mem[j]);
            }
            for (sum, line) in sums[i].iter_mut().zip(&mem[i]) {
                sum.iter_mut()
                    .zip(line)
                    .for_each(|(sum, value)| *sum += value);
            }
        }
    }
    let ca: Vec<Matrix> = sums.iter().map(|a| mul(&at.covariance, a)).collect();
    for i in 0..count {
        for j in 0..count {
            curve[i][j] += 0.5 * trace_of_product(&ca[i], &ca[j]);
        }
    }
    (slope, curve)
}

/// The part of the slope, as a matrix over Ψ, that falls; its sign turned.
fn falling(given: &Given, slope: &[f64], size: usize) -> Matrix {
    let mut down = zeros(size, size);
    for (&(i, j), slope) in given.free.iter().zip(slope) {
        let half = if i == j { 1.0 } else { 0.5 };
        down[i][j] = -half * slope;
        down[j][i] = down[i][j];
    }
    without_negative(&down)
}
