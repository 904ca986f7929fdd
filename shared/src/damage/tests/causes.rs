//! Causes of displacements made up by hand: a cell, and on each side a rail that carries a tower.

use crate::damage::{Blow, Evidence, Found, Row, Spot, Structure, Term, find};
use crate::verdict::Verdict;

const CELL: usize = 0;
const RAIL: [usize; 2] = [1, 2];
const TOWER: [usize; 2] = [3, 4];
/// Per side: rail front, rail middle, tower front, tower rear.
const PLACES: [[f64; 3]; 4] = [
    [-600.0, 430.0, 480.0],
    [-40.0, 420.0, 430.0],
    [-110.0, 560.0, 850.0],
    [50.0, 575.0, 855.0],
];

fn car() -> Structure {
    let mut spots = Vec::new();
    for (index, [x, y, z]) in PLACES.into_iter().enumerate() {
        for (end, side) in [(0, -1_i8), (1, 1)] {
            spots.push(Spot {
                place: [x, f64::from(side) * y, z],
                side,
                member: Some(if index < 2 { RAIL[end] } else { TOWER[end] }),
                mirror: Some(2 * index + 1 - end),
            });
        }
    }
    let carried_by = vec![
        vec![],
        vec![CELL],
        vec![CELL],
        vec![RAIL[0], CELL],
        vec![RAIL[1], CELL],
    ];
    Structure::new(spots, carried_by)
}

/// Height of right over left for the pairs given, with a spread of 1 mm each.
fn heights(values: &[(usize, f64)]) -> Evidence {
    let rows: Vec<Row> = values
        .iter()
        .map(|&(pair, value)| height(pair, value))
        .collect();
    independent(rows)
}

fn height(pair: usize, value: f64) -> Row {
    let term = |point, factor| Term {
        point,
        axis: 2,
        factor,
    };
    Row {
        terms: vec![term(2 * pair, -1.0), term(2 * pair + 1, 1.0)],
        value,
        verdict: if value.abs() < 3.0 {
            Verdict::Within
        } else {
            Verdict::Outside
        },
    }
}

fn independent(rows: Vec<Row>) -> Evidence {
    let covariance = (0..rows.len())
        .map(|a| {
            (0..rows.len())
                .map(|b| f64::from(u8::from(a == b)))
                .collect()
        })
        .collect();
    Evidence { rows, covariance }
}

fn left_front() -> Blow {
    Blow::new(-1, 180.0)
}

fn only(found: &[Found]) -> &Found {
    assert_eq!(found.len(), 1, "{found:#?}");
    &found[0]
}

#[test]
fn a_tower_up_on_a_rail_that_stands_right_clears_the_rail() {
    let evidence = heights(&[(0, 0.4), (1, -0.3), (2, -11.0), (3, -12.0)]);
    let found = find(&car(), &evidence, Some(&left_front()));
    let cause = only(&found);
    assert_eq!(cause.member, TOWER[0]);
    let (up, sigma) = cause.moved[2].unwrap();
    assert!((up - 11.5).abs() < 0.5 && sigma < 1.5, "{up} ± {sigma}");
    assert_eq!(cause.clears, [RAIL[0]]);
    assert!(cause.side_from_impact);
    assert_eq!(cause.instead, [TOWER[1]]);
}

#[test]
fn a_rail_that_went_up_carries_its_tower() {
    let evidence = heights(&[(0, -11.0), (1, -11.5), (2, -11.0), (3, -12.0)]);
    let found = find(&car(), &evidence, Some(&left_front()));
    let cause = only(&found);
    assert_eq!(cause.member, RAIL[0]);
    assert_eq!(
        cause.explains.len(),
        4,
        "the left points of four pairs: {cause:?}"
    );
    assert!(cause.clears.is_empty());
}

#[test]
fn what_was_not_read_is_predicted() {
    let evidence = heights(&[(0, -11.0), (1, -11.5), (3, -12.0)]);
    let found = find(&car(), &evidence, Some(&left_front()));
    let cause = only(&found);
    let (point, shift) = cause.predicts[0];
    assert_eq!(point, 4, "the left tower's front bolt");
    assert!((shift[2].unwrap() - 11.5).abs() < 1.0);
    assert_eq!(
        [shift[0], shift[1]],
        [None, None],
        "nothing was read along these"
    );
}

