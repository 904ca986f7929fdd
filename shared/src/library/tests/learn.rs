//! What is learned from simulated cars of which the truth is known.

use super::cars::{DESIGNED_MM, fleet, id, job, learning, sources};
use crate::geometry::{norm, sub};
use crate::library::{Learning, Note, check, learn, parse, sound, write};
use crate::solve::tests::car::Dice;

#[test]
fn ten_cars_make_a_sheet_with_their_spread_and_the_designed_asymmetry() {
    let jobs = fleet(&mut Dice::new(1), 10, 0.8);
    let learned = learn(&sources(&jobs), &learning());
    assert_eq!(learned.notes, []);
    assert_eq!(check(&learned.sheet), []);
    assert_eq!(parse(&write(&learned.sheet)), Ok(learned.sheet.clone()));
    assert_eq!(learned.sheet.points.len(), 14);
    // Distances do not depend on the frame; 0.8 mm on ten cars at both ends leave 0.36 mm.
    let design = super::cars::design();
    let at = |name: &str| learned.sheet.points[&id(name)].target_mm;
    for (a, b) in [
        ("sill-rear-L", "floor-R"),
        ("tower-L", "rear-rail-R"),
        ("rail-L", "rail-R"),
    ] {
        let true_mm = norm(sub(design[&id(a)], design[&id(b)]));
        let off = norm(sub(at(a), at(b))) - true_mm;
        assert!(off.abs() < 1.2, "{a} to {b}: {off}");
    }
    for point in learned.points.values() {
        assert_eq!(point.cars, [10; 3]);
        assert_eq!((point.assumed, point.mirrored), ([false; 3], [false; 3]));
    }
    let between: f64 = learned
        .points
        .values()
        .flat_map(|p| p.between_mm)
        .sum::<f64>()
        / 42.0;
    assert!((0.5..1.1).contains(&between), "{between}");
    let designed: Vec<_> = learned.gaps.iter().filter(|gap| gap.designed()).collect();
    assert_eq!(designed.len(), 1, "{designed:?}");
    let gap = designed[0];
    assert_eq!(gap.left, id("tower-L"));
    let off = gap.value_mm[2].unwrap() + DESIGNED_MM;
    assert!(off.abs() < 3.3 * gap.sigma_mm[2].max(0.36), "{gap:?}");
    assert!(learned.sheet.points[&id("tower-R")].asymmetric);
    assert!(!learned.sheet.points[&id("rail-R")].asymmetric);
    assert_eq!(learned.odd, []);
}

#[test]
fn one_car_says_that_it_cannot_know_the_spread() {
    let jobs = fleet(&mut Dice::new(2), 1, 0.8);
    let learned = learn(&sources(&jobs), &learning());
    assert_eq!(learned.notes, [Note::OneCar { prior_mm: 1.0 }]);
    assert!(learned.notes[0].to_string().contains("cannot be known"));
    for point in learned.points.values() {
        assert_eq!((point.cars, point.assumed), ([1; 3], [true; 3]));
        // The side's own share of the assumption, and its own readings.
        for axis in 0..3 {
            assert!(
                (point.between_mm[axis] - 1.25_f64.sqrt()).abs() < 1e-9,
                "{point:?}"
            );
        }
    }
    assert!(learned.gaps.iter().all(|gap| gap.p == [None; 3]));
    assert!(learned.odd.is_empty());
    let none = learn(&[], &learning());
    assert_eq!(none.notes, [Note::NoCars]);
}

#[test]
fn an_outlying_car_is_named_with_its_point() {
    let mut dice = Dice::new(3);
    let mut jobs = fleet(&mut dice, 6, 0.6);
    let mut bent = super::cars::built(&mut dice, 0.6);
    bent[&id("rail-L")][0] += 12.0;
    jobs.push(job(&mut dice, &bent, 0.4));
    let learned = learn(&sources(&jobs), &learning());
    let first = &learned.odd[0];
    assert_eq!(
        (first.car.as_str(), &first.point, first.axis),
        ("car 6", &id("rail-L"), 0)
    );
    assert!((first.off_mm - 12.0).abs() < 3.0, "{first:?}");
    assert!(
        first.p_of_all < 0.01 && first.p < first.p_of_all,
        "{first:?}"
    );
    assert!(
        learned.odd.iter().all(|odd| odd.car == "car 6"),
        "{:?}",
        learned.odd
    );
}

