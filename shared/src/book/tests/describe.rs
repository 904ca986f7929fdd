//! A set-up and a stage get a name and more after they were begun; what readings lean on stays.

use super::*;
use crate::book::{EditError, SetupPart, StagePart};
use crate::job::{Load, OffsetSide, Plumb, Tool, ToolKind};

fn setup_id() -> SetupId {
    SetupId::parse("s1").unwrap()
}

fn laser_id() -> ToolId {
    ToolId::parse("red-laser").unwrap()
}

/// The car of the other tests, its set-up with a lengthwise beam, and a laser.
fn with_laser() -> Automerge {
    let mut job = job();
    job.setups[&setup_id()].plumb = Some(Plumb::Lengthwise);
    let laser = Tool {
        kind: ToolKind::Laser,
        label: "red laser".to_owned(),
        sigma_mm: 0.5,
        per_m_mm: 0.1,
        level_check: None,
        plumb_check: None,
    };
    job.tools.insert(laser_id(), laser);
    import(&job, actor(1), &stamp("i")).unwrap()
}

fn say(doc: &mut Automerge, says: Vec<SetupPart>) -> Result<(), EditError> {
    let id = setup_id();
    let intention = Intention::DescribeSetup { id, says };
    edit::apply(doc, &stamp("d"), &intention).map(drop)
}

#[test]
fn a_set_up_gets_a_name_a_laser_and_a_place() {
    let mut doc = with_laser();
    let says = vec![
        SetupPart::Label(" front of bay ".to_owned()),
        SetupPart::Tool(Some(laser_id())),
        SetupPart::Stands(Some([-2500.0, 300.0])),
    ];
    say(&mut doc, says).unwrap();
    let again = Automerge::load(&doc.save()).unwrap();
    let (job, findings) = read(&again);
    assert_eq!(findings, Vec::new());
    let described = Setup {
        label: "front of bay".to_owned(),
        plumb: Some(Plumb::Lengthwise),
        tool: Some(laser_id()),
        stands_mm: Some([-2500.0, 300.0]),
    };
    assert_eq!(job.setups[&setup_id()], described);
    // And loses them again.
    let gone = vec![SetupPart::Tool(None), SetupPart::Stands(None)];
    say(&mut doc, gone).unwrap();
    let setup = read(&doc).0.setups[&setup_id()].clone();
    assert_eq!((setup.tool, setup.stands_mm), (None, None));
    assert_eq!(setup.label, "front of bay");
}

#[test]
fn what_cannot_be_said_of_a_set_up_changes_nothing() {
    let mut doc = with_laser();
    let heads = doc.get_heads();
    let mut check = |part: SetupPart, why: &str| {
        let good = SetupPart::Label("kept out".to_owned());
        let error = say(&mut doc, vec![good, part]).unwrap_err().to_string();
        assert!(error.contains(why), "{error}");
        assert_eq!(doc.get_heads(), heads);
    };
    check(SetupPart::Label(" ".to_owned()), "a name is needed");
    check(
        SetupPart::Tool(ToolId::parse("nobody's").ok()),
        "tools/nobody's is not in this book",
    );
    check(
        SetupPart::Stands(Some([f64::NAN, 0.0])),
        "NaN is no length here",
    );
    let elsewhere = Intention::DescribeSetup {
        id: SetupId::parse("s9").unwrap(),
        says: vec![SetupPart::Plumb(None)],
    };
    let error = edit::apply(&mut doc, &stamp("d"), &elsewhere).unwrap_err();
    assert!(matches!(error, EditError::Missing(what) if what == "setups/s9"));
}

/// Somebody reads left of the beam of `s1`, as `r3`.
fn offset() -> Intention {
    let taken = Taken::Offset {
        setup: setup_id(),
        point: PointId::parse("tower-L").unwrap(),
        side: OffsetSide::Left,
        value_mm: 540.0,
    };
    Intention::RecordReading {
        reading: Reading {
            taken,
            ..reading("r3", 0.0)
        },
    }
}

#[test]
fn a_plumb_beam_turns_until_somebody_reads_from_it() {
    let mut doc = with_laser();
    // The heights that are there lean on the level beam alone.
    say(&mut doc, vec![SetupPart::Plumb(Some(Plumb::Crosswise))]).unwrap();
    say(&mut doc, vec![SetupPart::Plumb(Some(Plumb::Lengthwise))]).unwrap();
    let record = offset();
    edit::apply(&mut doc, &stamp("r"), &record).unwrap();
    // What was set aside may come back.
    let aside = Intention::SetReadingAside {
        reading: ReadingId::parse("r3").unwrap(),
        why: "tape slipped".to_owned(),
    };
    edit::apply(&mut doc, &stamp("a"), &aside).unwrap();
    for plumb in [Some(Plumb::Crosswise), None] {
        let error = say(&mut doc, vec![SetupPart::Plumb(plumb)]).unwrap_err();
        assert!(matches!(error, EditError::ReadFrom(what) if what == "setups/s1"));
    }
    // The same again is no change, and all else can still be said.
    let rest = vec![
        SetupPart::Plumb(Some(Plumb::Lengthwise)),
        SetupPart::Label("near the door".to_owned()),
    ];
    say(&mut doc, rest).unwrap();
    let setup = read(&doc).0.setups[&setup_id()].clone();
    assert_eq!(setup.label, "near the door");
    assert_eq!(setup.plumb, Some(Plumb::Lengthwise));
}

