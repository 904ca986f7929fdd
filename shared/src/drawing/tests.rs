//! Views against what a person standing there sees.

use super::*;

#[test]
fn each_view_shows_the_car_as_seen_from_there() {
    // A point at the front right, high up.
    let place = [-500.0, 600.0, 900.0];
    let [u, v] = View::Plan.project(place);
    assert!(
        u > 0.0 && v < 0.0,
        "plan: right, and up because it is in front"
    );
    let [u, v] = View::Side.project(place);
    assert!(
        u < 0.0 && v < 0.0,
        "side, from the left: front to the left, high up"
    );
    let [u, v] = View::Front.project(place);
    assert!(
        u < 0.0 && v < 0.0,
        "from the front the car's right is on the left"
    );
}

#[test]
fn dragging_on_paper_undoes_projecting() {
    let place = [100.0, 200.0, 300.0];
    for view in View::ALL {
        let moved = view.dragged(place, [10.0, -20.0]);
        let (before, after) = (view.project(place), view.project(moved));
        assert!((after[0] - before[0] - 10.0).abs() < 1e-9);
        assert!((after[1] - before[1] + 20.0).abs() < 1e-9);
    }
}

/// The demo's points in their drawn places, with the worst of what a finger can meet: pairs, which
/// cover each other from the left.
fn demo_spots() -> (Job, IndexMap<PointId, Spot>) {
    let job = crate::demo::job();
    let spots = spots(&job, None);
    (job, spots)
}

fn finger(spots: &IndexMap<PointId, Spot>, view: View, on: &PointId) -> Finger {
    // A phone of 360 pixels shows about 4,500 mm: 12.5 mm are a pixel.
    Finger {
        at: view.project(spots[on].at_mm),
        reach: 24.0 * 12.5,
        apart: 8.0 * 12.5,
    }
}

#[test]
fn what_is_nearer_to_the_eye_is_drawn_over_the_rest() {
    let (job, mut spots) = demo_spots();
    let order = |spots: &IndexMap<PointId, Spot>, view| -> Vec<PointId> {
        let order = far_to_near(spots, view);
        order.into_iter().map(|spot| spot.id.clone()).collect()
    };
    let place = |order: &[PointId], id: &PointId| order.iter().position(|known| known == id);
    let from_the_left = order(&spots, View::Side);
    assert_eq!(from_the_left.len(), job.points.len());
    for (id, point) in &job.points {
        if let (Side::Left, Some(mirror)) = (point.side, &point.mirror) {
            let [left, right] = [id, mirror].map(|id| place(&from_the_left, id).unwrap());
            assert!(left > right, "{} covers its left side", mirror.as_str());
        }
    }
    let [low, high] = ["rail-front-L", "tower-rear-L"].map(|id| PointId::parse(id).unwrap());
    for (id, at_mm) in [
        (&low, [900.0, -400.0, 100.0]),
        (&high, [0.0, -400.0, 800.0]),
    ] {
        spots[id].at_mm = at_mm;
    }
    for view in [View::Plan, View::Front] {
        let order = order(&spots, view);
        assert!(place(&order, &high) > place(&order, &low), "{view:?}");
    }
}

#[test]
fn taps_at_one_place_take_every_point_there_the_near_side_first() {
    let (job, spots) = demo_spots();
    for (id, point) in &job.points {
        let (Side::Left, Some(mirror)) = (point.side, &point.mirror) else {
            continue;
        };
        for under in [id, mirror] {
            let finger = finger(&spots, View::Side, under);
            let mut met = Vec::new();
            let mut chosen = None;
            for _ in 0..job.points.len() {
                chosen = taken(&spots, View::Side, finger, chosen.as_ref());
                met.push(chosen.clone().unwrap());
            }
            let [left, right] = [id, mirror].map(|id| met.iter().position(|met| met == id));
            assert!(
                left.unwrap() < right.unwrap(),
                "{} is met after {}",
                id.as_str(),
                mirror.as_str()
            );
        }
    }
}

#[test]
fn a_mark_that_stands_alone_is_taken_again_and_one_out_of_reach_never() {
    let (_, spots) = demo_spots();
    let id = PointId::parse("rail-front-R").unwrap();
    let mut finger = finger(&spots, View::Plan, &id);
    finger.apart = 0.0;
    let first = taken(&spots, View::Plan, finger, None);
    assert_eq!(first.as_ref(), Some(&id));
    assert_eq!(taken(&spots, View::Plan, finger, Some(&id)), first);
    // What was chosen elsewhere is not what is tapped.
    let other = PointId::parse("rail-front-L").unwrap();
    assert_eq!(taken(&spots, View::Plan, finger, Some(&other)), first);
    finger.at[0] += 50_000.0;
    assert_eq!(taken(&spots, View::Plan, finger, None), None);
}
