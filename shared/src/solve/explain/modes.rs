//! The modes of a stage, pair by pair along the car.
//!
//! Millimetres. Without a sheet only what symmetry shows: diamond, sidesway and twist.

use crate::adjust::sorting::sort_by;
use crate::adjust::{LinearForm, Solution, Term};
use crate::damage::modes::{DIFFERENCE, Part, SUM, Sections};
use crate::damage::{Structure, is_real};
use crate::ids::PointId;
use crate::job::{Job, Side};
use crate::result::{Mode, ModeKind, Section};
use crate::solve::network::{Built, target, target_spread};
use crate::solve::quantities::Quantity;

/// Kind, axis, factors of left and right, and whether symmetry alone shows it.
const KINDS: [(ModeKind, usize, [f64; 2], bool); 6] = [
    (ModeKind::Mash, 0, SUM, false),
    (ModeKind::Diamond, 0, DIFFERENCE, true),
    (ModeKind::Sidesway, 1, SUM, true),
    (ModeKind::Spread, 1, DIFFERENCE, false),
    (ModeKind::Sag, 2, SUM, false),
    (ModeKind::Twist, 2, DIFFERENCE, true),
];

pub(super) fn of_stage(
    job: &Job,
    built: &Built,
    solution: &Solution,
    structure: &Structure,
    stage: usize,
) -> Vec<Mode> {
    let sections = Sections::of(structure);
    let mut modes = Vec::new();
    for (left, point) in job
        .points
        .iter()
        .filter(|(_, point)| point.side == Side::Left)
    {
        let Some(right) = &point.mirror else { continue };
        for (mode, axis, factors, by_symmetry) in KINDS {
            let both = target(job, left).zip(target(job, right));
            if both.is_none() && !by_symmetry {
                continue;
            }
            let Some(quantity) = quantity(job, built, stage, [left, right], axis, factors) else {
                continue;
            };
            if !quantity.measured(solution) {
                continue;
            }
            let aim = both.map_or(0.0, |(l, r)| factors[0] * l[axis] + factors[1] * r[axis]);
            // Half the spread of a difference by symmetry; of two targets, each with half weight.
            let half = |id| 0.5 * target_spread(job, id, axis);
            let body = match both {
                Some(_) => half(left).hypot(half(right)),
                None => job.settings.build_spread_mm / 2.0,
            };
            let value_mm = solution.value(&quantity.form) - aim;
            let sigma_mm = solution.variance(&quantity.form).sqrt().hypot(body);
            let place = |id: &PointId| {
                built
                    .place(job, id, stage)
                    .map_or(0.0, |block| solution.block(block)[0])
            };
            let x_mm = 0.5 * (place(left) + place(right));
            modes.push(Mode {
                section: match sections.part(x_mm) {
                    Part::Front => Section::Front,
                    Part::Centre => Section::Centre,
                    Part::Rear => Section::Rear,
                },
                mode,
                x_mm,
                value_mm,
                sigma_mm,
                significant: is_real(value_mm, sigma_mm),
            });
        }
    }
    sort_by(&mut modes, |a, b| {
        a.mode.cmp(&b.mode).then(a.x_mm.total_cmp(&b.x_mm))
    });
    modes
}

fn quantity(
    job: &Job,
    built: &Built,
    stage: usize,
    pair: [&PointId; 2],
    axis: usize,
    factors: [f64; 2],
) -> Option<Quantity> {
    let mut terms = Vec::with_capacity(2);
    for (id, factor) in pair.into_iter().zip(factors) {
        terms.push(Term {
            block: built.place(job, id, stage)?,
            axis,
            factor,
        });
    }
    Some(Quantity {
        form: LinearForm(terms),
        trust: built.trust_on(&pair, axis),
    })
}
