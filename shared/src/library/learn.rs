//! Learning a sheet from the undamaged cars and sides that the shop has measured.
//!
//! Millimetres. Each car is solved on its own, without any sheet and with symmetry only as a loose
//! prior, laid over the others by its trusted points (`align`), and pooled point by point and pair by
//! pair (`pool`). A pair is pooled as what its sides have in common and what they differ by, so that a
//! car with one sound side speaks for both as far as it can. This file refuses to know which cars are
//! sound: whoever asks says so.

mod block;
mod frames;
mod odd;

use std::collections::HashSet;

use indexmap::IndexMap;

use super::dense::Matrix;
use super::rules::LEAST_SPREAD_MM;
use super::sheet::{Body, Member, Origin, OriginKind, Point, Sheet};
use crate::ids::{MemberId, PointId, StageId};
use crate::job::{Job, Side};
use crate::solve::Positions;
use block::Block;

pub use odd::Odd;

/// One car to learn from.
#[derive(Debug, Clone)]
pub struct Source<'a> {
    /// What it is called: the job's number.
    pub name: String,
    /// The job.
    pub job: &'a Job,
    /// The stage whose readings count.
    pub stage: StageId,
    /// Points on undamaged parts; see [`sound`].
    pub sound: Vec<PointId>,
}

/// How to learn, and what the sheet is called.
#[derive(Debug, Clone)]
pub struct Learning<'a> {
    /// Name of the sheet.
    pub name: String,
    /// Its revision.
    pub revision: u32,
    /// Which bodies it is for.
    pub body: Body,
    /// Who learns, and when (RFC 3339).
    pub by: String,
    /// See `by`.
    pub at: String,
    /// The revision whose frame is kept, and whose asymmetry is expected where no car shows both sides.
    pub before: Option<&'a Sheet>,
    /// Spread between cars where fewer than [`FEWEST_CARS`] tell: a stated assumption. Common practice
    /// expects one or two millimetres between the sides of a new body.
    pub prior_between_mm: f64,
}

/// Fewest cars whose spread is believed.
pub const FEWEST_CARS: usize = 3;
/// Limit of the tests (two-sided, as for a reading).
pub const SIGNIFICANT: f64 = 0.001;

/// What was learned.
#[derive(Debug, Clone, PartialEq)]
pub struct Learned {
    /// The sheet; its spreads are those of the prediction for a new car.
    pub sheet: Sheet,
    /// How each of its points came about.
    pub points: IndexMap<PointId, LearnedPoint>,
    /// What the sides of each pair differ by.
    pub gaps: Vec<Gap>,
    /// Points of single cars that the other cars do not predict, most striking first.
    pub odd: Vec<Odd>,
    /// What the reader has to know.
    pub notes: Vec<Note>,
}

/// One learned point.
#[derive(Debug, Clone, PartialEq)]
pub struct LearnedPoint {
    /// Cars that tell of it, per axis; the other side counts.
    pub cars: [usize; 3],
    /// Standard uncertainty of the mean.
    pub mean_sigma_mm: [f64; 3],
    /// Spread between cars; the stated assumption where `assumed`.
    pub between_mm: [f64; 3],
    /// Is the spread between cars assumed, for want of cars?
    pub assumed: [bool; 3],
    /// Half width of the 95 % prediction interval for a new car measured without error.
    pub prediction_95_mm: [f64; 3],
    /// No car shows both sides: one of them is the other's mirror.
    pub mirrored: [bool; 3],
}

/// What the sides of a pair differ by: x_L − x_R, y_L + y_R, z_L − z_R.
#[derive(Debug, Clone, PartialEq)]
pub struct Gap {
    /// Left point.
    pub left: PointId,
    /// Right point.
    pub right: PointId,
    /// Mean difference; `None` where no car shows both sides.
    pub value_mm: [Option<f64>; 3],
    /// Its standard uncertainty.
    pub sigma_mm: [f64; 3],
    /// Spread between cars.
    pub between_mm: [f64; 3],
    /// Cars that show both sides.
    pub cars: [usize; 3],
    /// Probability of a difference at least this large by chance; with fewer than two cars there is
    /// no test.
    pub p: [Option<f64>; 3],
}

impl Gap {
    /// Is the pair asymmetric by design, beyond chance?
    #[must_use]
    pub fn designed(&self) -> bool {
        self.p.iter().flatten().any(|p| *p < SIGNIFICANT)
    }
}

