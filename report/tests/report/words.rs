//! What a report says.

use report::Paper;
use report::model::{Block, Report};
use shared::figures::{Language, LengthUnit};
use shared::job::Job;
use shared::verdict::Verdict;

use super::scene::Scene;

/// Every text of a report, in its order.
pub(crate) fn texts(report: &Report) -> Vec<String> {
    let mut texts = vec![report.title.clone()];
    for section in &report.sections {
        texts.push(section.title.clone());
        for block in &section.blocks {
            match block {
                Block::Heading(text) | Block::Paragraph(text) | Block::Note(text) => {
                    texts.push(text.clone());
                }
                Block::Facts(facts) => texts.extend(facts.iter().flatten().cloned()),
                Block::Lines(lines) => {
                    for line in lines {
                        texts.push(line.text.clone());
                        texts.extend(line.more.iter().cloned());
                    }
                }
                Block::Table(table) => {
                    texts.extend(table.columns.iter().map(|(name, _)| name.clone()));
                    texts.extend(table.rows.iter().flatten().map(|cell| cell.text.clone()));
                }
                Block::Drawings(drawings) => {
                    texts.extend(drawings.iter().map(|drawing| drawing.title.clone()));
                }
                Block::Photo(_, text) => {
                    texts.extend([text.caption.clone(), text.digest.clone()]);
                }
            }
        }
    }
    texts
}

#[test]
fn the_demo_is_told_worst_first_with_everything_behind_it() {
    let scene = Scene::signed_demo();
    let report = scene.report();
    let text = texts(&report).join("\n");
    let place = |words: &str| {
        text.find(words)
            .unwrap_or_else(|| panic!("'{words}' in:\n{text}"))
    };
    let in_order = [
        "Measuring report",
        "five-door hatch, demo",
        "What is outside",
        "Outside the tolerance, largest first",
        "Views of the body",
        "Before and after",
        "Causes",
        "front rail, left moved back",
        "Suspects: readings that the others contradict",
        "tape read from its 100 mm mark",
        "Set aside by a person",
        "because: ",
        "References that do not fit",
        "What these readings cannot tell",
        "Method and decision rule",
        "JCGM 106:2012",
        "Trusted points",
        "Tools and their checks",
        "Sign-offs",
        "Signed by",
        "Ana Lind · 2026-03-02 09:15 UTC",
        "Countersigned by",
        "1 reading since sign-off. A new sign-off is needed.",
        "Safety",
        "it does not certify a repair",
    ];
    let places: Vec<usize> = in_order.into_iter().map(place).collect();
    assert!(places.is_sorted(), "{places:?}");
    let (one, _) = &scene.signed[0];
    place(&one.signed.code());
    place(&one.joined[0].code());
    place("Q9W1-DFWF-077Y");
}

/// Verdicts and values are those of the result, all of them.
#[test]
fn every_verdict_of_the_last_stage_is_in_the_report_once() {
    let scene = Scene::of(shared::demo::job());
    let report = scene.report();
    let last = scene.result.stages.last().unwrap();
    let counts = shared::proof::statement::Counts::of(last);
    let outside = &report.sections[1];
    let lines = outside.blocks.iter().flat_map(|block| match block {
        Block::Lines(lines) => lines.clone(),
        _ => Vec::new(),
    });
    let lines: Vec<_> = lines.collect();
    let count = |verdict| lines.iter().filter(|l| l.mark == Some(verdict)).count() as u64;
    assert_eq!(count(Verdict::Outside), counts.outside);
    assert_eq!(count(Verdict::Unproven), counts.unproven);
    let table = report.sections[3]
        .blocks
        .iter()
        .find_map(|block| match block {
            Block::Table(table) => Some(table),
            _ => None,
        })
        .unwrap();
    let in_table = |verdict| {
        let last = table.columns.len() - 1;
        let cells = table.rows.iter().map(|row| row[last].mark);
        cells.filter(|mark| *mark == Some(verdict)).count() as u64
    };
    assert_eq!(in_table(Verdict::Outside), counts.outside);
    assert_eq!(in_table(Verdict::Unproven), counts.unproven);
    assert_eq!(in_table(Verdict::Within), counts.within);
    // The worst pair of the last stage is on top.
    assert_eq!(table.rows[0].last().unwrap().mark, Some(Verdict::Outside));
}

#[test]
fn spanish_and_inches_say_the_same_in_their_way() {
    let scene =
        Scene::signed_demo().read_in(Language::Spanish, LengthUnit::InchFraction, Paper::Letter);
    let text = texts(&scene.report()).join("\n");
    assert!(text.contains("Informe de medición"), "{text}");
    assert!(text.contains("1 lectura desde la firma"), "{text}");
    assert!(text.contains("±0,118 in (3,0 mm)"), "{text}");
    assert!(!text.contains("higher by"), "{text}");
}

#[test]
fn an_empty_job_has_a_report() {
    let report = Scene::of(Job::default()).report();
    let text = texts(&report).join("\n");
    assert!(text.contains("No stage has been begun."), "{text}");
    assert!(text.contains("Nobody has signed this job off."), "{text}");
}
