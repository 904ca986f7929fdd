//! A large car, for measuring how fast the engine is.
//!
//! Millimetres. Every third pair is trusted; each point is read twice for height and once for its
//! offset, each pair for split, width and two diagonals to the next: ten readings a pair and stage.

use super::{Beams, Truth};
use crate::ids::{PointId, ReadingId, SetupId, StageId};
use crate::job::{Job, Plumb, Point, Reading, Setup, Side, Stage, StageKind, Taken};

fn name<T: std::str::FromStr>(text: &str) -> T
where
    T::Err: std::fmt::Debug,
{
    text.parse().expect("these names have no spaces")
}

/// Standard normal numbers that come out the same every time: Marsaglia's xorshift, twelve uniform
/// numbers less six.
pub fn repeatable_noise(mut seed: u64) -> impl FnMut() -> f64 {
    move || {
        let mut sum = -6.0;
        for _ in 0..12 {
            seed ^= seed << 13;
            seed ^= seed >> 7;
            seed ^= seed << 17;
            sum += (seed >> 11) as f64 / (1_u64 << 53) as f64;
        }
        sum
    }
}

/// A job of `pairs` mirrored pairs read in `stages` stages; `noise` gives standard normal numbers.
pub fn large_car(pairs: usize, stages: usize, noise: &mut dyn FnMut() -> f64) -> Job {
    let mut job = Job::default();
    let mut truth = Truth {
        roll: 0.006,
        pitch: -0.003,
        ..Truth::default()
    };
    let ids: Vec<[PointId; 2]> = (0..pairs)
        .map(|pair| ["L", "R"].map(|end| name(&format!("p{pair}-{end}"))))
        .collect();
    for (index, pair) in ids.iter().enumerate() {
        let along = index as f64 / pairs as f64;
        let place = [
            -700.0 + 4000.0 * along,
            400.0 + 300.0 * (7.0 * along).sin().abs(),
            200.0 + 700.0 * (11.0 * along).cos().abs(),
        ];
        let trusted = index % 3 == 0;
        for (side, own, other, sign) in [
            (Side::Left, &pair[0], &pair[1], -1.0),
            (Side::Right, &pair[1], &pair[0], 1.0),
        ] {
            let spread = if trusted { 0.5 } else { 4.0 };
            let at = [place[0], sign * place[1], place[2]];
            truth
                .places
                .insert(own.clone(), at.map(|axis| axis + spread * noise()));
            let point = Point {
                label: String::new(),
                side,
                mirror: Some(other.clone()),
                place_mm: at,
                place_sigma_mm: None,
                trusted,
                member: None,
            };
            job.points.insert(own.clone(), point);
        }
    }
    for (setup, level_mm, yaw, offset_mm) in
        [("s1", 1100.0, 0.006, 15.0), ("s2", 1250.0, -0.004, -40.0)]
    {
        let setup: SetupId = name(setup);
        truth.beams.insert(
            setup.clone(),
            Beams {
                level_mm,
                plumb: Plumb::Lengthwise,
                yaw,
                offset_mm,
            },
        );
        job.setups.insert(
            setup,
            Setup {
                label: String::new(),
                plumb: Some(Plumb::Lengthwise),
                tool: None,
                stands_mm: None,
            },
        );
    }
    let setups: [SetupId; 2] = [name("s1"), name("s2")];
    for stage in 0..stages {
        let id: StageId = name(&format!("stage-{stage}"));
        job.stages.push(Stage {
            id: id.clone(),
            label: String::new(),
            of: StageKind::Pull,
            load: None,
        });
        for (index, pair) in ids.iter().enumerate() {
            let next = &ids[(index + 1) % pairs];
            let mut hand = |sigma: f64| sigma * noise();
            let taken = [
                truth.height(&setups[0], &pair[0], hand(0.6)),
                truth.height(&setups[0], &pair[1], hand(0.6)),
                truth.height(&setups[1], &pair[0], hand(0.6)),
                truth.height(&setups[1], &pair[1], hand(0.6)),
                truth.offset(&setups[0], &pair[0], hand(0.6)),
                truth.offset(&setups[0], &pair[1], hand(0.6)),
                truth.split(&setups[1], &pair[0], &pair[1], hand(0.6)),
                truth.span(&pair[0], &pair[1], hand(0.9)),
                truth.span(&pair[0], &next[1], hand(0.9)),
                truth.span(&pair[1], &next[0], hand(0.9)),
            ];
            for taken in taken.into_iter().flatten() {
                let number = job.readings.len();
                job.readings.push(read(&id, number, taken));
            }
        }
    }
    job
}

fn read(stage: &StageId, number: usize, taken: Taken) -> Reading {
    Reading {
        id: name::<ReadingId>(&format!("r{number}")),
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