#[test]
fn a_beam_that_was_turned_while_somebody_read_from_it_is_put_right() {
    let mut ana = with_laser();
    let mut jonas = ana.fork().with_actor(actor(2));
    say(&mut ana, vec![SetupPart::Plumb(Some(Plumb::Crosswise))]).unwrap();
    let record = offset();
    edit::apply(&mut jonas, &stamp("r"), &record).unwrap();
    ana.merge(&mut jonas).unwrap();
    let is_there = |doc: &Automerge| {
        let job = read(doc).0;
        job.readings.iter().any(|one| one.id.as_str() == "r3")
    };
    assert!(!is_there(&ana), "left of a beam that runs across");
    say(&mut ana, vec![SetupPart::Plumb(None)]).unwrap_err();
    say(&mut ana, vec![SetupPart::Plumb(Some(Plumb::Lengthwise))]).unwrap();
    assert!(is_there(&ana));
}

#[test]
fn two_people_who_say_different_things_of_a_set_up_are_both_heard() {
    let mut ana = with_laser();
    let mut ben = ana.fork().with_actor(actor(2));
    say(&mut ana, vec![SetupPart::Label("front".to_owned())]).unwrap();
    say(&mut ben, vec![SetupPart::Tool(Some(laser_id()))]).unwrap();
    // And the gate's rule lets both through.
    arrives(&ana, &mut ben).unwrap();
    ana.merge(&mut ben).unwrap();
    let (job, findings) = read(&ana);
    assert_eq!(findings, Vec::new());
    let setup = &job.setups[&setup_id()];
    assert_eq!(setup.label, "front");
    assert_eq!(setup.tool, Some(laser_id()));
}

#[test]
fn a_stage_is_renamed_and_corrected() {
    let mut doc = import(&job(), actor(1), &stamp("i")).unwrap();
    let id = StageId::parse("as-received").unwrap();
    let mut say = |says: Vec<StagePart>| {
        let id = id.clone();
        let intention = Intention::DescribeStage { id, says };
        edit::apply(&mut doc, &stamp("d"), &intention).map(|_| read(&doc))
    };
    let (job, findings) = say(vec![
        StagePart::Label("pull 1".to_owned()),
        StagePart::Kind(StageKind::Pull, Some(Load::Under)),
    ])
    .unwrap();
    assert_eq!(findings, Vec::new());
    let stage = &job.stages[0];
    assert_eq!(
        (stage.label.as_str(), stage.of, stage.load),
        ("pull 1", StageKind::Pull, Some(Load::Under))
    );
    // Its readings stay with it.
    assert_eq!(job.readings.len(), 2);
    // Only a pull has a load.
    let (job, _) = say(vec![StagePart::Kind(StageKind::Final, Some(Load::Under))]).unwrap();
    let stage = &job.stages[0];
    assert_eq!((stage.of, stage.load), (StageKind::Final, None));
    assert_eq!(stage.label, "pull 1");
    let nameless = say(vec![StagePart::Label("  ".to_owned())]);
    assert!(matches!(nameless, Err(EditError::NoName)));
    let elsewhere = Intention::DescribeStage {
        id: StageId::parse("pull-9").unwrap(),
        says: vec![StagePart::Label("pull 9".to_owned())],
    };
    let missing = edit::apply(&mut doc, &stamp("d"), &elsewhere);
    assert!(matches!(missing, Err(EditError::Missing(_))));
}

#[test]
fn what_a_phone_keeps_of_such_an_intention_is_read_again() {
    let id = setup_id();
    let says = vec![
        SetupPart::Plumb(None),
        SetupPart::Tool(None),
        SetupPart::Stands(Some([1.0, 2.0])),
    ];
    let stage = StageId::parse("pull-1").unwrap();
    let kind = StagePart::Kind(StageKind::Pull, Some(Load::Released));
    for intention in [
        Intention::DescribeSetup { id, says },
        Intention::DescribeStage {
            id: stage,
            says: vec![kind],
        },
    ] {
        let kept = serde_json::to_string(&intention).unwrap();
        assert_eq!(
            serde_json::from_str::<Intention>(&kept).unwrap(),
            intention,
            "{kept}"
        );
    }
}
