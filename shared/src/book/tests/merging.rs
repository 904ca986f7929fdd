//! Two phones on one book: what comes together, and what stays a question.

use indexmap::IndexMap;

use super::*;
use crate::book::intention::StagePart;
use crate::job::{Impact, Load, Sheet, Tool, ToolKind, Zone};
use crate::tools::Check;

#[test]
fn two_phones_that_begin_the_same_book_offline_merge() {
    let mut one = import(&job(), actor(1), &stamp("i")).unwrap();
    let mut two = one.fork().with_actor(actor(2));
    edit::apply(
        &mut one,
        &stamp("a"),
        &Intention::RecordReading {
            reading: reading("r3", 95.0),
        },
    )
    .unwrap();
    edit::apply(
        &mut two,
        &stamp("b"),
        &Intention::RecordReading {
            reading: reading("r4", 97.0),
        },
    )
    .unwrap();
    one.merge(&mut two).unwrap();
    let (job, findings) = read(&one);
    assert_eq!(job.readings.len(), 4);
    assert_eq!(findings, Vec::new());
}

#[test]
fn a_field_that_two_people_set_differently_keeps_both_values() {
    let mut one = import(&job(), actor(1), &stamp("i")).unwrap();
    let mut two = one.fork().with_actor(actor(2));
    let id = PointId::parse("notch").unwrap();
    let rename = |label: &str| Intention::RenamePoint {
        id: id.clone(),
        label: label.to_owned(),
    };
    edit::apply(&mut one, &stamp("a"), &rename("cowl notch")).unwrap();
    edit::apply(&mut two, &stamp("b"), &rename("wiper notch")).unwrap();
    one.merge(&mut two).unwrap();
    let (job, findings) = read(&one);
    assert_eq!(findings.len(), 1);
    assert_eq!(findings[0].code, FindingCode::Conflict);
    assert_eq!(findings[0].subject, "points/notch/label");
    assert_eq!(findings[0].values[0], job.points[&id].label);
    let mut values = findings[0].values.clone();
    values.sort();
    assert_eq!(values, ["cowl notch", "wiper notch"]);
}

/// Somebody changes one part of a card or of a laser, somebody else another: nothing is asked, and
/// neither is lost.
#[test]
fn what_somebody_leaves_as_it_is_does_not_stand_against_what_another_changes() {
    let impact = |direction_deg| {
        let zone = Zone::Front;
        Some(Impact {
            zone,
            direction_deg,
        })
    };
    let check = |mm_per_m| {
        Some(Check {
            mm_per_m,
            sigma_mm_per_m: 0.05,
            at: "2026-03-02T09:14:00Z".to_owned(),
            by: "Ana".to_owned(),
        })
    };
    let id = ToolId::parse("green").unwrap();
    let tool = Tool {
        kind: ToolKind::Laser,
        label: "green".to_owned(),
        sigma_mm: 0.5,
        per_m_mm: 0.1,
        level_check: check(0.0),
        plumb_check: check(0.0),
    };
    let mut known = job();
    known.card.impact = impact(180.0);
    known.tools.insert(id.clone(), tool.clone());
    let mut one = import(&known, actor(1), &stamp("i")).unwrap();
    let mut two = one.fork().with_actor(actor(2));
    let card = |change: fn(&mut Card)| {
        let mut card = known.card.clone();
        change(&mut card);
        Intention::DescribeJob { card }
    };
    let checked = |change: fn(&mut Tool, Option<Check>)| {
        let mut tool = tool.clone();
        change(&mut tool, check(0.2));
        Intention::AddTool {
            id: id.clone(),
            tool,
        }
    };
    let numbered = card(|card| card.number = "4711".to_owned());
    let turned = card(|card| card.impact.as_mut().unwrap().direction_deg = 200.0);
    let level = checked(|tool, check| tool.level_check = check);
    let plumb = checked(|tool, check| tool.plumb_check = check);
    for (doc, name, said) in [
        (&mut one, "a", [numbered, level]),
        (&mut two, "b", [turned, plumb]),
    ] {
        for intention in &said {
            edit::apply(doc, &stamp(name), intention).unwrap();
        }
    }
    one.merge(&mut two).unwrap();
    let (job, findings) = read(&one);
    assert_eq!(findings, Vec::new());
    assert_eq!(
        (job.card.number.as_str(), job.card.impact),
        ("4711", impact(200.0))
    );
    let tool = &job.tools[&id];
    assert_eq!(
        (&tool.level_check, &tool.plumb_check),
        (&check(0.2), &check(0.2))
    );
}

