//! One mean from several cars that differ: the multivariate random-effects model.
//!
//! ```text
//! y_k = X_k (β + b_k) + e_k,   b_k ~ N(0, Ψ) between cars,   e_k ~ N(0, S_k) within a car, known
//! ```
//!
//! Ψ is estimated by restricted maximum likelihood (D. Jackson, R. Riley and I. R. White,
//! *Multivariate meta-analysis: potential and promise*, Statistics in Medicine 30 (2011), sections
//! 4 and 5, from memory) with Fisher's scoring, and steps of the EM algorithm where scoring would leave
//! the covariances; β is then the generalised least-squares mean. This file refuses to know what a car
//! is.

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
    /// Entries of Ψ that are estimated: (row, column), row ≤ column.
    pub(super) free: Vec<(usize, usize)>,
    /// Ψ to begin with; entries that are not free stay.
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
const ITERATIONS: usize = 400;
/// A gain of the log-likelihood that is none.
const REST: f64 = 1e-11;

/// Pools the studies; `None` when they do not determine the quantities.
pub(super) fn pool(studies: &[Study], given: &Given) -> Option<Pooled> {
    let mut at = At::new(studies, given, given.between.clone())?;
    let mut converged = given.free.is_empty();
    for _ in 0..ITERATIONS {
        if converged {
            break;
        }
        let next = score(studies, given, &at)
            .filter(|next| next.likelihood > at.likelihood + REST)
            .or_else(|| expect(studies, given, &at))
            .filter(|next| next.likelihood >= at.likelihood);
        let Some(next) = next else {
            converged = true;
            break;
        };
        converged = next.likelihood - at.likelihood <= REST;
        at = next;
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
    between: Matrix,
    mean: Vec<f64>,
    covariance: Matrix,
    /// XᵀV⁻¹X and XᵀV⁻¹r per study.
    weights: Vec<(Matrix, Vec<f64>)>,
    likelihood: f64,
}

impl At {
    fn new(studies: &[Study], given: &Given, between: Matrix) -> Option<Self> {
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
            between,
            mean,
            covariance,
            weights,
            likelihood,
        })
    }
}

/// One step of Fisher's scoring, shortened until the likelihood grows.
fn score(studies: &[Study], given: &Given, at: &At) -> Option<At> {
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
    let (curve, _) = inverse(&curve)?;
    let step = apply(&curve, &slope);
    let mut length = 1.0;
    for _ in 0..12 {
        let mut between = at.between.clone();
        for (&(i, j), step) in given.free.iter().zip(&step) {
            between[i][j] += length * step;
            if i != j {
                between[j][i] += length * step;
            }
        }
        let next = At::new(studies, given, without_negative(&between));
        if let Some(next) = next.filter(|next| next.likelihood > at.likelihood) {
            return Some(next);
        }
        length *= 0.5;
    }
    None
}

/// One step of the EM algorithm, which never leaves the covariances and never loses likelihood.
fn expect(studies: &[Study], given: &Given, at: &At) -> Option<At> {
    let size = at.between.len();
    let mut sum = zeros(size, size);
    for (m, w) in &at.weights {
        let effect = apply(&at.between, w);
        let pm = mul(&at.between, m);
        let known = mul(&pm, &at.between);
        let of_mean = mul(&mul(&pm, &at.covariance), &transposed(&pm));
        for i in 0..size {
            for j in 0..size {
                sum[i][j] += effect[i] * effect[j] + at.between[i][j] - known[i][j] + of_mean[i][j];
            }
        }
    }
    let mut between = at.between.clone();
    for &(i, j) in &given.free {
        between[i][j] = sum[i][j] / studies.len() as f64;
        between[j][i] = between[i][j];
    }
    At::new(studies, given, without_negative(&between))
}
