//! The quantities of one point or pair, and what each car says of them.
//!
//! Millimetres. A single point has x, y, z. A pair has what its sides have in common (mean length, half
//! width, mean height) and what they differ by (x_L − x_R, y_L + y_R, z_L − z_R): with no preferred side
//! the two kinds do not vary together, which leaves fewer covariances to estimate.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::{Car, FEWEST_CARS, Gap, LearnedPoint, Note};
use crate::ids::PointId;
use crate::library::dense::{Matrix, mul, mul_transposed, zeros};
use crate::library::pool::{Given, Pooled, Study, pool};
use crate::library::rules::LEAST_SPREAD_MM;

/// A coordinate that its car knows worse than this says nothing of a body.
const WORST_WITHIN_MM: f64 = 20.0;
/// How far the sides of an undamaged pair may differ where no car shows both: twice what common
/// practice expects of a new body.
const MIRROR_MM: f64 = 3.0;
/// Cars from which on the covariances between axes are estimated; with fewer, a correlation would be
/// mostly chance (our choice: more than the six entries of a block).
const ENOUGH_FOR_COVARIANCES: usize = 8;
/// Normal quantile of a two-sided 95 % interval.
pub(super) const TWO_SIDED_95: f64 = 1.959_963_985;

/// One point or pair over all cars.
pub(super) struct Block {
    /// The point, or left and right.
    pub(super) ids: Vec<PointId>,
    /// Each row of a study: side (index in `ids`) and axis.
    pub(super) rows: Vec<Vec<(usize, usize)>>,
    pub(super) studies: Vec<Study>,
    /// The car of each study.
    pub(super) cars: Vec<usize>,
    /// Expected asymmetry, for pairs that no car shows whole.
    expected: [f64; 3],
}

/// What came out for one point.
pub(super) struct Told {
    pub(super) id: PointId,
    pub(super) target_mm: [f64; 3],
    pub(super) spread_mm: [f64; 3],
    pub(super) learned: LearnedPoint,
}

impl Block {
    pub(super) fn single(cars: &[Car], id: &PointId) -> Self {
        Self::of(cars, vec![id.clone()], [0.0; 3])
    }

    pub(super) fn pair(
        cars: &[Car],
        left: &PointId,
        right: &PointId,
        expected: Option<[f64; 3]>,
    ) -> Self {
        Self::of(
            cars,
            vec![left.clone(), right.clone()],
            expected.unwrap_or_default(),
        )
    }

    fn of(cars: &[Car], ids: Vec<PointId>, expected: [f64; 3]) -> Self {
        let mut block = Self {
            ids,
            rows: Vec::new(),
            studies: Vec::new(),
            cars: Vec::new(),
            expected,
        };
        for (number, car) in cars.iter().enumerate() {
            block.take(number, car);
        }
        block
    }

    fn take(&mut self, number: usize, car: &Car) {
        let (mut rows, mut places) = (Vec::new(), Vec::new());
        for (side, id) in self.ids.iter().enumerate() {
            let Some(&at) = car.index.get(id) else {
                continue;
            };
            for axis in 0..3 {
                let place = 3 * at + axis;
                let variance = car.covariance[place][place];
                if variance > 0.0 && variance <= WORST_WITHIN_MM * WORST_WITHIN_MM {
                    rows.push((side, axis));
                    places.push(place);
                }
            }
        }
        if rows.is_empty() {
            return;
        }
        let submatrix = |i: &usize| places.iter().map(|&j| car.covariance[*i][j]).collect();
        self.studies.push(Study {
            y: places
                .iter()
                .map(|p| car.positions.xyz_mm[p / 3][p % 3])
                .collect(),
            x: rows
                .iter()
                .map(|&(side, axis)| self.form(side, axis))
                .collect(),
            s: places.iter().map(submatrix).collect(),
        });
        self.rows.push(rows);
        self.cars.push(number);
    }

    fn is_pair(&self) -> bool {
        self.ids.len() == 2
    }

    fn size(&self) -> usize {
        3 * self.ids.len()
    }

    /// A coordinate as a row over the quantities.
    pub(super) fn form(&self, side: usize, axis: usize) -> Vec<f64> {
        let mut row = vec![0.0; self.size()];
        row[axis] = 1.0;
        if self.is_pair() {
            let left = if side == 0 { 1.0 } else { -1.0 };
            // y_L = gap/2 − half width, y_R = gap/2 + half width.
            (row[axis], row[3 + axis]) = match axis {
                1 => (-left, 0.5),
                _ => (1.0, 0.5 * left),
            };
        }
        row
    }

    /// Cars that tell of a quantity, without the study `but`.
    pub(super) fn count(&self, quantity: usize, but: Option<usize>) -> usize {
        let tells = |rows: &Vec<(usize, usize)>| {
            let sides = rows
                .iter()
                .filter(|(_, axis)| *axis == quantity % 3)
                .count();
            sides > usize::from(quantity >= 3)
        };
        let rows = self.rows.iter().enumerate();
        rows.filter(|(study, rows)| Some(*study) != but && tells(rows))
            .count()
    }

