//! Linear regression with a known covariance, column by column.
//!
//! Rows are whitened by the Cholesky factor of their covariance; the normal matrix then answers what
//! any further columns would explain by sweeping it (J. H. Goodnight, *A tutorial on the SWEEP
//! operator*, The American Statistician 33 (1979)). This file refuses to know what a column means.

/// A column whose part not explained by the others is smaller than this, relatively, says nothing.
const SAME: f64 = 1e-7;

/// The Cholesky factor of a covariance, row by row.
#[derive(Debug, Clone)]
pub struct Whitening(Vec<Vec<f64>>);

impl Whitening {
    /// Factors a covariance; a pivot that is not positive makes its row count for nothing.
    #[must_use]
    pub fn new(covariance: &[Vec<f64>]) -> Self {
        let mut factor: Vec<Vec<f64>> = Vec::with_capacity(covariance.len());
        for (row, given) in covariance.iter().enumerate() {
            let mut line = vec![0.0; row + 1];
            for column in 0..=row {
                let above: &[f64] = if column == row {
                    &line
                } else {
                    &factor[column]
                };
                let dot: f64 = line[..column].iter().zip(above).map(|(a, b)| a * b).sum();
                let rest = given[column] - dot;
                line[column] = if column == row {
                    if rest > 0.0 {
                        rest.sqrt()
                    } else {
                        f64::INFINITY
                    }
                } else {
                    rest / factor[column][column]
                };
            }
            factor.push(line);
        }
        Self(factor)
    }

    /// Rows of unit variance, uncorrelated.
    #[must_use]
    pub fn whiten(&self, column: &[f64]) -> Vec<f64> {
        let mut white: Vec<f64> = Vec::with_capacity(column.len());
        for (line, value) in self.0.iter().zip(column) {
            let dot: f64 = line.iter().zip(&white).map(|(a, b)| a * b).sum();
            white.push((value - dot) / line[line.len() - 1]);
        }
        white
    }
}

/// The normal matrix of all columns and the values, some columns swept in.
#[derive(Debug, Clone)]
pub struct Regression {
    /// Square, one more than the columns: the values stand last.
    matrix: Vec<Vec<f64>>,
    first_diagonal: Vec<f64>,
    inside: Vec<bool>,
}

impl Regression {
    /// From whitened columns and whitened values.
    #[must_use]
    pub fn new(columns: &[Vec<f64>], values: &[f64]) -> Self {
        let all: Vec<&[f64]> = columns.iter().map(Vec::as_slice).chain([values]).collect();
        let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(x, y)| x * y).sum() };
        let mut matrix = vec![vec![0.0; all.len()]; all.len()];
        for a in 0..all.len() {
            for b in a..all.len() {
                matrix[a][b] = dot(all[a], all[b]);
                matrix[b][a] = matrix[a][b];
            }
        }
        Self {
            first_diagonal: (0..columns.len()).map(|k| matrix[k][k]).collect(),
            inside: vec![false; columns.len()],
            matrix,
        }
    }

    /// Weighted sum of squares that the columns inside leave.
    #[must_use]
    pub fn left(&self) -> f64 {
        self.matrix[self.inside.len()][self.inside.len()].max(0.0)
    }

    /// Is the column inside?
    #[must_use]
    pub fn holds(&self, column: usize) -> bool {
        self.inside[column]
    }

    /// Does the column say anything beyond those inside?
    #[must_use]
    pub fn is_new(&self, column: usize) -> bool {
        !self.inside[column]
            && self.first_diagonal[column] > 1e-12
            && self.matrix[column][column] > SAME * self.first_diagonal[column]
    }

    /// How much these columns, none of them inside, would take off the sum of squares; `None` when
    /// they cannot be told apart.
    #[must_use]
    pub fn gain(&self, columns: &[usize]) -> Option<f64> {
        let last = self.inside.len();
        let size = columns.len();
        let width = size + 1;
        let mut part = Vec::with_capacity(size * width);
        for &a in columns {
            part.extend(columns.iter().map(|&b| self.matrix[a][b]));
            part.push(self.matrix[a][last]);
        }
        let mut gain = 0.0;
        for pivot in 0..size {
            let (above, below) = part.split_at_mut((pivot + 1) * width);
            let above = &above[pivot * width..];
            let d = above[pivot];
            if d <= SAME * self.first_diagonal[columns[pivot]] || d <= 1e-12 {
                return None;
            }
            gain += above[size].powi(2) / d;
            for row in below.chunks_exact_mut(width) {
                let factor = row[pivot] / d;
                for (entry, above) in row.iter_mut().zip(above).skip(pivot) {
                    *entry -= factor * above;
                }
            }
        }
        Some(gain)
    }

    /// Takes columns in, or out again: the operator is its own inverse.
    pub fn sweep(&mut self, columns: &[usize]) {
        for &k in columns {
            let d = self.matrix[k][k];
            let pivot: Vec<f64> = self.matrix[k].iter().map(|v| v / d).collect();
            for (i, row) in self.matrix.iter_mut().enumerate() {
                if i == k {
                    continue;
                }
                let b = row[k];
                for (entry, above) in row.iter_mut().zip(&pivot) {
                    *entry -= b * above;
                }
                row[k] = -b / d;
            }
            self.matrix[k] = pivot;
            self.matrix[k][k] = 1.0 / d;
            self.inside[k] = !self.inside[k];
        }
    }

    /// Estimate and standard uncertainty of a column inside, or of one that would be added alone;
    /// `None` when it says nothing new.
    #[must_use]
    pub fn estimate(&self, column: usize) -> Option<(f64, f64)> {
        let last = self.inside.len();
        if self.inside[column] {
            return Some((
                self.matrix[column][last],
                self.matrix[column][column].max(0.0).sqrt(),
            ));
        }
        self.is_new(column).then(|| {
            let d = self.matrix[column][column];
            (self.matrix[column][last] / d, d.sqrt().recip())
        })
    }
}
