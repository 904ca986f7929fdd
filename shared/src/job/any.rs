//! Any job that holds together, for properties: every kind of reading, odd names, numbers at their
//! limits.

mod tool;
mod sheet;

use proptest::prelude::*;
use proptest::sample::Index;
use proptest::test_runner::RngSeed;

use super::*;
use crate::ids::FrameId;
use tool::tool;

/// The same cases on every run and every machine.
pub(crate) fn config(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        rng_seed: RngSeed::Fixed(0xB00C),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// A number that one of these steps may end in.
pub(crate) fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -60_000.0..60_000.0,
        1 => any::<f64>(),
        1 => prop::sample::select(vec![0.0, -0.0, 1.0, f64::NAN, f64::INFINITY, f64::MIN, f64::MIN_POSITIVE]),
    ]
}

fn text() -> impl Strategy<Value = String> {
    prop_oneof![
        2 => "[a-z ,]{0,12}",
        1 => "(?s).{0,8}",
        1 => prop::sample::select(vec!["\u{202e}\n\u{0}\u{1b}", "\"\\/", "ä 右 👩\u{200d}🔧", "\u{feff}"]).prop_map(str::to_owned),
    ]
}

/// Names that differ by their number, with everything that an identifier may hold.
fn name(number: usize, flavour: u8) -> String {
    let stem = [
        "r",
        "tower-L/",
        "a\"b\\",
        "右.[0]",
        "__proto__",
        "\u{202e}x",
    ][usize::from(flavour) % 6];
    format!("{stem}{number}")
}

fn length() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -50_000.0..=50_000.0,
        1 => prop::sample::select(vec![0.0, 0.1 + 0.2, -50_000.0, 50_000.0, 5e-324, -1e-300]),
    ]
}

fn spread() -> impl Strategy<Value = f64> {
    prop_oneof![4 => 1e-6..=1_000.0, 1 => prop::sample::select(vec![5e-324, 1_000.0, 0.7])]
}

fn pick<T: Clone + std::fmt::Debug + 'static>(from: &[T]) -> impl Strategy<Value = T> + use<T> {
    prop::sample::select(from.to_vec())
}

fn point() -> impl Strategy<Value = (Point, bool, Option<Index>)> {
    let place = [length(), length(), length()];
    let sigma = prop::option::of(prop_oneof![spread(), Just(50_000.0)]);
    let member = prop::option::of(any::<Index>());
    (text(), place, sigma, any::<bool>(), any::<bool>(), member).prop_map(
        |(label, place_mm, place_sigma_mm, trusted, paired, member)| {
            let point = Point {
                label,
                side: Side::Centre,
                mirror: None,
                place_mm,
                place_sigma_mm,
                trusted,
                member: None,
            };
            (point, paired, member)
        },
    )
}

fn stage() -> impl Strategy<Value = Stage> {
    let of = pick(&[StageKind::AsReceived, StageKind::Pull, StageKind::Final]);
    let load = pick(&[None, Some(Load::Under), Some(Load::Released)]);
    (text(), of, load).prop_map(|(label, of, load)| Stage {
        id: id("s"),
        label,
        of,
        load,
    })
}

/// What a reading is made of; which of it is used depends on its kind.
#[derive(Debug, Clone)]
struct Parts {
    kind: u8,
    turn: bool,
    at: [Index; 5],
    value_mm: f64,
    xyz_mm: [f64; 3],
    sigma_mm: Option<f64>,
    has_tool: bool,
    corrects: bool,
    origin_mm: f64,
    texts: [String; 3],
    moment: &'static str,
    aside: Option<String>,
}