/// What the reader of a learned sheet has to know.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Note {
    /// Nothing to learn from.
    #[error("no car could be used; measure an undamaged one with at least three trusted points")]
    NoCars,
    /// One car alone.
    #[error(
        "one car alone: how much cars differ cannot be known from it; {prior_mm} mm are assumed between cars, measure more"
    )]
    OneCar {
        /// The assumption.
        prior_mm: f64,
    },
    /// Points with too few cars.
    #[error(
        "{points} points were seen on fewer than {FEWEST_CARS} cars; {prior_mm} mm are assumed between cars"
    )]
    FewCars {
        /// How many points.
        points: usize,
        /// The assumption.
        prior_mm: f64,
    },
    /// A car that could not be solved.
    #[error("{car} does not solve; look at its suspects first")]
    NotSolved {
        /// The car.
        car: String,
    },
    /// A car without enough points in common.
    #[error(
        "{car} shares fewer than three sound trusted points with the others, so its frame cannot be laid over theirs; trust and read more of the same points"
    )]
    NotAligned {
        /// The car.
        car: String,
    },
    /// A point that a car names otherwise.
    #[error(
        "{car} has {point} on another side or with another mirror; that point of it is left out"
    )]
    Disagrees {
        /// The car.
        car: String,
        /// The point.
        point: PointId,
    },
    /// A coordinate that nobody measured.
    #[error("{point} is left out: no car measured it along {axis}")]
    NotMeasured {
        /// The point.
        point: PointId,
        /// `x`, `y` or `z`.
        axis: char,
    },
    /// An estimate that did not come to rest.
    #[error("the spread between cars of {point} did not settle; take it as rough")]
    Unsettled {
        /// The point, or the left of a pair.
        point: PointId,
    },
}

/// The points of a job that no damaged member carries: those to learn from. With no member named, all.
#[must_use]
pub fn sound(job: &Job, damaged: &[MemberId]) -> Vec<PointId> {
    let mut out: HashSet<&MemberId> = damaged.iter().collect();
    // What a damaged member carries moved with it.
    loop {
        let carried = |(id, member): &(&MemberId, &crate::job::Member)| {
            !out.contains(*id) && member.carried_by.first().is_some_and(|by| out.contains(by))
        };
        let more: Vec<&MemberId> = job
            .members
            .iter()
            .filter(carried)
            .map(|(id, _)| id)
            .collect();
        if more.is_empty() {
            break;
        }
        out.extend(more);
    }
    let stands = |member: &Option<MemberId>| member.as_ref().is_none_or(|m| !out.contains(m));
    let points = job.points.iter().filter(|(_, point)| stands(&point.member));
    points.map(|(id, _)| id.clone()).collect()
}

/// A car laid over the others.
#[derive(Debug, Clone)]
struct Car {
    name: String,
    positions: Positions,
    covariance: Matrix,
    index: IndexMap<PointId, usize>,
}

/// A point as most cars name it.
#[derive(Debug, Clone)]
struct Known {
    label: String,
    side: Side,
    mirror: Option<PointId>,
    member: Option<MemberId>,
}

