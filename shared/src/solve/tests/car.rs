//! A simulated car for the tests: eight trusted pairs' worth of body, damage on request.

use crate::ids::{PointId, ReadingId, SetupId, StageId};
use crate::job::{Job, Plumb, Point, Reading, Setup, Side, Stage, StageKind, Taken};
use crate::simulate::{Beams, Truth};

/// Small deterministic generator (Marsaglia xorshift64*), normal by the polar method.
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    pub(crate) fn uniform(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn normal(&mut self) -> f64 {
        loop {
            let (a, b) = (2.0 * self.uniform() - 1.0, 2.0 * self.uniform() - 1.0);
            let s: f64 = a * a + b * b;
            if s > 0.0 && s < 1.0 {
                return a * (-2.0 * s.ln() / s).sqrt();
            }
        }
    }
}

/// Rough places of the left points: name, x, y, z, trusted.
const LEFT: [(&str, f64, f64, f64, bool); 10] = [
    ("rail-front", -620.0, -430.0, 480.0, false),
    ("apron", -400.0, -610.0, 820.0, false),
    ("tower", -60.0, -545.0, 840.0, false),
    ("rail-mid", 60.0, -420.0, 420.0, false),
    ("cowl", 420.0, -640.0, 910.0, false),
    ("sill-front", 800.0, -700.0, 200.0, true),
    ("floor", 1200.0, -380.0, 180.0, true),
    ("sill-rear", 1900.0, -700.0, 210.0, true),
    ("rear-rail", 2500.0, -480.0, 350.0, true),
    ("rear-end", 3100.0, -520.0, 420.0, false),
];

pub(crate) fn id(name: &str) -> PointId {
    PointId::parse(name).unwrap()
}

/// A job with points and set-ups, no readings yet, and its truth with builds and beams drawn.
pub(crate) struct Car {
    pub(crate) job: Job,
    pub(crate) truth: Truth,
    pub(crate) dice: Dice,
}

impl Car {
    pub(crate) fn new(seed: u64) -> Self {
        let mut dice = Dice::new(seed);
        let mut job = Job::default();
        let mut truth = Truth {
            roll: dice.normal() * 0.01,
            pitch: dice.normal() * 0.01,
            ..Truth::default()
        };
        for (name, x, y, z, trusted) in LEFT {
            let place = [x, y, z];
            // Where the rough place is off by up to decimetres, the truth is what it is.
            let drawn = [0, 1, 2].map(|axis| place[axis] + dice.normal() * 20.0);
            let (left, right) = (id(&format!("{name}-L")), id(&format!("{name}-R")));
            for (side, own, mirror, sign) in [
                (Side::Left, &left, &right, 1.0),
                (Side::Right, &right, &left, -1.0),
            ] {
                // Half of the variance of a pair's difference on each side: 1 mm in all.
                let build = [0, 1, 2].map(|_| {
                    if trusted {
                        dice.normal() * 0.5_f64.sqrt()
                    } else {
                        dice.normal() * 4.0
                    }
                });
                truth.places.insert(
                    own.clone(),
                    [
                        drawn[0] + build[0],
                        sign * drawn[1] + build[1],
                        drawn[2] + build[2],
                    ],
                );
                let point = Point {
                    label: name.to_owned(),
                    side,
                    mirror: Some(mirror.clone()),
                    place_mm: [place[0], sign * place[1], place[2]],
                    place_sigma_mm: None,
                    trusted,
                    member: None,
                };
                job.points.insert(own.clone(), point);
            }
        }
        for (name, plumb) in [
            ("s1", Plumb::Lengthwise),
            ("s2", Plumb::Lengthwise),
            ("x1", Plumb::Crosswise),
        ] {
            let setup = SetupId::parse(name).unwrap();
            let beams = Beams {
                level_mm: 300.0 + dice.uniform() * 700.0,
                plumb,
                yaw: dice.normal() * 0.01,
                offset_mm: if plumb == Plumb::Lengthwise {
                    dice.normal() * 100.0
                } else {
                    -1200.0
                },
            };
            truth.beams.insert(setup.clone(), beams);
            job.setups.insert(
                setup,
                Setup {
                    label: String::new(),
                    plumb: Some(plumb),
                    tool: None,
                    stands_mm: None,
                },
            );
        }
        job.stages.push(Stage {
            id: StageId::parse("as-received").unwrap(),
            label: "as received".to_owned(),
            of: StageKind::AsReceived,
            load: None,
        });
        Self { job, truth, dice }
    }

