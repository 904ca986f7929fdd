//! The demo car: an invented hatchback with a front-left hit, read by two technicians in three
//! stages, with the slips that happen and a reference that is bent itself.
//!
//! Millimetres. Everything here is invented and comes out the same every time: the noise
//! is repeatable. In every language it is the same car; only what its people typed in words differs.

mod later;
mod words;

use crate::body::{Body, generic};
use crate::figures::Language;
use crate::ids::{PointId, ReadingId, SetupId, StageId};
use crate::job::{
    Card, Impact, Job, Load, Plumb, Reading, SetAside, Setup, Stage, StageKind, Taken, Zone,
};
use crate::simulate::large::repeatable_noise;
use crate::simulate::{Beams, Truth};
use words::Words;

pub use later::{Correction, correction, signed_stage};

/// The two technicians.
const ANA: &str = "Ana Lind";
const JONAS: &str = "Jonas Brandt";
/// Who is trusted to define the frame.
const TRUSTED: [&str; 4] = ["sill-front", "floor", "sill-rear", "floor-rear"];
/// The rocker's front jacking point on the left was pushed up once: a bent reference.
const BENT_MM: f64 = 9.0;
/// Pairs that somebody reads after the first round; the others stay unread in the demo.
const FIRST_ROUND: [&str; 15] = [
    "sill-front",
    "floor",
    "sill-rear",
    "floor-rear",
    "rail-front",
    "rail-mid",
    "rail-rear",
    "tower-front",
    "tower-rear",
    "apron-front",
    "apron-rear",
    "cowl",
    "hinge-lower",
    "rear-rail",
    "rear-end",
];
const PULL_ROUND: [&str; 9] = [
    "sill-front",
    "floor",
    "sill-rear",
    "floor-rear",
    "rail-front",
    "rail-mid",
    "tower-front",
    "tower-rear",
    "apron-front",
];

/// The demo car as a job, in English.
#[must_use]
pub fn job() -> Job {
    job_in(Language::English)
}

/// The demo car as a job whose people wrote in a language.
#[must_use]
pub fn job_in(language: Language) -> Job {
    let words = Words::of(language);
    let (mut points, members) = generic(Body::Unitised, language);
    for (id, point) in &mut points {
        point.trusted = TRUSTED
            .iter()
            .any(|stem| id.as_str().starts_with(&format!("{stem}-")));
    }
    let mut bay = Bay {
        job: Job {
            card: Card {
                number: "2041".to_owned(),
                vehicle: words.vehicle.to_owned(),
                vin: None,
                impact: Some(Impact {
                    zone: Zone::FrontLeft,
                    direction_deg: 200.0,
                }),
            },
            points,
            members,
            ..Job::default()
        },
        noise: Box::new(repeatable_noise(0x05EE_D0FB_A4B0_0C41)),
        minute: 0,
        words,
    };
    for (name, label, plumb) in [
        ("front", words.setup_front, Plumb::Lengthwise),
        ("rear", words.setup_rear, Plumb::Lengthwise),
    ] {
        bay.job.setups.insert(
            setup(name),
            Setup {
                label: label.to_owned(),
                plumb: Some(plumb),
                tool: None,
                stands_mm: None,
            },
        );
    }
    bay.as_received();
    bay.pull("pull-1-load", words.pull_under, Load::Under, 0.25);
    bay.pull("pull-1-released", words.pull_released, Load::Released, 0.45);
    bay.job
}

/// The language that a demo car was written in, by what its card calls the vehicle; `None` when
/// somebody has changed that.
#[must_use]
pub fn language_of(vehicle: &str) -> Option<Language> {
    let mut languages = Language::ALL.into_iter();
    languages.find(|language| Words::of(*language).vehicle == vehicle)
}

struct Bay {
    job: Job,
    noise: Box<dyn FnMut() -> f64>,
    minute: u32,
    words: &'static Words,
}

fn setup(name: &str) -> SetupId {
    SetupId::parse(name).expect("the demo's names have no spaces")
}

fn point(stem: &str, end: &str) -> PointId {
    PointId::parse(&format!("{stem}-{end}")).expect("the demo's names have no spaces")
}

impl Bay {
    fn noise(&mut self) -> f64 {
        (self.noise)()
    }

    /// The truth of a stage; `left` is the share of the damage that is still there.
    fn truth(&mut self, left: f64, roll: f64) -> Truth {
        let mut truth = Truth {
            roll,
            pitch: -0.004,
            ..Truth::default()
        };
        let places: Vec<(PointId, [f64; 3])> = self
            .job
            .points
            .iter()
            .map(|(id, point)| (id.clone(), point.place_mm))
            .collect();
        // The same small build differences in every stage.
        let mut build = repeatable_noise(0xB0D7);
        for (id, mut place) in places {
            for axis in &mut place {
                *axis += 0.6 * build();
            }
            let name = id.as_str();
            // The left rail went back, in and up, and carried its tower and apron with it.
            let share = match name.trim_end_matches("-L") {
                _ if !name.ends_with("-L") => 0.0,
                "rail-front" | "support" => 1.0,
                "apron-front" => 0.9,
                "rail-mid" | "tower-front" => 0.7,
                "tower-rear" | "carrier" => 0.6,
                "apron-rear" => 0.3,
                "rail-rear" => 0.15,
                _ => 0.0,
            };
            for (axis, moved) in [14.0, 9.0, 12.0].into_iter().enumerate() {
                place[axis] += share * moved * left;
            }
            if name == "sill-front-L" {
                place[2] += BENT_MM;
            }
            truth.places.insert(id, place);
        }
        for (name, level_mm, yaw, offset_mm) in [
            ("front", 640.0, 0.004, 12.0),
            ("rear", 705.0, -0.006, -31.0),
        ] {
            truth.beams.insert(
                setup(name),
                Beams {
                    level_mm,
                    plumb: Plumb::Lengthwise,
                    yaw,
                    offset_mm,
                },
            );
        }
        truth
    }

