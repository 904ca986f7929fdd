//! Any sheet that holds together, and one to begin with.

use indexmap::IndexMap;
use proptest::prelude::*;

use crate::ids::{MemberId, PointId};
use crate::job::Side;
use crate::library::{Body, Member, Origin, OriginKind, Point, Sheet, Years};

pub(super) fn point(side: Side, mirror: Option<&str>, target_mm: [f64; 3]) -> Point {
    Point {
        label: String::new(),
        side,
        mirror: mirror.map(|id| id.parse().unwrap()),
        target_mm,
        spread_mm: [0.5; 3],
        tolerance_mm: None,
        asymmetric: false,
        member: None,
        cars: 0,
    }
}

/// An invented hatch.
pub(super) fn hatch() -> Sheet {
    let mut points = IndexMap::new();
    for (stem, [x, y, z]) in [
        ("tower", [-61.0, 545.25, 838.7]),
        ("rail", [-620.5, 430.0, 480.0]),
        ("sill", [800.0, 700.0, 200.0]),
        ("floor", [1900.0, 380.0, 180.0]),
    ] {
        let (left, right) = (format!("{stem}-L"), format!("{stem}-R"));
        points.insert(
            left.parse().unwrap(),
            point(Side::Left, Some(&right), [x, -y, z]),
        );
        points.insert(
            right.parse().unwrap(),
            point(Side::Right, Some(&left), [x, y, z]),
        );
    }
    points.insert(
        "notch".parse().unwrap(),
        point(Side::Centre, None, [400.0, 0.0, 900.0]),
    );
    let mut members = IndexMap::new();
    members.insert("cell".parse().unwrap(), Member::default());
    let rail = Member {
        label: "left rail".into(),
        carried_by: vec!["cell".parse().unwrap()],
    };
    members.insert("left-rail".parse().unwrap(), rail);
    points[&"rail-L".parse::<PointId>().unwrap()].member = Some("left-rail".parse().unwrap());
    Sheet {
        name: "hatch".into(),
        revision: 3,
        body: Body {
            maker: "Invented Motors".into(),
            model: "Hatch".into(),
            years: Some(Years {
                from: 2019,
                to: 2024,
            }),
            style: "five-door hatch".into(),
            vin: Some("ZZZ HB [1-3] ? ? ? [LMN] *".parse().unwrap()),
        },
        tolerance_mm: Some(3.0),
        origin: Origin {
            kind: OriginKind::Manual,
            source: "own drawing".into(),
            by: "Ana".into(),
            at: "2026-03-02T09:14:00Z".into(),
        },
        members,
        points,
    }
}

/// Texts as people and attackers write them: one line, no space around.
fn text() -> impl Strategy<Value = String> {
    let cruel = prop::sample::select(vec![
        "=1+1",
        "+1",
        "-1",
        "@sum",
        "'=1",
        "''",
        "'",
        "a;=cmd",
        "a,\"=x",
        "a; -2",
        "\"",
        "\"\"",
        "x|'y",
        "＝1",
        "ü, ö; ß",
        "a;'b",
        ";'",
        "; '",
        "右前",
        "5\" pipe",
        ",,,",
        "null",
        "0x1",
    ]);
    prop_oneof![
        Just(String::new()),
        cruel.prop_map(str::to_owned),
        "[ -~]{0,20}".prop_map(|text| text.trim().to_owned()),
        "[=+@',;\" a-]{0,12}".prop_map(|text| text.trim().to_owned()),
        "\\PC{0,12}".prop_map(|text| text.trim().to_owned()),
    ]
}

fn length() -> impl Strategy<Value = f64> {
    prop_oneof![
        (-50_000_000_i64..=50_000_000).prop_map(|n| n as f64 / 1e3),
        (-5_000_000_000_i64..=5_000_000_000).prop_map(|n| n as f64 / 1e6),
        (-64_000_i32..64_000).prop_map(|n| f64::from(n) * 25.4 / 64.0),
        Just(0.0),
    ]
}

