//! Simulated cars of one kind, read by a 3-D device that stands anywhere.

use indexmap::IndexMap;

use crate::geometry::{Vec3, add, rotation, turn};
use crate::ids::{FrameId, PointId, StageId};
use crate::job::{Job, Member, Point, Reading, Side, Stage, StageKind, Taken};
use crate::library::{Body, Learning, Source, sound};
use crate::solve::tests::car::Dice;

/// Left points: name, place, trusted.
const LEFT: [(&str, Vec3, bool); 7] = [
    ("sill-front", [800.0, -700.0, 200.0], true),
    ("floor", [1200.0, -380.0, 180.0], true),
    ("sill-rear", [1900.0, -700.0, 210.0], true),
    ("rear-rail", [2500.0, -480.0, 350.0], true),
    ("cowl", [420.0, -640.0, 910.0], true),
    ("tower", [-60.0, -545.0, 840.0], false),
    ("rail", [-620.0, -430.0, 480.0], false),
];

/// The tower's right side stands higher by design.
pub(super) const DESIGNED_MM: f64 = 6.0;

pub(super) fn id(name: &str) -> PointId {
    name.parse().unwrap()
}

/// How all cars are meant to be.
pub(super) fn design() -> IndexMap<PointId, Vec3> {
    let mut design = IndexMap::new();
    for (stem, [x, y, z], _) in LEFT {
        let off = if stem == "tower" { DESIGNED_MM } else { 0.0 };
        design.insert(id(&format!("{stem}-L")), [x, y, z]);
        design.insert(id(&format!("{stem}-R")), [x, -y, z + off]);
    }
    design
}

/// One car as it was built.
pub(super) fn built(dice: &mut Dice, between_mm: f64) -> IndexMap<PointId, Vec3> {
    let mut places = design();
    for value in places.values_mut().flatten() {
        *value += between_mm * dice.normal();
    }
    places
}

/// Its job: every point read twice with a hand of `sigma_mm`, rough places anywhere.
pub(super) fn job(dice: &mut Dice, places: &IndexMap<PointId, Vec3>, sigma_mm: f64) -> Job {
    let mut job = Job::default();
    job.members
        .insert("cell".parse().unwrap(), Member::default());
    for side in ["left", "right"] {
        let rail = Member {
            label: String::new(),
            carried_by: vec!["cell".parse().unwrap()],
        };
        job.members
            .insert(format!("{side}-rail").parse().unwrap(), rail);
        let tower = Member {
            label: String::new(),
            carried_by: vec![format!("{side}-rail").parse().unwrap()],
        };
        job.members
            .insert(format!("{side}-tower").parse().unwrap(), tower);
    }
    // Everybody has another zero plane and datum.
    let origin = [40.0 * dice.normal(), 0.0, 30.0 * dice.normal()];
    for (stem, [x, y, z], trusted) in LEFT {
        for (end, other, side, sign) in [("L", "R", Side::Left, 1.0), ("R", "L", Side::Right, -1.0)]
        {
            let word = if end == "L" { "left" } else { "right" };
            let member = match stem {
                "tower" | "rail" => format!("{word}-{stem}"),
                _ => "cell".to_owned(),
            };
            let point = Point {
                label: stem.to_owned(),
                side,
                mirror: Some(id(&format!("{stem}-{other}"))),
                place_mm: add([x, sign * y, z], origin),
                place_sigma_mm: None,
                trusted,
                member: Some(member.parse().unwrap()),
            };
            job.points.insert(id(&format!("{stem}-{end}")), point);
        }
    }
    let stage = StageId::parse("as-received").unwrap();
    job.stages.push(Stage {
        id: stage.clone(),
        label: String::new(),
        of: StageKind::AsReceived,
        load: None,
    });
    let turned = rotation([
        0.01 * dice.normal(),
        0.01 * dice.normal(),
        0.3 * dice.normal(),
    ]);
    let shift = [900.0 * dice.normal(), 900.0 * dice.normal(), 500.0];
    for round in 0..2 {
        for (point, place) in places {
            let read = add(turn(&turned, *place), shift);
            let taken = Taken::Fix {
                frame: FrameId::parse("arm").unwrap(),
                point: point.clone(),
                xyz_mm: read.map(|value| value + sigma_mm * dice.normal()),
            };
            job.readings.push(Reading {
                id: format!("{point}-{round}").parse().unwrap(),
                stage: stage.clone(),
                taken,
                sigma_mm: Some(sigma_mm),
                tool: None,
                origin_mm: 0.0,
                by: String::new(),
                at: String::new(),
                entered: String::new(),
                note: String::new(),
                set_aside: None,
                replaces: None,
            });
        }
    }
    job
}

/// So many sound cars.
pub(super) fn fleet(dice: &mut Dice, cars: usize, between_mm: f64) -> Vec<Job> {
    (0..cars)
        .map(|_| {
            let places = built(dice, between_mm);
            job(dice, &places, 0.4)
        })
        .collect()
}

pub(super) fn sources(jobs: &[Job]) -> Vec<Source<'_>> {
    jobs.iter()
        .enumerate()
        .map(|(number, job)| Source {
            name: format!("car {number}"),
            job,
            stage: job.stages[0].id.clone(),
            sound: sound(job, &[]),
        })
        .collect()
}

pub(super) fn learning() -> Learning<'static> {
    Learning {
        name: "hatch".into(),
        revision: 1,
        body: Body {
            model: "Hatch".into(),
            ..Body::default()
        },
        by: "Ana".into(),
        at: "2026-03-02T09:14:00Z".into(),
        before: None,
        prior_between_mm: 1.0,
    }
}
