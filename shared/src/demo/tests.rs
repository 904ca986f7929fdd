//! The demo tells its story, and the same one in every language.

use serde_json::Value;

use super::*;
use crate::jobfile;
use crate::solve::solve;
use crate::verdict::Verdict;

#[test]
fn the_demo_tells_its_story() {
    let job = job();
    let result = solve(&job);
    let stage = &result.stages[0];
    let pair = |stem: &str| {
        stage
            .pairs
            .iter()
            .find(|pair| pair.left == point(stem, "L"))
            .unwrap()
    };
    assert_eq!(
        pair("rail-front").right_higher_mm.verdict,
        Some(Verdict::Outside)
    );
    assert_eq!(
        pair("tower-rear").right_higher_mm.verdict,
        Some(Verdict::Outside)
    );
    assert_eq!(
        pair("sill-rear").right_higher_mm.verdict,
        Some(Verdict::Within)
    );
    assert!(
        result
            .suspects
            .iter()
            .any(|s| s.slip_code.as_deref() == Some("hundred-mark")),
        "{:?}",
        result.suspects
    );
    let bent = result.trust.iter().find(|test| !test.fits).unwrap();
    assert!(bent.points.contains(&point("sill-front", "L")), "{bent:?}");
    assert!(
        job.points.contains_key(&point("rear-tower", "L")),
        "something is left to read"
    );
}

#[test]
fn the_kept_file_is_the_demo_of_the_code() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/examples/demo.json");
    let kept = std::fs::read_to_string(path).unwrap_or_default();
    assert!(
        kept == crate::jobfile::write(&job()),
        "docs/examples/demo.json is old; write it with `baybook demo`"
    );
}

/// Fields of a job file that hold words; only these may differ from language to language.
const WORDS: [&str; 4] = ["vehicle", "label", "why", "note"];
/// Fields of a result that tell in words, by the names of points and members.
const SENTENCES: [&str; 3] = ["says", "settles", "why"];

/// Every text and number of a file, by the way to it and the field it stands in.
fn leaves(value: &Value, way: &str, field: &str, found: &mut Vec<(String, String, Value)>) {
    match value {
        Value::Object(fields) => {
            for (name, value) in fields {
                leaves(value, &format!("{way}/{name}"), name, found);
            }
        }
        Value::Array(values) => {
            for (index, value) in values.iter().enumerate() {
                leaves(value, &format!("{way}/{index}"), field, found);
            }
        }
        leaf => found.push((way.to_owned(), field.to_owned(), leaf.clone())),
    }
}

fn leaves_in(language: Language) -> Vec<(String, String, Value)> {
    let file = serde_json::from_str(&jobfile::write(&job_in(language))).unwrap();
    let mut found = Vec::new();
    leaves(&file, "", "", &mut found);
    found
}

#[test]
fn the_demo_is_one_car_in_every_language_and_only_its_words_differ() {
    let (english, spanish) = (leaves_in(Language::English), leaves_in(Language::Spanish));
    assert_eq!(english.len(), spanish.len());
    let mut words = 0;
    for ((way, field, ours), (same_way, _, theirs)) in english.iter().zip(&spanish) {
        assert_eq!(way, same_way);
        let is_empty = ours.as_str().is_some_and(str::is_empty);
        if WORDS.contains(&field.as_str()) && !is_empty {
            assert_ne!(ours, theirs, "{way} is left in English");
            assert!(!theirs.as_str().unwrap().is_empty(), "{way}");
            words += 1;
        } else if field == "entered" {
            let typed = ours.as_str().unwrap().replace('.', ",");
            assert_eq!(*theirs, Value::from(typed), "{way}");
        } else {
            assert_eq!(ours, theirs, "{way}");
        }
    }
    // The vehicle, both set-ups, three stages, a reason, and every point and member.
    let job = job();
    assert_eq!(words, 7 + job.points.len() + job.members.len());
}

#[test]
fn the_demo_solves_alike_in_every_language() {
    let [english, spanish] = Language::ALL.map(|language| {
        let result = solve(&job_in(language));
        let mut found = Vec::new();
        leaves(&serde_json::to_value(&result).unwrap(), "", "", &mut found);
        found.retain(|(_, field, _)| !SENTENCES.contains(&field.as_str()));
        found
    });
    assert!(english.iter().any(|(_, field, _)| field == "verdict"));
    assert_eq!(english, spanish);
}

#[test]
fn a_demo_car_is_known_by_its_language() {
    for language in Language::ALL {
        let vehicle = job_in(language).card.vehicle;
        assert_eq!(language_of(&vehicle), Some(language));
        let file = jobfile::write(&job_in(language));
        assert_eq!(jobfile::parse(&file).unwrap(), job_in(language));
    }
    assert_eq!(language_of("van"), None);
}

/// Verdicts of every stage, with suspects, references and what is to be read next.
fn told(job: &Job) -> Value {
    let result = solve(job);
    let judged = |stage: &crate::result::StageResult| {
        let pairs = stage.pairs.iter().map(|pair| {
            let each = [
                &pair.right_higher_mm,
                &pair.centre_right_mm,
                &pair.right_rearward_mm,
                &pair.width_mm,
            ];
            serde_json::json!([pair.left, each.map(|judged| judged.verdict)])
        });
        let points = stage.points.iter();
        let points = points.map(|(id, point)| serde_json::json!([id, point.verdict]));
        pairs.chain(points).collect::<Vec<Value>>()
    };
    let suspects = result.suspects.iter();
    let next = result.next.iter();
    serde_json::json!({
        "verdicts": result.stages.iter().map(judged).collect::<Vec<_>>(),
        "suspects": suspects.map(|one| (&one.reading, &one.slip_code, &one.one_of)).collect::<Vec<_>>(),
        "trust": result.trust.iter().map(|test| (&test.points, test.fits)).collect::<Vec<_>>(),
        "causes": result.stages.iter().map(|stage| stage.causes.len()).collect::<Vec<_>>(),
        "next": next.map(|one| (&one.stage, &one.point, &one.to, &one.settles)).collect::<Vec<_>>(),
    })
}

#[test]
fn what_is_set_aside_after_the_sign_off_judges_nothing_otherwise() {
    let before = job();
    let Correction { reading, why, by } = correction(Language::English).unwrap();
    let mut after = before.clone();
    let mut readings = after.readings.iter_mut();
    let one = readings.find(|one| one.id == reading).unwrap();
    assert_eq!(
        (&one.stage, one.set_aside.is_none()),
        (&signed_stage(), true)
    );
    assert_ne!(one.by, by, "somebody else's eyes");
    one.set_aside = Some(SetAside {
        why: why.clone(),
        by: by.to_owned(),
    });
    assert_eq!(told(&before), told(&after));
    // It is the same reading in every language; only the reason differs.
    let spanish = correction(Language::Spanish).unwrap();
    assert_eq!(spanish.reading, reading);
    assert_ne!(spanish.why, why);
}