#[test]
fn two_who_correct_a_stage_at_once_put_no_load_where_nobody_pulls() {
    let mut known = job();
    known.stages[0].of = StageKind::Pull;
    known.stages[0].load = Some(Load::Released);
    let mut one = import(&known, actor(1), &stamp("i")).unwrap();
    let mut two = one.fork().with_actor(actor(2));
    let says = |kind, load| Intention::DescribeStage {
        id: known.stages[0].id.clone(),
        says: vec![StagePart::Kind(kind, load)],
    };
    edit::apply(&mut one, &stamp("a"), &says(StageKind::Final, None)).unwrap();
    edit::apply(
        &mut two,
        &stamp("b"),
        &says(StageKind::Pull, Some(Load::Under)),
    )
    .unwrap();
    one.merge(&mut two).unwrap();
    let (job, _) = read(&one);
    // The pull was one already, so only the other kind is news; the load is of a pull alone.
    let stage = &job.stages[0];
    assert_eq!(
        (stage.of, stage.load),
        (StageKind::Final, Some(Load::Under))
    );
    assert_eq!(stage.pulled(), None);
}

/// Other programs write what people type as text; it is said and kept like any other.
#[test]
fn a_text_of_another_program_can_be_chosen() {
    let mut one = import(&job(), actor(1), &stamp("i")).unwrap();
    let mut two = one.fork().with_actor(actor(2));
    let id = PointId::parse("notch").unwrap();
    let rename = Intention::RenamePoint {
        id: id.clone(),
        label: "cowl notch".to_owned(),
    };
    edit::apply(&mut one, &stamp("a"), &rename).unwrap();
    let mut tx = two.transaction();
    let (_, points) = tx.get(ROOT, "points").unwrap().unwrap();
    let (_, point) = tx.get(&points, "notch").unwrap().unwrap();
    let label = tx.put_object(&point, "label", ObjType::Text).unwrap();
    tx.splice_text(&label, 0, 0, "wiper notch").unwrap();
    tx.commit();
    one.merge(&mut two).unwrap();
    let (_, findings) = read(&one);
    let mut values = findings[0].values.clone();
    values.sort();
    assert_eq!(values, ["cowl notch", "wiper notch"]);
    let choice = Intention::ChooseValue {
        subject: findings[0].subject.clone(),
        value: "wiper notch".to_owned(),
    };
    edit::apply(&mut one, &stamp("c"), &choice).unwrap();
    let (job, findings) = read(&one);
    assert_eq!(
        (job.points[&id].label.as_str(), findings),
        ("wiper notch", vec![])
    );
}

