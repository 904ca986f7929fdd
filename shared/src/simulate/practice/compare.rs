//! The book's findings beside the truth of a practice car: plain data, the sentences are elsewhere.

use super::{Practice, value_of};
use crate::adjust::sorting::sort_by;
use crate::geometry::Vec3;
use crate::ids::{MemberId, PointId};
use crate::job::{Job, Taken};
use crate::result::{JobResult, Judged, StageResult};
use crate::speech::Quantity;
use crate::verdict::{Verdict, judge};

/// A reading that is further from the truth than this was misread; six spreads of a hand.
pub const SLIP_MM: f64 = 5.0;
/// What the two sides of a car can be compared in without a sheet.
const QUANTITIES: [Quantity; 3] = [
    Quantity::RightHigher,
    Quantity::CentreRight,
    Quantity::RightRearward,
];

/// What became of one quantity of a pair.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Out, and called out.
    Found,
    /// Out, and called straight.
    Missed,
    /// Out, and the readings do not tell.
    Open,
    /// Straight, and called out.
    FalseAlarm,
    /// Straight, and called straight.
    Straight,
    /// Straight, and the readings do not tell.
    Undecided,
}

/// One quantity of a pair.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// Left point of the pair.
    pub left: PointId,
    /// What is compared.
    pub quantity: Quantity,
    /// The truth.
    pub true_mm: f64,
    /// What the book says.
    pub found: Judged,
    /// How they go together.
    pub outcome: Outcome,
}

/// A book of a practice car beside its truth.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// Readings that count.
    pub readings: usize,
    /// Readings that were misread, those that are set aside or replaced too.
    pub slips: usize,
    /// How many of them still count.
    pub slips_counting: usize,
    /// Every quantity of every pair, what is furthest out in truth first.
    pub pairs: Vec<Compared>,
    /// Root of the mean square of the spreads that the book gave; `None` when it judged nothing.
    pub spread_mm: Option<f64>,
    /// The same of its true errors.
    pub error_mm: Option<f64>,
    /// Of so many values …
    pub judged: usize,
    /// … so many were within twice their spread of the truth (about 19 in 20 are when the spreads are
    /// honest).
    pub within_twice: usize,
    /// The member that the book names first as the cause.
    pub cause: Option<MemberId>,
    /// The trusted point that is bent, and whether the book or the apprentice doubts it.
    pub bent: Option<(PointId, bool)>,
}

/// Compares the last stage of a book with the truth. Points that are not the practice car's are passed
/// over.
#[must_use]
pub fn compare(practice: &Practice, job: &Job, result: &JobResult) -> Comparison {
    let stage = result.stages.last();
    let mut pairs = pairs(practice, job, result, stage);
    sort_by(&mut pairs, |a, b| {
        b.true_mm.abs().total_cmp(&a.true_mm.abs())
    });
    let errors: Vec<(f64, f64)> = pairs
        .iter()
        .filter_map(|pair| Some((pair.found.value? - pair.true_mm, pair.found.sigma?)))
        .collect();
    let within_twice = |(error, sigma): &&(f64, f64)| error.abs() <= 2.0 * sigma;
    let is_slip = |taken: &Taken| {
        let ideal = practice.ideal(taken);
        ideal.is_some_and(|ideal| (signed(&ideal) - signed(taken)).abs() > SLIP_MM)
    };
    Comparison {
        readings: job.counting_readings().count(),
        slips: job.readings.iter().filter(|r| is_slip(&r.taken)).count(),
        slips_counting: job
            .counting_readings()
            .filter(|r| is_slip(&r.taken))
            .count(),
        spread_mm: root_mean_square(errors.iter().map(|(_, sigma)| *sigma)),
        error_mm: root_mean_square(errors.iter().map(|(error, _)| *error)),
        judged: errors.len(),
        within_twice: errors.iter().filter(within_twice).count(),
        cause: stage
            .and_then(|stage| stage.causes.first())
            .map(|cause| cause.member.clone()),
        bent: practice.bent.as_ref().map(|(id, _)| {
            let is_doubted = result
                .trust
                .iter()
                .any(|test| !test.fits && test.points.contains(id));
            let is_dropped = job.points.get(id).is_some_and(|point| !point.trusted);
            (id.clone(), is_doubted || is_dropped)
        }),
        pairs,
    }
}

fn pairs(
    practice: &Practice,
    job: &Job,
    result: &JobResult,
    stage: Option<&StageResult>,
) -> Vec<Compared> {
    let mut list = Vec::new();
    for (left, point) in &job.points {
        let places = point
            .mirror
            .as_ref()
            .filter(|_| point.side == crate::job::Side::Left)
            .and_then(|right| Some((practice.place(left)?, practice.place(right)?)));
        let Some((l, r)) = places else {
            continue;
        };
        let pair = stage.and_then(|stage| stage.pairs.iter().find(|pair| pair.left == *left));
        for quantity in QUANTITIES {
            let true_mm = true_value(quantity, l, r);
            let found = pair
                .map(|pair| quantity.of(pair).clone())
                .unwrap_or_default();
            // Nothing is uncertain about an invented truth.
            let tolerance = found.tolerance_mm.unwrap_or(result.rule.tolerance_mm);
            let (_, truly) = judge(true_mm, 0.0, tolerance, 0.5);
            list.push(Compared {
                left: left.clone(),
                quantity,
                true_mm,
                outcome: outcome(truly, found.verdict),
                found,
            });
        }
    }
    list
}

fn true_value(quantity: Quantity, l: Vec3, r: Vec3) -> f64 {
    match quantity {
        Quantity::RightHigher => r[2] - l[2],
        Quantity::CentreRight => (l[1] + r[1]) / 2.0,
        Quantity::RightRearward => r[0] - l[0],
        Quantity::Width => r[1] - l[1],
    }
}

fn outcome(truly: Verdict, said: Option<Verdict>) -> Outcome {
    match (truly, said) {
        (Verdict::Outside, Some(Verdict::Outside)) => Outcome::Found,
        (Verdict::Outside, Some(Verdict::Within)) => Outcome::Missed,
        (Verdict::Outside, _) => Outcome::Open,
        (_, Some(Verdict::Outside)) => Outcome::FalseAlarm,
        (_, Some(Verdict::Within)) => Outcome::Straight,
        _ => Outcome::Undecided,
    }
}

/// The number of a reading, with the sign of its side of the beam: the wrong side is a slip too.
fn signed(taken: &Taken) -> f64 {
    use crate::job::{Beam, OffsetSide};
    let value = value_of(taken);
    match taken {
        Taken::Height {
            beam: Beam::Below, ..
        }
        | Taken::Offset {
            side: OffsetSide::Left | OffsetSide::Front,
            ..
        } => -value,
        _ => value,
    }
}

fn root_mean_square(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, count) = values.fold((0.0, 0_u32), |(sum, count), value| {
        (sum + value * value, count + 1)
    });
    (count > 0).then(|| (sum / f64::from(count)).sqrt())
}