fn spread() -> impl Strategy<Value = [f64; 3]> {
    prop::array::uniform3((1_000_i64..=1_000_000_000).prop_map(|n| n as f64 / 1e6))
}

type Drawn = (
    String,
    bool,
    [f64; 3],
    [f64; 3],
    Option<f64>,
    Option<usize>,
    u32,
);

fn drawn() -> impl Strategy<Value = Drawn> {
    let target = prop::array::uniform3(length());
    let tolerance = prop::option::of(0.001_f64..1000.0);
    (
        text(),
        any::<bool>(),
        target,
        spread(),
        tolerance,
        prop::option::of(0_usize..4),
        any::<u32>(),
    )
}

/// Any sheet that holds together.
pub(super) fn any_sheet() -> impl Strategy<Value = Sheet> {
    let body = (
        text(),
        text(),
        prop::option::of((1900_u16..2190, 0_u16..10)),
        text(),
        any::<bool>(),
    );
    let origin = (0_usize..3, text(), text(), any::<bool>());
    let members = prop::collection::vec(text(), 0..4);
    let points = prop::collection::vec(drawn(), 1..8);
    let ids = prop::sample::select(vec!["p", "=cmd|", "-", "@a", "'", "\"q\"", "a,b;c", "ü"]);
    let head = (text(), 1_u32.., prop::option::of(0.001_f64..1000.0));
    (head, body, origin, members, points, ids).prop_map(
        |(head, body, origin, members, points, stem)| {
            let (maker, model, years, style, vin) = body;
            let mut sheet = hatch();
            sheet.name = if head.0.is_empty() {
                "s".into()
            } else {
                head.0
            };
            (sheet.revision, sheet.tolerance_mm) = (head.1, head.2);
            sheet.body = Body {
                maker,
                model,
                years: years.map(|(from, long)| Years {
                    from,
                    to: from + long,
                }),
                style,
                vin: vin.then(|| "1HG [A-C][B-DF1-3]? ?[X9] *".parse().unwrap()),
            };
            if sheet.body.vin.is_none() && sheet.body.model.is_empty() {
                sheet.body.model = "m".into();
            }
            sheet.origin = Origin {
                kind: [
                    OriginKind::Manual,
                    OriginKind::Measured,
                    OriginKind::Imported,
                ][origin.0],
                source: origin.1,
                by: origin.2,
                at: if origin.3 {
                    "2026-03-02T09:14:00Z".into()
                } else {
                    String::new()
                },
            };
            sheet.members.clear();
            let mut earlier: Vec<MemberId> = Vec::new();
            for (number, label) in members.into_iter().enumerate() {
                let id: MemberId = format!("{stem}m{number}").parse().unwrap();
                let member = Member {
                    label,
                    carried_by: earlier.clone(),
                };
                sheet.members.insert(id.clone(), member);
                earlier.insert(0, id);
            }
            sheet.points.clear();
            for (number, drawn) in points.into_iter().enumerate() {
                add(&mut sheet, stem, number, drawn);
            }
            sheet.rounded()
        },
    )
}

fn add(sheet: &mut Sheet, stem: &str, number: usize, drawn: Drawn) {
    let (label, paired, target_mm, spread_mm, tolerance_mm, member, cars) = drawn;
    let id = |end: &str| -> PointId { format!("{stem}{number}{end}").parse().unwrap() };
    let member = member.and_then(|at| sheet.members.get_index(at).map(|(id, _)| id.clone()));
    let one = Point {
        label,
        side: if paired { Side::Left } else { Side::Centre },
        mirror: paired.then(|| id("R")),
        target_mm,
        spread_mm,
        tolerance_mm,
        asymmetric: paired && cars % 2 == 0,
        member,
        cars,
    };
    if paired {
        let [x, y, z] = target_mm;
        let off = if one.asymmetric { 300.0 } else { 0.0 };
        let right = Point {
            side: Side::Right,
            mirror: Some(id("L")),
            target_mm: [x, -y, (z + off).min(50_000.0)],
            ..one.clone()
        };
        sheet.points.insert(id("R"), right);
    }
    sheet.points.insert(id("L"), one);
}