fn parts() -> impl Strategy<Value = Parts> {
    let choices = (0..6_u8, any::<[bool; 3]>(), any::<[Index; 5]>());
    let numbers = (
        0.0..=50_000.0,
        [length(), length(), length()],
        prop::option::of(spread()),
        prop_oneof![Just(0.0), Just(-12.5), Just(100.0)],
    );
    let moment = pick(&["", "2026-03-02T09:14:00Z", "2026-03-02t09:14:00.125+01:00"]);
    let aside = prop::option::of("[a-z]{1,8}");
    (choices, numbers, [text(), text(), text()], moment, aside).prop_map(
        |(
            (kind, [turn, has_tool, corrects], at),
            (value_mm, xyz_mm, sigma_mm, origin_mm),
            texts,
            moment,
            aside,
        )| {
            Parts {
                kind,
                turn,
                at,
                value_mm,
                xyz_mm,
                sigma_mm,
                has_tool,
                corrects,
                origin_mm,
                texts,
                moment,
                aside,
            }
        },
    )
}

fn card() -> impl Strategy<Value = Card> {
    let impact = (pick(&[Zone::FrontLeft, Zone::Underbody]), -360.0..=360.0);
    (
        text(),
        text(),
        prop::option::of(text()),
        prop::option::of(impact),
    )
        .prop_map(|(number, vehicle, vin, impact)| Card {
            number,
            vehicle,
            vin,
            impact: impact.map(|(zone, direction_deg)| Impact {
                zone,
                direction_deg,
            }),
        })
}

fn settings() -> impl Strategy<Value = Settings> {
    (spread(), 0.5..0.999_999, spread()).prop_map(|(tolerance_mm, conformity, build_spread_mm)| {
        Settings {
            tolerance_mm,
            conformity,
            build_spread_mm,
        }
    })
}

/// Any job that holds together.
pub(crate) fn any_job() -> impl Strategy<Value = Job> {
    let members =
        prop::collection::vec((text(), prop::collection::vec(any::<Index>(), 0..4)), 0..5);
    let plumb = pick(&[None, Some(Plumb::Lengthwise), Some(Plumb::Crosswise)]);
    let setups = prop::collection::vec((text(), plumb, prop::option::of(any::<Index>())), 1..4);
    let sheet = prop::option::of(sheet::drawn());
    let lists = (
        prop::collection::vec(point(), 2..8),
        members,
        prop::collection::vec(tool(), 0..3),
        setups,
        prop::collection::vec(stage(), 1..4),
        prop::collection::vec(parts(), 0..12),
    );
    (any::<u8>(), card(), settings(), sheet, lists).prop_map(
        |(flavour, card, settings, sheet, lists)| {
            let (points, members, tools, setups, stages, readings) = lists;
            let named = |number| name(number, flavour);
            let mut job = Job {
                card,
                settings,
                ..Job::default()
            };
            for (number, (label, carriers)) in members.into_iter().enumerate() {
                // Only earlier members carry, so there is no circle.
                let earlier: Vec<MemberId> = job.members.keys().cloned().collect();
                let carried_by = carriers
                    .iter()
                    .filter(|_| !earlier.is_empty())
                    .map(|at| at.get(&earlier).clone());
                let member = Member {
                    label,
                    carried_by: carried_by.collect(),
                };
                job.members.insert(id(&named(number)), member);
            }
            add_points(&mut job, points, named);
            job.tools = tools
                .into_iter()
                .enumerate()
                .map(|(n, tool)| (id(&named(n)), tool))
                .collect();
            for (number, (label, plumb, tool)) in setups.into_iter().enumerate() {
                let tool = tool.and_then(|at| some(&job.tools, &at));
                let stands_mm = tool.is_some().then_some([-1500.0, 250.5]);
                let setup = Setup {
                    label,
                    plumb,
                    tool,
                    stands_mm,
                };
                job.setups.insert(id(&named(number)), setup);
            }
            for (number, stage) in stages.into_iter().enumerate() {
                job.stages.push(Stage {
                    id: id(&named(number)),
                    ..stage
                });
            }
            job.sheet = sheet.map(|drawn| sheet::pinned(&job, drawn));
            for (number, parts) in readings.into_iter().enumerate() {
                let reading = reading(&job, id(&named(number)), parts);
                job.readings.push(reading);
            }
            job
        },
    )
}

