//! Every car solved by itself and laid over the others.
//!
//! Millimetres. The sheet's frame is that of the revision before, or the mean of the cars' own frames:
//! the centre plane is where the trusted pairs of the cars, on the mean, are symmetric.

use indexmap::IndexMap;

use super::{Car, Known, Learning, Note, Source};
use crate::geometry::{Vec3, add, scale};
use crate::ids::PointId;
use crate::job::Job;
use crate::library::align::{Aligned, FEWEST, align, moved_back};
use crate::solve::{Positions, positions};

/// Symmetry as a loose prior: the size of damage, as the engine has it for points that are not trusted.
const LOOSE_MM: f64 = 30.0;

/// The points of all cars as the first that has them names them.
pub(super) fn known(sources: &[Source<'_>]) -> IndexMap<PointId, Known> {
    let mut known: IndexMap<PointId, Known> = IndexMap::new();
    for source in sources {
        for id in &source.sound {
            let Some(point) = source.job.points.get(id) else {
                continue;
            };
            for (id, point) in [Some((id, point)), mirror(source.job, point)]
                .into_iter()
                .flatten()
            {
                known.entry(id.clone()).or_insert_with(|| Known {
                    label: point.label.clone(),
                    side: point.side,
                    mirror: point.mirror.clone(),
                    member: point.member.clone(),
                });
            }
        }
    }
    known
}

/// The other side belongs to the sheet as well.
fn mirror<'a>(
    job: &'a Job,
    point: &'a crate::job::Point,
) -> Option<(&'a PointId, &'a crate::job::Point)> {
    let id = point.mirror.as_ref()?;
    Some((id, job.points.get(id)?))
}