/// Six cars hit on the left front: the right side speaks for both, and nobody has seen the asymmetry.
#[test]
fn the_sound_side_speaks_for_the_other() {
    let mut dice = Dice::new(4);
    let jobs: Vec<_> = (0..6)
        .map(|_| {
            let mut places = super::cars::built(&mut dice, 0.6);
            for (name, by) in [("rail-L", 40.0), ("tower-L", 25.0)] {
                places[&id(name)][0] += by * (1.0 + dice.uniform());
            }
            job(&mut dice, &places, 0.4)
        })
        .collect();
    let mut sources = sources(&jobs);
    for source in &mut sources {
        source.sound = sound(source.job, &["left-rail".parse().unwrap()]);
        // The tower is carried by the rail.
        assert_eq!(source.sound.len(), 12);
    }
    let learned = learn(&sources, &learning());
    let (left, right) = (
        &learned.sheet.points[&id("rail-L")],
        &learned.sheet.points[&id("rail-R")],
    );
    for axis in 0..3 {
        let mirror = if axis == 1 { -1.0 } else { 1.0 };
        assert!((left.target_mm[axis] - mirror * right.target_mm[axis]).abs() < 0.2);
        assert!(left.spread_mm[axis] > 2.5, "{left:?}");
        assert!(right.spread_mm[axis] < 1.8, "{right:?}");
    }
    assert_eq!(learned.points[&id("rail-L")].mirrored, [true; 3]);
    let gap = learned
        .gaps
        .iter()
        .find(|gap| gap.left == id("rail-L"))
        .unwrap();
    assert_eq!((gap.value_mm, gap.p), ([None; 3], [None; 3]));
    // The revision before says what the sides differ by.
    let mut before = learned.sheet.clone();
    let tower = before.points.get_mut(&id("tower-R")).unwrap();
    tower.target_mm[2] += DESIGNED_MM;
    let again = learn(
        &sources,
        &Learning {
            before: Some(&before),
            revision: 2,
            ..learning()
        },
    );
    let gap = again
        .sheet
        .asymmetry_mm(&id("tower-L"), &id("tower-R"))
        .unwrap();
    let told = before.asymmetry_mm(&id("tower-L"), &id("tower-R")).unwrap();
    assert!((gap[2] - told[2]).abs() < 0.2, "{gap:?}, {told:?}");
}

#[test]
fn cars_that_do_not_belong_together_are_named() {
    let mut jobs = fleet(&mut Dice::new(5), 4, 0.6);
    for point in jobs[3].points.values_mut() {
        point.trusted = false;
    }
    jobs[2].points.get_mut(&id("tower-L")).unwrap().side = crate::job::Side::Centre;
    let learned = learn(&sources(&jobs), &learning());
    let (car, point) = ("car 2".to_owned(), id("tower-L"));
    assert!(
        learned.notes.contains(&Note::Disagrees { car, point }),
        "{:?}",
        learned.notes
    );
    let car = "car 3".to_owned();
    assert!(
        learned.notes.contains(&Note::NotAligned { car }),
        "{:?}",
        learned.notes
    );
    assert_eq!(learned.points[&id("rail-L")].cars, [3; 3]);
    assert_eq!(check(&learned.sheet), []);
}

/// Where every car's own zero plane, datum and pitch are only conventions, the sheet must not depend on
/// them, nor on the order of the cars.
#[test]
fn neither_frames_nor_order_change_what_is_learned() {
    let mut dice = Dice::new(6);
    let builds: Vec<_> = (0..5).map(|_| super::cars::built(&mut dice, 0.7)).collect();
    let shape = |seed, backwards: bool| {
        let mut dice = Dice::new(seed);
        // Hardly any error of the hand: what is left are the frames.
        let mut jobs: Vec<_> = builds
            .iter()
            .map(|places| job(&mut dice, places, 0.02))
            .collect();
        if backwards {
            jobs.reverse();
        }
        let learned = learn(&sources(&jobs), &learning());
        assert_eq!(learned.notes, []);
        let at = |name: &str| learned.sheet.points[&id(name)].target_mm;
        let between = learned.points[&id("rail-R")].between_mm;
        (
            norm(sub(at("rail-L"), at("rear-rail-R"))),
            norm(sub(at("tower-R"), at("sill-rear-L"))),
            between,
        )
    };
    let (a, b) = (shape(1, false), shape(2, true));
    // The hand's 0.02 mm and its lever, against cars that differ by 0.7 mm.
    assert!(
        (a.0 - b.0).abs() < 0.06 && (a.1 - b.1).abs() < 0.06,
        "{a:?} {b:?}"
    );
    for axis in 0..3 {
        assert!((a.2[axis] - b.2[axis]).abs() < 0.08, "{a:?} {b:?}");
    }
}

#[test]
fn an_earlier_revision_keeps_its_frame() {
    let jobs = fleet(&mut Dice::new(7), 4, 0.5);
    let first = learn(&sources(&jobs), &learning()).sheet;
    let mut moved = first.clone();
    for point in moved.points.values_mut() {
        point.target_mm[0] += 1000.0;
        point.target_mm[2] += 50.0;
    }
    let second = learn(
        &sources(&jobs),
        &Learning {
            before: Some(&moved),
            ..learning()
        },
    )
    .sheet;
    for (id, point) in &second.points {
        assert!(
            norm(sub(point.target_mm, moved.points[id].target_mm)) < 0.3,
            "{id}"
        );
    }
}
