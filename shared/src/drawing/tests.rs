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