/// The cars over each other.
pub(super) fn cars(
    sources: &[Source<'_>],
    known: &IndexMap<PointId, Known>,
    learning: &Learning<'_>,
    notes: &mut Vec<Note>,
) -> Vec<Car> {
    let mut own = Vec::new();
    for source in sources {
        match solved(source, known, notes) {
            Some(positions) => own.push((source, positions)),
            None => notes.push(Note::NotSolved {
                car: source.name.clone(),
            }),
        }
    }
    let trusted: Vec<Vec<usize>> = own
        .iter()
        .map(|(source, p)| trusted(source.job, p))
        .collect();
    let Some(mut reference) = first_reference(&own, &trusted, learning) else {
        notes.extend(own.iter().map(|(source, _)| Note::NotAligned {
            car: source.name.clone(),
        }));
        return Vec::new();
    };
    let about = middle(&reference);
    let kept = learning.before.is_some();
    let sigma = learning.prior_between_mm.max(0.1);
    let mut laid: Vec<Option<Aligned>> = Vec::new();
    for _ in 0..30 {
        laid = own
            .iter()
            .zip(&trusted)
            .map(|((_, positions), trusted)| align(positions, trusted, &reference, about, sigma))
            .collect();
        let moved = renewed(&mut reference, &own, &trusted, &laid, kept, about);
        if moved < 1e-6 {
            break;
        }
    }
    let mut cars = Vec::new();
    for ((source, mut positions), laid) in own.into_iter().zip(laid) {
        let Some(laid) = laid else {
            notes.push(Note::NotAligned {
                car: source.name.clone(),
            });
            continue;
        };
        positions.xyz_mm = laid.xyz_mm;
        let index = positions.points.iter().cloned().enumerate();
        cars.push(Car {
            name: source.name.clone(),
            index: index.map(|(at, id)| (id, at)).collect(),
            positions,
            covariance: laid.covariance,
        });
    }
    cars
}

/// One car without any sheet, its sides not made alike by trust: an assumption is not a measurement.
fn solved(
    source: &Source<'_>,
    known: &IndexMap<PointId, Known>,
    notes: &mut Vec<Note>,
) -> Option<Positions> {
    let mut job = source.job.clone();
    job.sheet = None;
    job.settings.build_spread_mm = LOOSE_MM;
    let mut points = Vec::new();
    for id in &source.sound {
        let Some(point) = job.points.get(id) else {
            continue;
        };
        let same = known
            .get(id)
            .is_some_and(|k| k.side == point.side && k.mirror == point.mirror);
        if same {
            points.push(id.clone());
        } else {
            notes.push(Note::Disagrees {
                car: source.name.clone(),
                point: id.clone(),
            });
        }
    }
    positions(&job, &source.stage, &points)
}

fn trusted(job: &Job, positions: &Positions) -> Vec<usize> {
    let of = |id: &PointId| job.points.get(id).is_some_and(|point| point.trusted);
    let points = positions.points.iter().enumerate();
    points.filter(|(_, id)| of(id)).map(|(at, _)| at).collect()
}

/// The revision before, or the car that shares most trusted points with the others.
fn first_reference(
    own: &[(&Source<'_>, Positions)],
    trusted: &[Vec<usize>],
    learning: &Learning<'_>,
) -> Option<IndexMap<PointId, Vec3>> {
    if let Some(sheet) = learning.before {
        let targets = sheet.points.iter();
        return Some(
            targets
                .map(|(id, point)| (id.clone(), point.target_mm))
                .collect(),
        );
    }
    let ids = |car: usize| trusted[car].iter().map(move |&at| &own[car].1.points[at]);
    let shared = |car: usize| -> usize {
        let others = (0..own.len()).filter(|other| *other != car);
        others
            .map(|other| ids(car).filter(|id| ids(other).any(|o| o == *id)).count())
            .sum()
    };
    let best = (0..own.len())
        .filter(|car| trusted[*car].len() >= FEWEST)
        .max_by_key(|car| (shared(*car), trusted[*car].len(), usize::MAX - car))?;
    let at = trusted[best].iter();
    Some(
        at.map(|&at| (own[best].1.points[at].clone(), own[best].1.xyz_mm[at]))
            .collect(),
    )
}

fn middle(reference: &IndexMap<PointId, Vec3>) -> Vec3 {
    let sum = reference
        .values()
        .fold([0.0; 3], |sum, place| add(sum, *place));
    scale(sum, 1.0 / reference.len().max(1) as f64)
}

/// The trusted points' means over the cars, moved so that the cars' own frames are right on the mean;
/// how far they moved. A reference that is kept only gains points.
fn renewed(
    reference: &mut IndexMap<PointId, Vec3>,
    own: &[(&Source<'_>, Positions)],
    trusted: &[Vec<usize>],
    laid: &[Option<Aligned>],
    kept: bool,
    about: Vec3,
) -> f64 {
    let mut sums: IndexMap<PointId, (Vec3, Vec3)> = IndexMap::new();
    for (((_, positions), trusted), laid) in own.iter().zip(trusted).zip(laid) {
        let Some(laid) = laid else { continue };
        for &at in trusted {
            let (sum, weights) = sums.entry(positions.points[at].clone()).or_default();
            for axis in 0..3 {
                let own = laid.covariance[3 * at + axis][3 * at + axis].max(0.0);
                // A body's spread beside a car's own, so that no car has all the say.
                let weight = 1.0 / (1.0 + own);
                sum[axis] += weight * laid.xyz_mm[at][axis];
                weights[axis] += weight;
            }
        }
    }
    let mut most: f64 = 0.0;
    for (id, (sum, weights)) in sums {
        let place = [0, 1, 2].map(|axis| sum[axis] / weights[axis]);
        match reference.get_mut(&id) {
            Some(_) if kept => {}
            Some(old) => {
                most = (0..3).fold(most, |most, axis| most.max((old[axis] - place[axis]).abs()));
                *old = place;
            }
            None => {
                most = f64::INFINITY;
                reference.insert(id, place);
            }
        }
    }
    if kept {
        return most;
    }
    let count = laid.iter().flatten().count().max(1) as f64;
    let mean = |of: fn(&Aligned) -> Vec3| {
        let sum = laid
            .iter()
            .flatten()
            .fold([0.0; 3], |sum, laid| add(sum, of(laid)));
        scale(sum, 1.0 / count)
    };
    let moved = moved_back(
        reference,
        about,
        mean(|laid| laid.shift),
        mean(|laid| laid.turn),
    );
    most.max(moved)
}
