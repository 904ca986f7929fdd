//! Simulated cars whose damage is known: how often the right member comes first.
//!
//! The table in `docs/causes.md` is written by this test's own run, so it cannot grow old. Cars,
//! hands and damage are invented.

use std::fmt::Write as _;

use super::car::Dice;
use super::invariance::{mirrored, other_side};
use crate::body::{Body, generic};
use crate::figures::Language;
use crate::geometry::Vec3;
use crate::ids::{MemberId, PointId, ReadingId, SetupId, StageId};
use crate::job::{Card, Impact, Job, Plumb, Reading, Setup, Stage, StageKind, Taken, Zone};
use crate::result::{Cause, JobResult};
use crate::simulate::{Beams, Truth};
use crate::solve::solve;

/// Cars per scenario and size.
const CARS: u64 = 40;
const SIZES: [f64; 3] = [5.0, 10.0, 20.0];
const TRUSTED: [&str; 4] = ["sill-front", "floor", "sill-rear", "floor-rear"];

/// A member and the direction of its movement; what it carries comes along.
type Moved = (&'static str, Vec3);

struct Scenario {
    says: &'static str,
    moved: &'static [Moved],
    zone: Zone,
    from_deg: f64,
}

const SCENARIOS: [Scenario; 7] = [
    Scenario {
        says: "front rail back and up, all it carries with it",
        moved: &[("front-rail-L", [0.8, 0.0, 0.6])],
        zone: Zone::FrontLeft,
        from_deg: 180.0,
    },
    Scenario {
        says: "front rail in, all it carries with it",
        moved: &[("front-rail-L", [0.0, 1.0, 0.0])],
        zone: Zone::FrontLeft,
        from_deg: 270.0,
    },
    Scenario {
        says: "strut tower up, the rail below stands right",
        moved: &[("tower-R", [0.0, 0.0, 1.0])],
        zone: Zone::FrontRight,
        from_deg: 180.0,
    },
    Scenario {
        says: "apron alone in and up",
        moved: &[("apron-R", [0.0, -0.7, 0.7])],
        zone: Zone::FrontRight,
        from_deg: 90.0,
    },
    Scenario {
        says: "rear rail forward and down",
        moved: &[("rear-rail-R", [-0.8, 0.0, -0.6])],
        zone: Zone::RearRight,
        from_deg: 0.0,
    },
    Scenario {
        says: "engine carrier shifted, rails stand right",
        moved: &[("carrier", [0.0, 1.0, 0.0])],
        zone: Zone::FrontLeft,
        from_deg: 270.0,
    },
    Scenario {
        says: "two at once: front rail left, rear rail left",
        moved: &[
            ("front-rail-L", [0.8, 0.0, 0.6]),
            ("rear-rail-L", [-0.8, 0.0, 0.6]),
        ],
        zone: Zone::Left,
        from_deg: 180.0,
    },
];

fn name<T: std::str::FromStr<Err: std::fmt::Debug>>(text: &str) -> T {
    text.parse().unwrap()
}

/// Is a point carried by a member of the generic body? The left rail takes the left half of the
/// engine carrier with it.
fn is_carried(job: &Job, point: &PointId, by: &str) -> bool {
    let mut member: Option<MemberId> = job.points[point].member.clone();
    let end = point.as_str().chars().last().unwrap();
    while let Some(id) = member {
        if id.as_str() == by {
            return true;
        }
        let carriers = &job.members[&id].carried_by;
        let same_side = carriers
            .iter()
            .find(|c| !c.as_str().ends_with(['L', 'R']) || c.as_str().ends_with(end));
        member = same_side.cloned();
    }
    false
}

fn car(scenario: &Scenario, size: f64, seed: u64) -> Job {
    let mut dice = Dice::new(seed + 1);
    let (mut points, members) = generic(Body::Unitised, Language::default());
    for (id, point) in &mut points {
        point.trusted = TRUSTED
            .iter()
            .any(|stem| id.as_str().trim_end_matches(['L', 'R']) == format!("{stem}-"));
    }
    let mut job = Job {
        card: Card {
            impact: Some(Impact {
                zone: scenario.zone,
                direction_deg: scenario.from_deg,
            }),
            ..Card::default()
        },
        points,
        members,
        ..Job::default()
    };
    let mut truth = Truth {
        roll: dice.normal() * 0.008,
        pitch: dice.normal() * 0.008,
        ..Truth::default()
    };
    for id in job.points.keys().cloned().collect::<Vec<_>>() {
        let mut place = job.points[&id].place_mm;
        for axis in &mut place {
            // Half of a pair's build difference of 1 mm on each side.
            *axis += dice.normal() * 0.5_f64.sqrt();
        }
        for (member, way) in scenario.moved {
            if is_carried(&job, &id, member) {
                // Bent metal does not move as one piece.
                let share = size * (1.0 + 0.1 * dice.normal());
                for (axis, way) in place.iter_mut().zip(way) {
                    *axis += share * way;
                }
            }
        }
        truth.places.insert(id, place);
    }
    for setup in ["s1", "s2"] {
        let beams = Beams {
            level_mm: 1100.0 + dice.uniform() * 200.0,
            plumb: Plumb::Lengthwise,
            yaw: dice.normal() * 0.005,
            offset_mm: dice.normal() * 50.0,
        };
        truth.beams.insert(name(setup), beams);
        let setup_of = Setup {
            plumb: Some(Plumb::Lengthwise),
            ..Setup::default()
        };
        job.setups.insert(name(setup), setup_of);
    }
    job.stages.push(Stage {
        id: name("as-received"),
        label: String::new(),
        of: StageKind::AsReceived,
        load: None,
    });
    read(&mut job, &truth, &mut dice);
    job
}

/// Heights and offsets of every point, a split and a width per pair, and a diagonal to each of two
/// trusted points for what is not trusted: one careful round.
fn read(job: &mut Job, truth: &Truth, dice: &mut Dice) {
    let setups: [SetupId; 2] = [name("s1"), name("s2")];
    let ids: Vec<PointId> = job.points.keys().cloned().collect();
    let mut taken = Vec::new();
    for pair in ids.chunks(2) {
        for id in pair {
            taken.extend(truth.height(&setups[0], id, 0.7 * dice.normal()));
            taken.extend(truth.offset(&setups[0], id, 0.7 * dice.normal()));
            if !job.points[id].trusted {
                for reference in ["floor-rear", "sill-front"] {
                    for end in ["L", "R"] {
                        let to: PointId = name(&format!("{reference}-{end}"));
                        taken.extend(truth.span(id, &to, dice.normal()));
                    }
                }
            }
        }
        taken.extend(truth.split(&setups[1], &pair[0], &pair[1], 0.7 * dice.normal()));
        taken.extend(truth.span(&pair[0], &pair[1], dice.normal()));
    }
    let stage: StageId = name("as-received");
    for (index, taken) in taken.into_iter().enumerate() {
        job.readings.push(reading(index, &stage, taken));
    }
}

fn reading(index: usize, stage: &StageId, taken: Taken) -> Reading {
    Reading {
        id: name::<ReadingId>(&format!("r{index:03}")),
        stage: stage.clone(),
        taken,
        sigma_mm: None,
        tool: None,
        origin_mm: 0.0,
        by: String::new(),
        at: String::new(),
        entered: String::new(),
        note: String::new(),
        set_aside: None,
        replaces: None,
    }
}

#[derive(Default)]
struct Count {
    first: u32,
    all: u32,
    other: u32,
}

fn count(scenario: &Scenario, size: f64) -> Count {
    let mut count = Count::default();
    for seed in 0..CARS {
        let result = solve(&car(scenario, size, seed * 7919));
        let causes = &result.stages[0].causes;
        let right = |cause: &Cause| {
            scenario
                .moved
                .iter()
                .any(|(m, _)| *m == cause.member.as_str())
        };
        let found = |member: &str| causes.iter().any(|cause| cause.member.as_str() == member);
        count.first += u32::from(causes.first().is_some_and(right));
        count.all += u32::from(scenario.moved.iter().all(|(m, _)| found(m)));
        count.other += u32::try_from(causes.iter().filter(|cause| !right(cause)).count()).unwrap();
    }
    count
}

#[test]
fn the_right_member_comes_first_and_the_kept_table_says_how_often() {
    let mut table = String::from(
        "| damage | size, mm | right member first | all members found | wrong members per car |\n|---|---|---|---|---|\n",
    );
    let percent = |count: u32| 100 * u64::from(count) / CARS;
    let (mut first, mut cells) = (0, 0);
    for scenario in &SCENARIOS {
        for size in SIZES {
            let count = count(scenario, size);
            first += u64::from(count.first);
            cells += CARS;
            let wrong = f64::from(count.other) / CARS as f64;
            writeln!(
                table,
                "| {} | {size} | {} % | {} % | {wrong:.2} |",
                scenario.says,
                percent(count.first),
                percent(count.all)
            )
            .unwrap();
        }
    }
    let none = Scenario {
        says: "none",
        moved: &[],
        zone: Zone::Front,
        from_deg: 180.0,
    };
    let alarms = count(&none, 0.0).other;
    writeln!(
        table,
        "| no damage | 0 | – | – | {:.2} |",
        f64::from(alarms) / CARS as f64
    )
    .unwrap();
    println!("{table}");
    assert!(first * 100 >= 90 * cells, "{first} of {cells} came first");
    assert!(alarms <= 1, "{alarms} causes on {CARS} cars without damage");
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/causes.md");
    let kept = std::fs::read_to_string(path).unwrap_or_default();
    assert!(
        kept.contains(&table),
        "docs/causes.md has an old table; it should hold:\n{table}"
    );
}

/// Left for right: the mirrored car has the mirrored causes, pulls and modes.
#[test]
fn a_mirrored_car_has_mirrored_causes() {
    for (index, scenario) in SCENARIOS.iter().enumerate() {
        let job = car(scenario, 10.0, 31 * index as u64);
        let (here, there) = (solve(&job), solve(&mirrored(&job)));
        assert!(!here.stages[0].causes.is_empty(), "{}", scenario.says);
        same(&here, &there);
    }
}

fn same(here: &JobResult, there: &JobResult) {
    let (here, there) = (&here.stages[0].causes, &there.stages[0].causes);
    assert_eq!(here.len(), there.len(), "{here:#?} {there:#?}");
    for (a, b) in here.iter().zip(there) {
        assert_eq!(other_side(a.member.as_str()), b.member.as_str());
        assert_eq!(a.side_from_impact, b.side_from_impact);
        for axis in 0..3 {
            let sign = if axis == 1 { -1.0 } else { 1.0 };
            assert_eq!(a.move_mm[axis].is_some(), b.move_mm[axis].is_some());
            if let (Some(a), Some(b)) = (a.move_mm[axis], b.move_mm[axis]) {
                assert!((a - sign * b).abs() < 0.05, "{a} is not {sign} · {b}");
            }
        }
    }
}
