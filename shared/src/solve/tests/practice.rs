//! Rules of the trade, each named 'common practice' with where it can be read.

use super::car::{Car, id};
use crate::ids::SetupId;
use crate::job::{Job, Sheet, Taken};
use crate::result::{JobResult, ModeKind, PairResult};
use crate::solve::solve;
use crate::verdict::Verdict;

fn pair<'a>(result: &'a JobResult, left: &str) -> &'a PairResult {
    let pairs = &result.stages[0].pairs;
    pairs.iter().find(|pair| pair.left == id(left)).unwrap()
}

/// Common practice: adding one constant to every height gives an equally good datum (makers'
/// alignment pages, Chevrolet Impala 2003).
#[test]
fn one_constant_on_every_height_changes_no_pair() {
    let car = Car::new(81).read_all();
    let mut raised = car.job.clone();
    for reading in &mut raised.readings {
        if let Taken::Height {
            setup,
            value_mm,
            beam,
            ..
        } = &mut reading.taken
            && *setup == SetupId::parse("s1").unwrap()
        {
            // The laser stands 140 mm higher.
            match beam {
                crate::job::Beam::Above => *value_mm += 140.0,
                crate::job::Beam::Below if *value_mm >= 140.0 => *value_mm -= 140.0,
                crate::job::Beam::Below => {
                    *value_mm = 140.0 - *value_mm;
                    *beam = crate::job::Beam::Above;
                }
            }
        }
    }
    let (before, after) = (solve(&car.job), solve(&raised));
    for (a, b) in before.stages[0].pairs.iter().zip(&after.stages[0].pairs) {
        let (a, b) = (&a.right_higher_mm, &b.right_higher_mm);
        assert_eq!(a.verdict, b.verdict);
        assert!((a.value.unwrap() - b.value.unwrap()).abs() < 0.05);
    }
}

/// The same car with a sheet of its true places, and one pair moved by `left` and `right` in height.
fn on_sheet(left: f64, right: f64) -> Job {
    let mut car = Car::new(82);
    let points = car.truth.places.clone();
    car.truth.places[&id("tower-L")][2] += left;
    car.truth.places[&id("tower-R")][2] += right;
    let mut car = car.read_all();
    car.job.sheet = Some(Sheet {
        name: "own".to_owned(),
        revision: 1,
        digest: String::new(),
        spread_mm: 0.2,
        points,
        spreads: indexmap::IndexMap::new(),
        tolerances: indexmap::IndexMap::new(),
    });
    // A careful hand, so that verdicts are possible at all.
    for reading in &mut car.job.readings {
        reading.sigma_mm = Some(0.5);
    }
    car.job
}

/// Common practice: +2.4 mm at one point and −2.4 at the other is a difference of 4.8; pairs must be
/// judged too, not only single points (trade article of 2018-04-06). With a hand as good as any the
/// difference is then out nine times of ten, while each point alone is more likely within.
#[test]
fn two_points_within_can_be_a_pair_outside() {
    let result = solve(&on_sheet(2.4, -2.4));
    for name in ["tower-L", "tower-R"] {
        let point = &result.stages[0].points[&id(name)];
        assert_ne!(point.verdict[2], Some(Verdict::Outside), "{name}");
        assert!(point.conformity[2].unwrap() > 0.5, "{name}: {point:?}");
    }
    let judged = &pair(&result, "tower-L").right_higher_mm;
    assert!(
        judged.value.unwrap() - judged.target.unwrap() < -3.5,
        "{judged:?}"
    );
    assert_ne!(judged.verdict, Some(Verdict::Within));
    assert!(judged.conformity.unwrap() < 0.1, "{judged:?}");
}

/// What a movement of the front pairs is called. Common practice (ASE B4 teaching pages): diamond is
/// one side rearward, sidesway width off the centre line, twist diagonal corners up and down.
#[test]
fn each_kind_of_damage_has_the_trade_s_name() {
    let front = ["rail-front", "rail-mid", "apron", "tower"];
    let significant = |moved: [f64; 3], both: bool| -> Vec<ModeKind> {
        let mut car = Car::new(83);
        // Nothing but the damage: the front was built true.
        for stem in front {
            let [x, y, z] = car.truth.places[&id(&format!("{stem}-L"))];
            car.truth.places[&id(&format!("{stem}-R"))] = [x, -y, z];
        }
        for stem in front {
            for side in if both { &["L", "R"][..] } else { &["L"][..] } {
                let place = car.truth.places.get_mut(&id(&format!("{stem}-{side}")));
                for (along, by) in place.unwrap().iter_mut().zip(moved) {
                    *along += by;
                }
            }
        }
        let result = solve(&car.read_all().job);
        let modes = result.stages[0].modes.iter();
        let mut kinds: Vec<ModeKind> = modes
            .filter(|mode| mode.x_mm < 300.0 && mode.value_mm.abs() > 6.0 && mode.significant)
            .map(|mode| mode.mode)
            .collect();
        kinds.sort();
        kinds.dedup();
        kinds
    };
    assert_eq!(significant([30.0, 0.0, 0.0], false), [ModeKind::Diamond]);
    assert_eq!(significant([0.0, 20.0, 0.0], true), [ModeKind::Sidesway]);
    assert_eq!(significant([0.0, 0.0, 30.0], false), [ModeKind::Twist]);
}
