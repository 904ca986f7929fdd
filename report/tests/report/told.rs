//! What must not look cleaner than it is: what was not read again, what a sign-off counts, and what is
//! not measured.

use report::html;
use report::model::{Block, Shape};
use shared::proof::Seed;
use shared::proof::statement::{Claims, SignedStatement};
use shared::speech::not_read_again;
use shared::verdict::Verdict;

use super::scene::Scene;
use super::words::texts;

#[test]
fn what_was_outside_and_is_not_read_again_is_told() {
    let scene = Scene::of(shared::demo::job());
    let last = scene.job.stages.last().unwrap().id.clone();
    let unread = not_read_again(&scene.result, &last);
    assert!(unread.len() > 1, "{unread:?}");
    let report = scene.report();
    let is_head = |block: &Block| {
        let count = format!("{} values that were outside before", unread.len());
        matches!(block, Block::Paragraph(text) if text.starts_with(&count))
    };
    assert!(report.sections[0].blocks.iter().any(is_head));
    let blocks = &report.sections[1].blocks;
    let title = Block::Heading("Outside before, and not read again".to_owned());
    let at = blocks.iter().position(|block| *block == title).unwrap();
    let Block::Lines(lines) = &blocks[at + 1] else {
        panic!("{blocks:?}")
    };
    assert_eq!(lines.len(), unread.len());
    for (line, one) in lines.iter().zip(&unread) {
        let stages = &scene.job.stages;
        let since = stages.iter().find(|stage| stage.id == one.since).unwrap();
        assert!(line.text.ends_with(&since.label), "{line:?}");
        assert_eq!(line.mark, None);
    }
    let mut job = scene.job.clone();
    let first = job.stages[0].id.clone();
    job.readings.retain(|reading| reading.stage == first);
    let text = texts(&Scene::of(job).report()).join("\n");
    assert!(!text.contains("not read again"), "{text}");
}

#[test]
fn a_sign_off_counts_what_is_of_its_stage() {
    let mut scene = Scene::signed_demo();
    let said = |scene: &Scene| {
        let texts = texts(&scene.report());
        let line = texts.into_iter().find(|text| text.starts_with("Signed: "));
        line.unwrap()
    };
    let now = said(&scene);
    assert!(now.ends_with("0 set aside, 0 suspects."), "{now}");
    // One of before named all of the job.
    let first = scene.job.stages[0].id.clone();
    let first = Claims::of(&scene.job, &scene.result, &first).unwrap();
    assert!(!first.aside.is_empty() && first.suspects.len() == 1);
    let mut statement = scene.signed[0].0.signed.statement().clone();
    statement.claims.aside = first.aside.clone();
    statement.claims.suspects = first.suspects.clone();
    scene.signed[0].0.signed =
        SignedStatement::sign(statement.clone(), &Seed::new(&[1; 32])).unwrap();
    assert_eq!(said(&scene), now);
    statement.claims = first;
    statement.claims.readings = 1;
    scene.signed[0].0.signed = SignedStatement::sign(statement, &Seed::new(&[1; 32])).unwrap();
    let first = said(&scene);
    assert!(first.starts_with("Signed: 1 reading, "), "{first}");
    assert!(first.ends_with("set aside, 1 suspect."), "{first}");
}

#[test]
fn what_is_not_measured_is_a_cross_and_never_the_ring_of_unproven() {
    let report = Scene::of(shared::demo::job()).report();
    let drawings = report.sections[2]
        .blocks
        .iter()
        .flat_map(|block| match block {
            Block::Drawings(drawings) => drawings.clone(),
            _ => Vec::new(),
        });
    let shapes: Vec<Shape> = drawings.flat_map(|drawing| drawing.shapes).collect();
    let marks = |wanted: Option<Verdict>, is_measured: bool| {
        let is_it = |shape: &&Shape| {
            matches!(shape, Shape::Mark { verdict, measured, .. }
                if *verdict == wanted && (wanted.is_some() || *measured == is_measured))
        };
        shapes.iter().filter(is_it).count()
    };
    let (unproven, unmeasured) = (marks(Some(Verdict::Unproven), true), marks(None, false));
    assert!(unproven > 0 && unmeasured > 0);
    let page = html::page(&report);
    let figures: String = page
        .split("<figure")
        .skip(1)
        .filter_map(|figure| figure.split_once("</figure>"))
        .map(|(figure, _)| figure)
        .collect();
    let rings = figures.split("<ellipse").skip(1);
    let rings = rings.filter(|ring| {
        ring.split('>')
            .next()
            .is_some_and(|ring| ring.contains("stroke-dasharray"))
    });
    assert_eq!(rings.count(), unproven);
    let text = texts(&report).join("\n");
    assert!(text.contains("A cross stands where nothing is measured"));
}