fn add_points(
    job: &mut Job,
    points: Vec<(Point, bool, Option<Index>)>,
    named: impl Fn(usize) -> String,
) {
    let paired: Vec<bool> = points.iter().map(|(_, paired, _)| *paired).collect();
    for (number, (mut point, _, member)) in points.into_iter().enumerate() {
        point.member = member.and_then(|at| some(&job.members, &at));
        let left = number % 2 == 0;
        let other = if left { number + 1 } else { number - 1 };
        let is_pair = other < paired.len() && paired[number.min(other)];
        if is_pair {
            point.side = if left { Side::Left } else { Side::Right };
            point.mirror = Some(id(&named(other)));
        }
        job.points.insert(id(&named(number)), point);
    }
}

fn reading(job: &Job, id: ReadingId, parts: Parts) -> Reading {
    let Parts {
        kind,
        turn,
        at,
        mut value_mm,
        xyz_mm,
        sigma_mm,
        has_tool,
        corrects,
        mut origin_mm,
        texts,
        moment,
        aside,
    } = parts;
    let [by, entered, note] = texts;
    let points: Vec<&PointId> = job.points.keys().collect();
    let first = at[0].index(points.len());
    let from = points[first].clone();
    let to = points[(first + 1 + at[1].index(points.len() - 1)) % points.len()].clone();
    let setup = at[2]
        .get(&job.setups.keys().collect::<Vec<_>>())
        .to_owned()
        .clone();
    let plumb = job.setups[&setup].plumb;
    if kind == 5 {
        origin_mm = 0.0;
    } else {
        // Something is left when the origin is taken off.
        value_mm = (value_mm.max(0.5) + origin_mm.max(0.0)).min(50_000.0);
    }
    let taken = match (kind, plumb) {
        (1, Some(plumb)) => {
            let side = match (plumb, turn) {
                (Plumb::Lengthwise, true) => OffsetSide::Right,
                (Plumb::Lengthwise, false) => OffsetSide::Left,
                (Plumb::Crosswise, true) => OffsetSide::Rear,
                (Plumb::Crosswise, false) => OffsetSide::Front,
            };
            Taken::Offset {
                setup,
                point: from,
                side,
                value_mm,
            }
        }
        (2, Some(_)) => Taken::Split {
            setup,
            from,
            to,
            value_mm,
        },
        (3, _) => Taken::Span { from, to, value_mm },
        (4, _) => Taken::DatumSpan { from, to, value_mm },
        (5, _) => Taken::Fix {
            frame: FrameId::parse("arm").unwrap(),
            point: from,
            xyz_mm,
        },
        _ => {
            let beam = if turn { Beam::Above } else { Beam::Below };
            Taken::Height {
                setup,
                point: from,
                beam,
                value_mm,
            }
        }
    };
    let stage = job.stages[at[3].index(job.stages.len())].id.clone();
    let mut earlier = job
        .readings
        .iter()
        .filter(|r| r.stage == stage && r.taken.kind() == taken.kind());
    let replaces = earlier
        .next_back()
        .filter(|_| corrects)
        .map(|r| r.id.clone());
    Reading {
        id,
        stage,
        taken,
        sigma_mm,
        tool: has_tool.then(|| some(&job.tools, &at[4])).flatten(),
        origin_mm,
        by,
        at: moment.to_owned(),
        entered,
        note,
        set_aside: aside.map(|why| SetAside {
            why,
            by: "Ben".to_owned(),
        }),
        replaces,
    }
}

fn some<K: Clone, V>(map: &IndexMap<K, V>, at: &Index) -> Option<K> {
    let length = map.len();
    (length > 0)
        .then(|| map.get_index(at.index(length)).map(|(key, _)| key.clone()))
        .flatten()
}

fn id<T: std::str::FromStr<Err = crate::ids::IdError>>(text: &str) -> T {
    text.parse().unwrap()
}