    /// Can its points not be in the sheet? The reason comes among the notes.
    pub(super) fn left_out(&self, notes: &mut Vec<Note>) -> bool {
        let Some(axis) = (0..3).find(|axis| self.count(*axis, None) == 0) else {
            return false;
        };
        for point in &self.ids {
            notes.push(Note::NotMeasured {
                point: point.clone(),
                axis: ['x', 'y', 'z'][axis],
            });
        }
        true
    }

    /// What is known beforehand, when so many cars tell of each quantity.
    pub(super) fn given(&self, prior_mm: f64, but: Option<usize>, covariances: bool) -> Given {
        let counts: Vec<usize> = (0..self.size()).map(|q| self.count(q, but)).collect();
        let mut between = zeros(self.size(), self.size());
        let (mut free, mut priors) = (Vec::new(), Vec::new());
        for (i, count) in counts.iter().enumerate() {
            between[i][i] = prior_mm * prior_mm;
            if *count >= FEWEST_CARS {
                free.push((i, i));
            }
            if i >= 3 && *count == 0 {
                priors.push((i, self.expected[i - 3], MIRROR_MM));
            }
            for j in i + 1..3 * (i / 3 + 1) {
                if covariances && counts[i].min(counts[j]) >= ENOUGH_FOR_COVARIANCES {
                    free.push((i, j));
                }
            }
        }
        Given {
            free,
            between,
            priors,
        }
    }

    pub(super) fn pool(&self, prior_mm: f64) -> Option<Pooled> {
        pool(&self.studies, &self.given(prior_mm, None, true))
    }

    /// Target, spread and story of each point.
    pub(super) fn points(&self, pooled: &Pooled) -> Vec<Told> {
        let point = |(side, id): (usize, &PointId)| {
            let forms: Matrix = (0..3).map(|axis| self.form(side, axis)).collect();
            let variance = |of: &Matrix| {
                let all = mul_transposed(&mul(&forms, of), &forms);
                [0, 1, 2].map(|axis| all[axis][axis].max(0.0))
            };
            let (mean, between) = (variance(&pooled.covariance), variance(&pooled.between));
            let target =
                [0, 1, 2].map(|axis| crate::library::dense::dot(&forms[axis], &pooled.mean));
            let cars = [0, 1, 2].map(|axis| self.count(axis, None));
            let both = [0, 1, 2].map(|axis| match self.is_pair() {
                true => self.count(3 + axis, None),
                false => cars[axis],
            });
            // What tells least of the two decides.
            let fewest = [0, 1, 2].map(|axis| cars[axis].min(both[axis]));
            let spread = [0, 1, 2].map(|axis| {
                let normal = (mean[axis] + between[axis]).sqrt();
                (normal * widened(fewest[axis])).max(LEAST_SPREAD_MM)
            });
            let learned = LearnedPoint {
                cars,
                mean_sigma_mm: mean.map(f64::sqrt),
                between_mm: between.map(f64::sqrt),
                assumed: fewest.map(|cars| cars < FEWEST_CARS),
                prediction_95_mm: spread.map(|spread| spread * TWO_SIDED_95),
                mirrored: [0, 1, 2].map(|axis| self.is_pair() && both[axis] == 0),
            };
            Told {
                id: id.clone(),
                target_mm: target,
                spread_mm: spread,
                learned,
            }
        };
        self.ids.iter().enumerate().map(point).collect()
    }

    pub(super) fn gap(&self, pooled: &Pooled) -> Option<Gap> {
        let [left, right] = &self.ids[..] else {
            return None;
        };
        let axes = [3, 4, 5];
        let cars = axes.map(|q| self.count(q, None));
        let sigma = axes.map(|q| pooled.covariance[q][q].max(0.0).sqrt());
        Some(Gap {
            left: left.clone(),
            right: right.clone(),
            value_mm: axes.map(|q| (cars[q - 3] > 0).then_some(pooled.mean[q])),
            sigma_mm: sigma,
            between_mm: axes.map(|q| pooled.between[q][q].max(0.0).sqrt()),
            cars,
            p: axes.map(|q| {
                let freedom = cars[q - 3].checked_sub(1).filter(|freedom| *freedom > 0)?;
                two_sided(pooled.mean[q] / sigma[q - 3], freedom as f64)
            }),
        })
    }
}

/// By how much Student's interval of this many cars is wider than the normal one: exact for cars that
/// are measured alike (any textbook on the prediction interval of a normal sample). Where the spread is
/// assumed it is taken as known.
fn widened(cars: usize) -> f64 {
    if cars < FEWEST_CARS {
        return 1.0;
    }
    StudentsT::new(0.0, 1.0, (cars - 1) as f64).map_or(1.0, |t| t.inverse_cdf(0.975) / TWO_SIDED_95)
}

/// Probability of a test value at least this large, either way.
pub(super) fn two_sided(t: f64, freedom: f64) -> Option<f64> {
    let student = StudentsT::new(0.0, 1.0, freedom).ok()?;
    t.is_finite().then(|| (2.0 * student.sf(t.abs())).min(1.0))
}
