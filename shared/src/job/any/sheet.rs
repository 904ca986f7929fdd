//! A sheet of some of the points, with and without spreads and tolerances of their own.

use indexmap::IndexMap;
use proptest::prelude::*;

use super::{Job, Sheet, length, spread, text};

/// Target, own spread, own tolerance.
type Target = ([f64; 3], (Option<[f64; 3]>, Option<f64>));

/// Name, revision, spread of all, targets.
type Drawn = (String, u32, f64, Vec<Target>);

pub(super) fn drawn() -> impl Strategy<Value = Drawn> {
    let own = (
        prop::option::of([spread(), spread(), spread()]),
        prop::option::of(spread()),
    );
    let target = ([length(), length(), length()], own);
    let targets = prop::collection::vec(target, 0..4);
    (text(), any::<u32>(), spread(), targets)
}

pub(super) fn pinned(job: &Job, sheet: Drawn) -> Sheet {
    let (name, revision, spread_mm, targets) = sheet;
    let mut sheet = Sheet {
        name,
        revision,
        digest: match revision % 2 {
            0 => String::new(),
            _ => format!("{revision:064x}"),
        },
        spread_mm,
        points: IndexMap::new(),
        spreads: IndexMap::new(),
        tolerances: IndexMap::new(),
    };
    for (id, (target, (spread, tolerance))) in job.points.keys().zip(targets) {
        sheet.points.insert(id.clone(), target);
        sheet.spreads.extend(spread.map(|own| (id.clone(), own)));
        let own = tolerance.map(|own| (id.clone(), own));
        sheet.tolerances.extend(own);
    }
    sheet
}
