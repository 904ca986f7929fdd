//! Do the prediction intervals hold? New cars against sheets that were learned without them.

use indexmap::IndexMap;

use super::cars::{built, fleet, learning, sources};
use crate::geometry::Vec3;
use crate::ids::PointId;
use crate::library::align::align;
use crate::library::dense::zeros;
use crate::library::{Sheet, learn};
use crate::solve::Positions;
use crate::solve::tests::car::Dice;

/// A new car in the sheet's frame, by the points that are trusted, measured without error.
fn on_sheet(sheet: &Sheet, places: &IndexMap<PointId, Vec3>) -> Vec<(PointId, Vec3)> {
    let reference: IndexMap<PointId, Vec3> = sheet
        .points
        .iter()
        .map(|(id, point)| (id.clone(), point.target_mm))
        .collect();
    let points: Vec<PointId> = places.keys().cloned().collect();
    // Ten trusted points stand first.
    let trusted: Vec<usize> = (0..10).collect();
    let car = Positions {
        covariance: zeros(3 * points.len(), 3 * points.len()),
        xyz_mm: places.values().copied().collect(),
        points,
    };
    let laid = align(&car, &trusted, &reference, [1200.0, 0.0, 400.0], 1.0).unwrap();
    car.points.into_iter().zip(laid.xyz_mm).collect()
}

#[test]
fn ninety_five_percent_prediction_intervals_hold_about_95_percent_of_the_time() {
    for (cars, rounds, between_mm) in [(5, 40, 0.8), (12, 16, 0.8), (8, 24, 0.3)] {
        let (mut held, mut all) = (0_u32, 0_u32);
        let mut odd = 0;
        for round in 0..rounds {
            let mut dice = Dice::new(1000 * cars as u64 + round);
            let jobs = fleet(&mut dice, cars, between_mm);
            let learned = learn(&sources(&jobs), &learning());
            odd += usize::from(!learned.odd.is_empty());
            for _ in 0..5 {
                let places = built(&mut dice, between_mm);
                for (id, place) in on_sheet(&learned.sheet, &places) {
                    for (axis, place) in place.into_iter().enumerate() {
                        let off = place - learned.sheet.points[&id].target_mm[axis];
                        all += 1;
                        held += u32::from(off.abs() <= learned.points[&id].prediction_95_mm[axis]);
                    }
                }
            }
        }
        let share = f64::from(held) / f64::from(all);
        println!(
            "{cars} cars, {between_mm} mm between: {held} of {all} hold, {:.1} %; {odd} of {rounds} fleets with an odd car",
            100.0 * share
        );
        assert!(
            (0.93..=0.98).contains(&share),
            "{cars} cars: {:.1} %",
            100.0 * share
        );
        assert!(odd <= rounds as usize / 5, "{odd} of {rounds} fleets");
    }
}