    pub(crate) fn take(&mut self, taken: Taken) -> ReadingId {
        let name = ReadingId::parse(&format!("r{:03}", self.job.readings.len() + 1)).unwrap();
        let stage = self.job.stages.last().unwrap().id.clone();
        self.job.readings.push(Reading {
            id: name.clone(),
            stage,
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
        });
        name
    }

    pub(crate) fn noise(&mut self, sigma: f64) -> f64 {
        // Rounding to half a millimetre has its own spread, 0.5/√12.
        self.dice.normal() * (sigma * sigma - 1.0 / 48.0).sqrt()
    }

    /// Heights and offsets of every point from one set-up, widths and splits of every pair, and
    /// spans along the car: about what a careful technician takes.
    pub(crate) fn read_all(mut self) -> Self {
        let setup = |name: &str| SetupId::parse(name).unwrap();
        let points: Vec<PointId> = self.job.points.keys().cloned().collect();
        for point in &points {
            let error = self.noise(0.7);
            let taken = self.truth.height(&setup("s1"), point, error).unwrap();
            self.take(taken);
            let error = self.noise(0.7);
            let taken = self.truth.offset(&setup("s1"), point, error).unwrap();
            self.take(taken);
        }
        for pair in points.chunks(2) {
            let error = self.noise(0.7);
            let taken = self.truth.height(&setup("s2"), &pair[0], error).unwrap();
            self.take(taken);
            let error = self.noise(0.7);
            let taken = self
                .truth
                .split(&setup("s2"), &pair[0], &pair[1], error)
                .unwrap();
            self.take(taken);
            let error = self.noise(1.0);
            let taken = self.truth.span(&pair[0], &pair[1], error).unwrap();
            self.take(taken);
        }
        for (from, to) in [
            ("rail-front-L", "floor-L"),
            ("rail-front-R", "floor-R"),
            ("rail-front-L", "floor-R"),
            ("rail-front-R", "floor-L"),
            ("tower-L", "sill-rear-R"),
            ("tower-R", "sill-rear-L"),
            ("tower-L", "rail-front-R"),
            ("tower-R", "rail-front-L"),
            ("apron-L", "cowl-R"),
            ("apron-R", "cowl-L"),
            ("cowl-L", "sill-front-R"),
            ("cowl-R", "sill-front-L"),
            ("floor-L", "rear-end-R"),
            ("floor-R", "rear-end-L"),
            ("sill-front-L", "sill-rear-R"),
            ("sill-front-R", "sill-rear-L"),
            ("rear-rail-L", "floor-R"),
            ("rear-rail-R", "floor-L"),
            ("rail-mid-L", "floor-R"),
            ("rail-mid-R", "floor-L"),
        ] {
            let error = self.noise(1.0);
            let taken = self.truth.span(&id(from), &id(to), error).unwrap();
            self.take(taken);
        }
        self
    }

    /// The true value of each quantity of a pair: height, centre, length, width.
    pub(crate) fn true_pair(&self, left: &PointId, right: &PointId) -> [f64; 4] {
        let (l, r) = (self.truth.places[left], self.truth.places[right]);
        [r[2] - l[2], (l[1] + r[1]) / 2.0, r[0] - l[0], r[1] - l[1]]
    }
}