#[test]
fn an_axis_nothing_was_read_of_has_no_movement() {
    let found = find(
        &car(),
        &heights(&[(2, -11.0), (3, -12.0), (0, 0.0)]),
        Some(&left_front()),
    );
    let cause = only(&found);
    assert_eq!([cause.moved[0], cause.moved[1]], [None, None]);
    assert_eq!(cause.matters, [false, false, true]);
}

#[test]
fn without_an_impact_both_sides_are_named() {
    let evidence = heights(&[(0, 0.4), (1, -0.3), (2, -11.0), (3, -12.0)]);
    let found = find(&car(), &evidence, None);
    let cause = only(&found);
    assert!(!cause.side_from_impact);
    assert_eq!(cause.instead.len(), 1);
    let mut both = [cause.member, cause.instead[0]];
    both.sort_unstable();
    assert_eq!(both, TOWER);
}

#[test]
fn a_blow_on_the_right_turns_left_up_into_right_down() {
    let evidence = heights(&[(0, 0.4), (1, -0.3), (2, -11.0), (3, -12.0)]);
    let found = find(&car(), &evidence, Some(&Blow::new(1, 180.0)));
    let cause = only(&found);
    assert_eq!(cause.member, TOWER[1]);
    assert!(cause.moved[2].unwrap().0 < -10.0);
}

#[test]
fn a_turned_rail_is_one_cause_not_two() {
    // The front end up by 20, the middle by 4, the tower above it by 6 and 2: it turned.
    let evidence = heights(&[(0, -20.0), (1, -5.0), (2, -6.9), (3, -2.5)]);
    let found = find(&car(), &evidence, Some(&left_front()));
    let cause = only(&found);
    assert_eq!(cause.member, RAIL[0]);
    assert!(cause.turned[1].is_some(), "{cause:?}");
}

#[test]
fn a_tower_whose_rail_was_not_read_names_the_rail_too() {
    let found = find(
        &car(),
        &heights(&[(2, -11.0), (3, -12.0)]),
        Some(&left_front()),
    );
    let cause = only(&found);
    assert_eq!(cause.member, TOWER[0], "the one with readings of its own");
    assert!(cause.instead.contains(&RAIL[0]), "{cause:?}");
}

#[test]
fn nothing_outside_has_no_cause() {
    assert!(
        find(
            &car(),
            &heights(&[(0, 1.0), (1, -2.0)]),
            Some(&left_front())
        )
        .is_empty()
    );
    assert!(find(&car(), &Evidence::default(), None).is_empty());
}

#[test]
fn members_in_a_circle_end_somewhere() {
    let spot = Spot {
        place: [0.0; 3],
        side: 0,
        member: Some(0),
        mirror: None,
    };
    let structure = Structure::new(vec![spot], vec![vec![1], vec![0]]);
    assert_eq!(structure.chain(0), [0, 1]);
    let row = Row {
        terms: vec![Term {
            point: 0,
            axis: 1,
            factor: 1.0,
        }],
        value: 9.0,
        verdict: Verdict::Outside,
    };
    let found = find(&structure, &independent(vec![row]), None);
    assert_eq!(found.len(), 1);
}

#[test]
fn readings_that_share_an_error_are_not_taken_for_a_movement() {
    // All heights 5 mm off together, and all of that is the frame's own roll: σ of the common part
    // is 5 mm, of each row alone 0.5 mm.
    let rows: Vec<Row> = (0..4).map(|pair| height(pair, -5.0)).collect();
    let covariance = (0..4)
        .map(|a| {
            (0..4)
                .map(|b| 25.0 + if a == b { 0.25 } else { 0.0 })
                .collect()
        })
        .collect();
    let found = find(&car(), &Evidence { rows, covariance }, Some(&left_front()));
    assert!(found.is_empty(), "{found:#?}");
}