/// Learns a sheet. Never fails: what could not be used is in the notes, and a sheet without points
/// says that nothing was learned.
#[must_use]
pub fn learn(sources: &[Source<'_>], learning: &Learning<'_>) -> Learned {
    let mut notes = Vec::new();
    let known = frames::known(sources);
    let cars = frames::cars(sources, &known, learning, &mut notes);
    let mut learned = Learned {
        sheet: empty(sources, &cars, learning),
        points: IndexMap::new(),
        gaps: Vec::new(),
        odd: Vec::new(),
        notes,
    };
    if cars.is_empty() {
        learned.notes.push(Note::NoCars);
        return learned;
    }
    let prior = learning.prior_between_mm.max(LEAST_SPREAD_MM);
    let mut blocks = Vec::new();
    for (id, point) in &known {
        let mirror = point.mirror.as_ref().filter(|m| known.contains_key(*m));
        match (point.side, mirror) {
            (Side::Left, Some(mirror)) => {
                let expected = learning
                    .before
                    .and_then(|sheet| sheet.asymmetry_mm(id, mirror));
                blocks.push(Block::pair(&cars, id, mirror, expected));
            }
            (Side::Right, Some(_)) => {}
            _ => blocks.push(Block::single(&cars, id)),
        }
    }
    let mut few = 0;
    for block in &blocks {
        if block.left_out(&mut learned.notes) {
            continue;
        }
        let Some(pooled) = block.pool(prior) else {
            continue;
        };
        if !pooled.converged {
            let point = block.ids[0].clone();
            learned.notes.push(Note::Unsettled { point });
        }
        for told in block.points(&pooled) {
            let block::Told {
                id,
                target_mm,
                spread_mm,
                learned: point,
            } = told;
            few += usize::from(point.assumed.contains(&true));
            let cars = point.cars.into_iter().min().unwrap_or_default();
            let target = Point {
                label: known[&id].label.clone(),
                side: known[&id].side,
                mirror: known[&id].mirror.clone(),
                target_mm,
                spread_mm,
                tolerance_mm: None,
                asymmetric: false,
                member: known[&id].member.clone(),
                cars: u32::try_from(cars).unwrap_or(u32::MAX),
            };
            learned.sheet.points.insert(id.clone(), target);
            learned.points.insert(id, point);
        }
        learned.gaps.extend(block.gap(&pooled));
    }
    learned.odd = odd::odd(&cars, &blocks, prior);
    match cars.len() {
        1 => learned.notes.push(Note::OneCar { prior_mm: prior }),
        _ if few > 0 => learned.notes.push(Note::FewCars {
            points: few,
            prior_mm: prior,
        }),
        _ => {}
    }
    finish(&mut learned, &known);
    learned
}

/// The sheet without points.
fn empty(sources: &[Source<'_>], cars: &[Car], learning: &Learning<'_>) -> Sheet {
    let mut members: IndexMap<MemberId, Member> = IndexMap::new();
    if let Some(source) = sources.first() {
        for (id, member) in &source.job.members {
            let member = Member {
                label: member.label.clone(),
                carried_by: member.carried_by.clone(),
            };
            members.insert(id.clone(), member);
        }
    }
    let names: Vec<&str> = cars.iter().map(|car| car.name.as_str()).collect();
    // No words: a sheet is read in every language.
    let source = names.join(", ");
    Sheet {
        name: learning.name.clone(),
        revision: learning.revision,
        body: learning.body.clone(),
        tolerance_mm: None,
        origin: Origin {
            kind: OriginKind::Measured,
            source: source.chars().take(super::MAX_TEXT).collect(),
            by: learning.by.clone(),
            at: learning.at.clone(),
        },
        members,
        points: IndexMap::new(),
    }
}

/// Marks asymmetric pairs, keeps the order of the cars, and drops what points to nothing.
fn finish(learned: &mut Learned, known: &IndexMap<PointId, Known>) {
    let sheet = &mut learned.sheet;
    for gap in &learned.gaps {
        let far = sheet.asymmetry_mm(&gap.left, &gap.right);
        let far =
            far.is_some_and(|gap| gap.iter().any(|gap| gap.abs() > super::rules::MOST_GAP_MM));
        for id in [&gap.left, &gap.right] {
            if let Some(point) = sheet.points.get_mut(id) {
                point.asymmetric = gap.designed() || far;
            }
        }
    }
    let there: HashSet<PointId> = sheet.points.keys().cloned().collect();
    for point in sheet.points.values_mut() {
        point.mirror = point.mirror.take().filter(|mirror| there.contains(mirror));
        let members = &sheet.members;
        point.member = point
            .member
            .take()
            .filter(|member| members.contains_key(member));
    }
    let order = |id: &PointId| known.get_index_of(id);
    sheet.points.sort_by(|a, _, b, _| order(a).cmp(&order(b)));
    learned.points.sort_by(|a, _, b, _| order(a).cmp(&order(b)));
    let sheet = std::mem::replace(sheet, empty_sheet());
    learned.sheet = sheet.rounded();
}

fn empty_sheet() -> Sheet {
    Sheet {
        name: String::new(),
        revision: 0,
        body: Body::default(),
        tolerance_mm: None,
        origin: Origin {
            kind: OriginKind::Measured,
            source: String::new(),
            by: String::new(),
            at: String::new(),
        },
        members: IndexMap::new(),
        points: IndexMap::new(),
    }
}
