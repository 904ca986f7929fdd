//! Pages for people: worst first, said once, in names that people know, and nothing that steers.

use proptest::prelude::*;

use super::*;
use crate::body::{Body, generic};
use crate::figures::Language;
use crate::ids::{ReadingId, StageId};
use crate::job::any::{any_job, config};
use crate::plain::plain;
use crate::result::{Difference, Suspect};

fn demo() -> (Job, JobResult) {
    let job = crate::demo::job();
    let result = crate::solve::solve(&job);
    (job, result)
}

#[test]
fn the_demo_reads_worst_first_and_ends_with_safety() {
    let (job, result) = demo();
    let text = findings(&job, &result);
    let place = |words: &str| {
        text.find(words)
            .unwrap_or_else(|| panic!("'{words}' is missing in:\n{text}"))
    };
    assert!(place("tape read from its 100 mm mark") < place("== as received =="));
    assert!(place("Outside") < place("What these readings cannot tell"));
    assert!(place("◆ outside") < place("● within"));
    assert!(place("References that do not fit") < place("Safety"));
    assert!(place("Front rail, left moved back") < place("Pull, in this order"));
    assert!(place("Moved since as received") < place("Read next"));
    assert!(text.trim_end().ends_with(SAFETY[5]));
}

/// A level beam stands 747 mm above the left rocker and 753 mm above the right one: the right one is
/// lower.
#[test]
fn the_low_side_is_the_one_far_below_the_beam() {
    let check = |left_mm: f64, right_mm: f64, says: &str| {
        let (points, members) = generic(Body::Unitised, Language::English);
        let pair = ["sill-rear-L", "sill-rear-R"].map(|id| PointId::parse(id).unwrap());
        let mut job = Job {
            points,
            members,
            ..Job::default()
        };
        let setup = crate::ids::SetupId::parse("s1").unwrap();
        job.setups
            .insert(setup.clone(), crate::job::Setup::default());
        job.stages = vec![demo().0.stages[0].clone()];
        let first = demo().0.readings[0].clone();
        for (point, value_mm) in pair.into_iter().zip([left_mm, right_mm]) {
            job.points[&point].trusted = true;
            job.readings.push(Reading {
                id: ReadingId::parse(point.as_str()).unwrap(),
                taken: Taken::Height {
                    setup: setup.clone(),
                    point,
                    beam: crate::job::Beam::Above,
                    value_mm,
                },
                set_aside: None,
                replaces: None,
                ..first.clone()
            });
        }
        let text = findings(&job, &crate::solve::solve(&job));
        assert!(text.contains(says), "{text}");
    };
    check(747.0, 753.0, "rolled, right side low");
    check(753.0, 747.0, "rolled, left side low");
}

#[test]
fn an_empty_job_says_what_to_do_first() {
    let job = Job::default();
    assert!(
        findings(&job, &crate::solve::solve(&job)).contains("Read heights of a few pairs first")
    );
}

#[test]
fn nothing_in_a_name_steers_the_terminal_or_makes_a_line_of_its_own() {
    const NAME: &str = "x\u{1b}[2J\u{9b}31m\u{202e}\n● within everything\r\u{2028}y";
    let (mut job, _) = demo();
    job.card.number = NAME.to_owned();
    job.card.vehicle = NAME.to_owned();
    for point in job.points.values_mut() {
        point.label = NAME.to_owned();
    }
    for stage in &mut job.stages {
        stage.label = NAME.to_owned();
    }
    for reading in &mut job.readings {
        reading.by = NAME.to_owned();
    }
    let mut result = crate::solve::solve(&job);
    for suspect in &mut result.suspects {
        suspect.slip = Some(NAME.to_owned());
    }
    for cannot in &mut result.stages[0].cannot_tell {
        cannot.why = NAME.to_owned();
    }
    let text = findings(&job, &result);
    assert!(text.contains("x\\u{1b}[2J"), "{text}");
    for line in text.lines() {
        assert_eq!(plain(line), line);
        assert!(!line.starts_with("● within everything"));
    }
}

#[test]
fn leaving_out_is_said_in_the_names_of_the_shop() {
    let (job, mut result) = demo();
    result.suspects.truncate(1);
    result.suspects[0].difference = vec![Difference {
        quantity: "tower-rear-L/tower-rear-R centre_right_mm".to_owned(),
        stage: job.stages[0].id.clone(),
        change_mm: 21.94,
    }];
    let id = &result.suspects[0].reading;
    let line = format!(
        "leaving {id} out changes strut tower, rear bolt: middle right by +21.9 mm, as received\n"
    );
    let text = findings(&job, &result);
    assert!(text.contains(&line), "{text}");
}

#[test]
fn rows_that_cannot_be_told_apart_are_listed_once() {
    let (job, mut result) = demo();
    let suspect = |id: &str| Suspect {
        reading: ReadingId::parse(id).unwrap(),
        one_of: ["d001", "d002", "sill-rear-L/sill-rear-R z"]
            .map(str::to_owned)
            .into(),
        difference: Vec::new(),
        ..result.suspects[0].clone()
    };
    result.suspects = vec![suspect("d001"), suspect("d002")];
    // The same group in another order, from a reference.
    let bent = result.trust.iter_mut().find(|test| !test.fits).unwrap();
    bent.one_of = ["sill-rear-L/sill-rear-R z", "d002", "d001"]
        .map(str::to_owned)
        .into();
    let text = findings(&job, &result);
    let count = |words: &str| text.matches(words).count();
    assert_eq!(count("one of these is wrong"), 1, "{text}");
    assert_eq!(count("it is one of the group of d001 above"), 2, "{text}");
    let trust = "- the trust in rocker, rear jacking point (left) / rocker, rear jacking point (right), height";
    assert_eq!(count(trust), 1, "{text}");
}

#[test]
fn what_cannot_be_told_is_said_once_for_all_stages() {
    let (job, mut result) = demo();
    let text = findings(&job, &result);
    assert_eq!(text.matches("  mash: ").count(), 1, "{text}");
    result.stages[1].cannot_tell.clear();
    let text = findings(&job, &result);
    assert_eq!(text.matches("  mash: ").count(), 1, "{text}");
    assert!(
        text.contains("to see it (as received; pull 1, released)\n"),
        "{text}"
    );
}

#[test]
fn a_reading_that_two_people_corrected_is_named() {
    let (mut job, result) = demo();
    let first = job.readings[0].clone();
    for id in ["again-1", "again-2"] {
        job.readings.push(Reading {
            id: ReadingId::parse(id).unwrap(),
            replaces: Some(first.id.clone()),
            ..first.clone()
        });
    }
    let text = findings(&job, &result);
    assert!(text.contains("corrected by again-1, again-2\n"), "{text}");
    job.readings.pop();
    assert!(!findings(&job, &result).contains("corrected by"));
}

#[test]
fn a_stage_without_a_label_goes_by_its_id() {
    let (mut job, result) = demo();
    job.stages[0].label.clear();
    let id: &StageId = &job.stages[0].id;
    assert!(findings(&job, &result).contains(&format!("\n== {id} ==\n")));
}

proptest! {
    #![proptest_config(config(128))]

    #[test]
    fn any_job_is_solved_and_said_in_plain_lines(job in any_job()) {
        let text = findings(&job, &crate::solve::solve(&job));
        prop_assert!(!text.contains("NaN"), "{}", text);
        for line in text.lines() {
            prop_assert_eq!(plain(line), line);
        }
    }
}
