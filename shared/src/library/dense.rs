//! Small dense matrices, row by row: what pooling needs and no more.

/// Rows of equal length.
pub(super) type Matrix = Vec<Vec<f64>>;

pub(super) fn zeros(rows: usize, columns: usize) -> Matrix {
    vec![vec![0.0; columns]; rows]
}

/// A · B.
pub(super) fn mul(a: &Matrix, b: &Matrix) -> Matrix {
    let columns = b.first().map_or(0, Vec::len);
    let mut product = zeros(a.len(), columns);
    for (row, out) in a.iter().zip(&mut product) {
        for (factor, line) in row.iter().zip(b) {
            for (sum, value) in out.iter_mut().zip(line) {
                *sum += factor * value;
            }
        }
    }
    product
}

/// A · Bᵀ.
pub(super) fn mul_transposed(a: &Matrix, b: &Matrix) -> Matrix {
    a.iter()
        .map(|row| b.iter().map(|line| dot(row, line)).collect())
        .collect()
}

pub(super) fn transposed(a: &Matrix) -> Matrix {
    let columns = a.first().map_or(0, Vec::len);
    (0..columns)
        .map(|column| a.iter().map(|row| row[column]).collect())
        .collect()
}

pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// A · v.
pub(super) fn apply(a: &Matrix, v: &[f64]) -> Vec<f64> {
    a.iter().map(|row| dot(row, v)).collect()
}

/// tr(A · B) of square matrices.
pub(super) fn trace_of_product(a: &Matrix, b: &Matrix) -> f64 {
    let rows = a.iter().enumerate();
    rows.map(|(i, row)| {
        row.iter()
            .zip(b)
            .map(|(value, line)| value * line[i])
            .sum::<f64>()
    })
    .sum()
}

/// Lower Cholesky factor; `None` when the matrix is not positive definite.
fn cholesky(a: &Matrix) -> Option<Matrix> {
    let mut factor = zeros(a.len(), a.len());
    for i in 0..a.len() {
        for j in 0..=i {
            let rest = a[i][j] - dot(&factor[i][..j], &factor[j][..j]);
            if i != j {
                factor[i][j] = rest / factor[j][j];
            } else if rest > 1e-13 * a[i][i] && rest.is_finite() {
                factor[i][i] = rest.sqrt();
            } else {
                return None;
            }
        }
    }
    Some(factor)
}

/// Inverse and logarithm of the determinant of a positive definite matrix; `None` for another.
pub(super) fn inverse(a: &Matrix) -> Option<(Matrix, f64)> {
    let factor = cholesky(a)?;
    let n = a.len();
    // Inverse of the factor, then its transpose times itself.
    let mut low = zeros(n, n);
    for j in 0..n {
        low[j][j] = 1.0 / factor[j][j];
        for i in j + 1..n {
            let sum: f64 = (j..i).map(|k| factor[i][k] * low[k][j]).sum();
            low[i][j] = -sum / factor[i][i];
        }
    }
    let mut inverse = zeros(n, n);
    for (k, row) in low.iter().enumerate() {
        for i in 0..=k {
            for j in 0..=i {
                inverse[i][j] += row[i] * row[j];
            }
        }
    }
    // What is below the diagonal stands above it as well.
    let below = inverse.clone();
    for (j, row) in inverse.iter_mut().enumerate() {
        for (entry, line) in row.iter_mut().zip(&below).skip(j + 1) {
            *entry = line[j];
        }
    }
    let log = factor.iter().enumerate().map(|(i, row)| row[i].ln());
    Some((inverse, 2.0 * log.sum::<f64>()))
}

/// The nearest matrix without negative eigenvalues, by Jacobi's rotations (Golub and Van Loan,
/// *Matrix Computations*, section 8.5, from memory). For matrices of a few rows.
pub(super) fn without_negative(a: &Matrix) -> Matrix {
    let n = a.len();
    let (mut d, mut v) = (a.clone(), zeros(n, n));
    for (i, row) in v.iter_mut().enumerate() {
        row[i] = 1.0;
    }
    for _ in 0..60 {
        let mut off = 0.0;
        for p in 0..n {
            for q in p + 1..n {
                off += d[p][q] * d[p][q];
                if d[p][q].abs() > 1e-300 {
                    rotate(&mut d, &mut v, p, q);
                }
            }
        }
        if off <= 1e-30 {
            break;
        }
    }
    if (0..n).all(|i| d[i][i] >= 0.0) {
        return a.clone();
    }
    let mut clipped = zeros(n, n);
    for (i, row) in clipped.iter_mut().enumerate() {
        for (j, entry) in row.iter_mut().enumerate() {
            *entry = (0..n).map(|k| v[i][k] * d[k][k].max(0.0) * v[j][k]).sum();
        }
    }
    clipped
}

fn rotate(d: &mut Matrix, v: &mut Matrix, p: usize, q: usize) {
    let theta = (d[q][q] - d[p][p]) / (2.0 * d[p][q]);
    let t = theta.signum() / (theta.abs() + (theta * theta + 1.0).sqrt());
    let t = if theta == 0.0 { 1.0 } else { t };
    let c = 1.0 / (t * t + 1.0).sqrt();
    let s = t * c;
    for row in d.iter_mut().chain(v.iter_mut()) {
        let (a, b) = (row[p], row[q]);
        (row[p], row[q]) = (c * a - s * b, s * a + c * b);
    }
    let (top, bottom) = d.split_at_mut(q);
    for (one, other) in top[p].iter_mut().zip(&mut bottom[0]) {
        (*one, *other) = (c * *one - s * *other, s * *one + c * *other);
    }
}