    fn begin(&mut self, id: &str, label: &str, of: StageKind, load: Option<Load>) {
        let id = StageId::parse(id).expect("the demo's names have no spaces");
        self.job.stages.push(Stage {
            id,
            label: label.to_owned(),
            of,
            load,
        });
    }

    fn take(&mut self, taken: Option<Taken>, by: &str) -> Option<ReadingId> {
        let (taken, stage) = (taken?, self.job.stages.last()?.id.clone());
        let id = ReadingId::parse(&format!("d{:03}", self.job.readings.len() + 1)).ok()?;
        self.minute += 1;
        let at = format!(
            "2026-03-02T{:02}:{:02}:00Z",
            8 + self.minute / 60,
            self.minute % 60
        );
        let value = match &taken {
            Taken::Height { value_mm, .. }
            | Taken::Offset { value_mm, .. }
            | Taken::Split { value_mm, .. }
            | Taken::Span { value_mm, .. } => *value_mm,
            Taken::DatumSpan { value_mm, .. } => *value_mm,
            Taken::Fix { .. } => 0.0,
        };
        self.job.readings.push(Reading {
            id: id.clone(),
            stage,
            taken,
            sigma_mm: None,
            tool: None,
            origin_mm: 0.0,
            by: by.to_owned(),
            at,
            entered: self.words.typed(value),
            note: String::new(),
            set_aside: None,
            replaces: None,
        });
        Some(id)
    }

    fn round(&mut self, truth: &Truth, stems: &[&str]) {
        for (index, stem) in stems.iter().enumerate() {
            let by = if index % 2 == 0 { ANA } else { JONAS };
            let name = setup(if index < stems.len() * 2 / 3 {
                "front"
            } else {
                "rear"
            });
            let (left, right) = (point(stem, "L"), point(stem, "R"));
            for id in [&left, &right] {
                let error = 0.6 * self.noise();
                self.take(truth.height(&name, id, error), by);
            }
            let error = 0.6 * self.noise();
            self.take(truth.split(&name, &left, &right, error), by);
            let error = 0.8 * self.noise();
            self.take(truth.span(&left, &right, error), by);
        }
        // The references once more from the other set-up, so that each is checked.
        for stem in TRUSTED {
            for end in ["L", "R"] {
                let error = 0.6 * self.noise();
                self.take(
                    truth.height(&setup("rear"), &point(stem, end), error),
                    JONAS,
                );
            }
        }
    }

    fn diagonals(&mut self, truth: &Truth) {
        for (from, to) in [
            ("rail-front", "floor"),
            ("tower-rear", "sill-rear"),
            ("rail-mid", "sill-rear"),
            ("apron-front", "cowl"),
            ("floor", "sill-rear"),
        ] {
            for (a, b) in [("L", "R"), ("R", "L"), ("L", "L"), ("R", "R")] {
                let error = 0.8 * self.noise();
                self.take(truth.span(&point(from, a), &point(to, b), error), ANA);
            }
        }
    }

    fn as_received(&mut self) {
        self.begin(
            "as-received",
            self.words.as_received,
            StageKind::AsReceived,
            None,
        );
        let truth = self.truth(1.0, 0.007);
        self.round(&truth, &FIRST_ROUND);
        self.diagonals(&truth);
        // A tape held at its 100 mm mark, and two digits swapped in a height.
        self.misread(|taken| matches!(taken, Taken::Span { from, to, .. } if from.as_str() == "tower-rear-L" && to.as_str() == "sill-rear-R"), 100.0);
        let error = 0.4 * self.noise();
        let again = self.take(
            truth.height(&setup("rear"), &point("tower-rear", "R"), error),
            JONAS,
        );
        self.swap_digits(again.as_ref());
        let error = 0.4 * self.noise();
        self.take(
            truth.height(&setup("rear"), &point("tower-rear", "R"), error),
            JONAS,
        );
        if let Some(reading) = self.job.readings.iter_mut().rev().nth(1) {
            reading.set_aside = Some(SetAside {
                why: self.words.digits_swapped.to_owned(),
                by: JONAS.to_owned(),
            });
        }
    }

    fn pull(&mut self, id: &str, label: &str, load: Load, left: f64) {
        self.begin(id, label, StageKind::Pull, Some(load));
        let truth = self.truth(left, 0.006);
        self.round(&truth, &PULL_ROUND);
    }

    fn misread(&mut self, which: impl Fn(&Taken) -> bool, error_mm: f64) {
        let found = self
            .job
            .readings
            .iter_mut()
            .find(|reading| which(&reading.taken));
        if let Some(Reading {
            taken: Taken::Span { value_mm, .. },
            entered,
            ..
        }) = found
        {
            *value_mm += error_mm;
            *entered = self.words.typed(*value_mm);
        }
    }

    /// …ab. becomes …ba.
    fn swap_digits(&mut self, id: Option<&ReadingId>) {
        let found = self
            .job
            .readings
            .iter_mut()
            .find(|reading| Some(&reading.id) == id);
        if let Some(Reading {
            taken: Taken::Height { value_mm, .. },
            entered,
            ..
        }) = found
        {
            let whole = value_mm.trunc();
            let (tens, ones) = ((whole / 10.0).trunc() % 10.0, whole % 10.0);
            *value_mm += 9.0 * (ones - tens);
            *entered = self.words.typed(*value_mm);
        }
    }
}

#[cfg(test)]
mod tests;
