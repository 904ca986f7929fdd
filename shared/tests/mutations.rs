//! Honest bytes, broken in every way that a seed can choose: no panic, no long work, no large memory.
//!
//! The same properties run for hours under `fuzz/`, led by coverage; this is the part that is cheap
//! enough for every day. A failure names its input in hexadecimal: put it into `REGRESSIONS`.

#![expect(
    clippy::disallowed_methods,
    reason = "the time that an input takes is what is tested"
)]

#[path = "mutations/properties.rs"]
mod properties;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};

use peak_alloc::PeakAlloc;

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

/// Panics when it does not hold for these bytes.
type Property = fn(&[u8]);

/// Inputs per property.
const INPUTS: usize = 400;
/// Longest that one input of a few kilobytes may take here, where nothing is optimised but the
/// engine and two cores are shared by many.
const LONGEST: Duration = Duration::from_secs(5);
/// Most memory that one may take.
const MOST_MB: f32 = 400.0;

/// Knuth's MMIX generator, from memory.
struct Dice(u64);

impl Dice {
    fn below(&mut self, sides: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % sides.max(1)
    }

    /// One to four injuries.
    fn break_bytes(&mut self, seeds: &[Vec<u8>]) -> Vec<u8> {
        let mut bytes = seeds[self.below(seeds.len())].clone();
        for _ in 0..=self.below(4) {
            self.injure(&mut bytes, seeds);
        }
        bytes
    }

    fn injure(&mut self, bytes: &mut Vec<u8>, seeds: &[Vec<u8>]) {
        let at = self.below(bytes.len() + 1);
        let to = (at + self.below(40)).min(bytes.len());
        match self.below(9) {
            0 if at < bytes.len() => bytes[at] ^= 1 << self.below(8),
            1 if at < bytes.len() => {
                bytes[at] = [0, 1, 0x7f, 0x80, 0xff, 0x42, b'"', b'-', b'9'][self.below(9)];
            }
            2 => bytes.truncate(at),
            3 => drop(bytes.drain(at..to)),
            4 => {
                let twice = bytes[at..to].to_vec();
                bytes.splice(at..at, twice);
            }
            5 => {
                // A length or number as large as it can be written.
                let large: [&[u8]; 5] = [
                    &[0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 1],
                    &[0x80, 0x80, 0x80, 0x80, 0x80, 0x20],
                    &[0xff, 0xff, 0xff, 0xff, 0x0f],
                    &[0x9b, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff],
                    b"1e308",
                ];
                bytes.splice(at..at, large[self.below(5)].iter().copied());
            }
            6 => {
                let other = &seeds[self.below(seeds.len())];
                let from = self.below(other.len() + 1);
                let until = (from + self.below(60)).min(other.len());
                bytes.splice(at..to, other[from..until].iter().copied());
            }
            7 => {
                let noise: Vec<u8> = (0..self.below(12)).map(|_| self.below(256) as u8).collect();
                bytes.splice(at..to, noise);
            }
            _ => bytes[at..to].reverse(),
        }
    }

    fn noise(&mut self) -> Vec<u8> {
        (0..self.below(120))
            .map(|_| self.below(256) as u8)
            .collect()
    }
}

fn check(name: &str, bytes: &[u8], property: impl Fn(&[u8])) {
    let said = || {
        bytes
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect::<String>()
    };
    MEMORY.reset_peak_usage();
    let (before, begun) = (MEMORY.current_usage_as_mb(), Instant::now());
    if catch_unwind(AssertUnwindSafe(|| property(bytes))).is_err() {
        panic!("{name} does not hold for {}", said());
    }
    let took = begun.elapsed();
    assert!(took < LONGEST, "{name} takes {took:?} for {}", said());
    let memory = MEMORY.peak_usage_as_mb() - before;
    assert!(memory < MOST_MB, "{name} takes {memory} MB for {}", said());
}

/// Tests of one program share its memory, so they run one after the other.
#[test]
fn whatever_comes_from_outside_does_no_harm() {
    let mut dice = Dice(20_260_302);
    let broken: [(&str, Property, Vec<Vec<u8>>); 5] = [
        ("a frame", properties::a_frame, properties::frames()),
        ("a message", properties::a_message, properties::messages()),
        ("a change", properties::a_change, properties::contents()),
        (
            "a job file",
            properties::a_job_file,
            properties::job_files(),
        ),
        ("a sheet", properties::a_sheet, properties::sheets()),
    ];
    for (name, property, seeds) in &broken {
        for seed in seeds {
            check(name, seed, property);
        }
        for _ in 0..INPUTS {
            check(name, &dice.break_bytes(seeds), property);
        }
    }
    for _ in 0..INPUTS {
        check("operations", &dice.noise(), properties::operations);
        let logged = properties::chunk(&dice.break_bytes(&broken[2].2));
        check("a logged change", &logged, properties::a_logged_change);
    }
    for _ in 0..INPUTS {
        let file = break_job(&mut dice);
        check("a job file", file.as_bytes(), properties::a_job_file);
    }
    for (name, property, hex) in REGRESSIONS {
        let bytes: Vec<u8> = (0..hex.len())
            .step_by(2)
            .map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap())
            .collect();
        check(name, &bytes, property);
    }
}

/// Inputs that did harm once.
const REGRESSIONS: [(&str, Property, &str); 1] = [(
    "a list's change whose counts do not agree: the engine panics behind the gate",
    properties::a_change,
    "011fafbfbdd163efe559a5cfd382cd5847cfd2b15aef87ee0abe8aea31d8ccd3c610010101010101\
        0101010101010101010103f20694aa95cd060001100000000000000000000000001c000000080104\
        02051515340142045608573470027f0104007f0b04f2067b026e320474657874026279026174056f\
        72646572057f0004017b00c60336c602146c65667420746f776572206c6f6f6b7320707573686564\
        206261636b416e61323032362d30332d30325430393a31353a30305a010500",
)];

/// A job file that is still JSON: values swapped, copied, taken away, or replaced by what is odd.
fn break_job(dice: &mut Dice) -> String {
    let mut file: serde_json::Value =
        serde_json::from_slice(&properties::job_files()[1]).expect("we wrote it");
    for _ in 0..=dice.below(3) {
        let mut places = Vec::new();
        list_places(&file, "", &mut places);
        let (to, from) = (
            places[dice.below(places.len())].clone(),
            places[dice.below(places.len())].clone(),
        );
        let odd: [serde_json::Value; 12] = [
            serde_json::Value::Null,
            0.into(),
            (-1).into(),
            1e308.into(),
            5e-324.into(),
            u64::MAX.into(),
            "".into(),
            "\u{202e}\u{0}x".into(),
            "2026-13-40T99:00:00Z".into(),
            true.into(),
            serde_json::json!([]),
            serde_json::json!({}),
        ];
        let value = match dice.below(3) {
            0 => file.pointer(&from).cloned().unwrap_or_default(),
            _ => odd[dice.below(odd.len())].clone(),
        };
        if let Some(place) = file.pointer_mut(&to) {
            *place = value;
        }
    }
    file.to_string()
}

fn list_places(value: &serde_json::Value, at: &str, places: &mut Vec<String>) {
    places.push(at.to_owned());
    match value {
        serde_json::Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                list_places(item, &format!("{at}/{index}"), places);
            }
        }
        serde_json::Value::Object(fields) => {
            for (name, field) in fields {
                let name = name.replace('~', "~0").replace('/', "~1");
                list_places(field, &format!("{at}/{name}"), places);
            }
        }
        _ => {}
    }
}