/// Both see the two values, one of them chooses: the conflict ends for both, on every kind of field.
#[test]
fn a_value_that_is_chosen_ends_the_conflict_everywhere() {
    let id = PointId::parse("notch").unwrap();
    let place = |x: f64| Intention::PlacePoint {
        id: id.clone(),
        place_mm: [x, 0.0, 900.0],
        place_sigma_mm: Some(50.0),
    };
    let rename = |label: &str| Intention::RenamePoint {
        id: id.clone(),
        label: label.to_owned(),
    };
    let pin = |name: &str, revision: u32| {
        let points = [(id.clone(), [400.0, 0.0, 900.0])].into_iter().collect();
        let sheet = Sheet {
            name: name.to_owned(),
            revision,
            digest: String::new(),
            spread_mm: 1.5,
            points,
            spreads: IndexMap::new(),
            tolerances: IndexMap::new(),
        };
        Intention::PinSheet { sheet: Some(sheet) }
    };
    for (here, there) in [
        (rename("cowl notch"), rename("wiper notch")),
        (place(410.0), place(390.5)),
        (pin("wagon", 2), pin("saloon", 1)),
    ] {
        let mut one = import(&job(), actor(1), &stamp("i")).unwrap();
        let mut two = one.fork().with_actor(actor(2));
        edit::apply(&mut one, &stamp("a"), &here).unwrap();
        edit::apply(&mut two, &stamp("b"), &there).unwrap();
        one.merge(&mut two).unwrap();
        two.merge(&mut one).unwrap();
        let (_, findings) = read(&one);
        let [finding] = findings.as_slice() else {
            panic!("{findings:?}")
        };
        // The one that is not in force.
        let choice = Intention::ChooseValue {
            subject: finding.subject.clone(),
            value: finding.values[1].clone(),
        };
        edit::apply(&mut two, &stamp("c"), &choice).unwrap();
        one.merge(&mut two).unwrap();
        for doc in [&one, &two] {
            let (job, findings) = read(doc);
            assert_eq!(findings, Vec::new());
            let point = &job.points[&id];
            let sheet = job.sheet.as_ref();
            let shown = [
                sheet.map_or_else(String::new, |sheet| {
                    let (points, name) = (sheet.points.len(), &sheet.name);
                    let revision = sheet.revision;
                    format!("points {points}, revision {revision}, digest , name {name}")
                }),
                point.label.clone(),
                format!("{:?}, 0.0, 900.0", point.place_mm[0]),
            ];
            assert!(
                shown
                    .iter()
                    .any(|text| text.trim_end_matches(".0") == finding.values[1]
                        || *text == finding.values[1]),
                "{shown:?} is not {:?}",
                finding.values
            );
        }
    }
}

#[test]
fn a_value_that_nobody_gave_cannot_be_chosen_nor_a_reading_be_changed() {
    let mut doc = import(&job(), actor(1), &stamp("i")).unwrap();
    for (subject, value) in [
        ("points/notch/label", "never said"),
        ("points/nowhere/label", "x"),
        ("readings/r1/note", ""),
        ("", ""),
        ("a/b/c/d", "e"),
    ] {
        let choice = Intention::ChooseValue {
            subject: subject.to_owned(),
            value: value.to_owned(),
        };
        assert!(
            edit::apply(&mut doc, &stamp("x"), &choice).is_err(),
            "{subject}"
        );
    }
    assert_eq!(read(&doc).0, job());
}

/// What a person may do in the interleaving test.
fn deed() -> impl Strategy<Value = (usize, u8, usize)> {
    (0..3_usize, 0..5_u8, 0..3_usize)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn any_interleaving_converges_and_loses_no_reading(deeds in prop::collection::vec(deed(), 1..30)) {
        let base = import(&job(), actor(1), &stamp("i")).unwrap();
        let mut phones: Vec<Automerge> = (2..5).map(|n| base.fork().with_actor(actor(n))).collect();
        let mut recorded = 2;
        for (turn, (phone, what, other)) in deeds.into_iter().enumerate() {
            let name = format!("n{turn}");
            let id = PointId::parse("notch").unwrap();
            let intention = match what {
                0 | 1 => {
                    recorded += 1;
                    Intention::RecordReading { reading: reading(&name, 90.0 + turn as f64) }
                }
                2 => Intention::RenamePoint { id, label: name.clone() },
                3 => Intention::TrustPoint { id, trusted: turn % 2 == 0 },
                _ => {
                    let mut from = phones[other].fork();
                    phones[phone].merge(&mut from).unwrap();
                    continue;
                }
            };
            edit::apply(&mut phones[phone], &stamp(&name), &intention).unwrap();
        }
        let copies: Vec<Automerge> = phones.iter().map(Automerge::fork).collect();
        for phone in &mut phones {
            for copy in &copies {
                phone.merge(&mut copy.fork()).unwrap();
            }
        }
        let (first, _) = read(&phones[0]);
        prop_assert_eq!(first.readings.len(), recorded);
        for phone in &phones[1..] {
            prop_assert_eq!(&read(phone).0, &first);
        }
    }
}
