//! The page to print: the same texts, and nothing in a name that is more than a text.

use report::{Paper, html};
use shared::figures::{Language, LengthUnit};

use super::scene::{Scene, photo};
use super::words::texts;

/// Texts of a page, as a browser without style would show them.
fn shown(page: &str) -> String {
    let body = page.split("<body>").nth(1).unwrap();
    let mut text = String::new();
    let mut rest = body;
    while let Some((before, after)) = rest.split_once('<') {
        text.push_str(before);
        text.push(' ');
        rest = after.split_once('>').unwrap().1;
    }
    for (entity, c) in [
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&quot;", "\""),
        ("&#39;", "'"),
        ("&amp;", "&"),
    ] {
        text = text.replace(entity, c);
    }
    text
}

#[test]
fn the_page_says_all_that_the_report_says() {
    let mut scene = Scene::signed_demo();
    scene.photos = vec![photo(1), photo(2)];
    let report = scene.report();
    let page = html::page(&report);
    let text = shown(&page);
    for said in texts(&report) {
        assert!(text.contains(&said), "'{said}' is not on the page");
    }
    assert!(page.contains("size: A4") && page.contains("lang=\"en\""));
    assert!(page.contains("data:image/png;base64,") && page.contains("data:image/jpeg;base64,"));
    let scene = scene.read_in(Language::Spanish, LengthUnit::Millimetre, Paper::Letter);
    let page = html::page(&scene.report());
    assert!(page.contains("size: letter") && page.contains("lang=\"es\""));
    assert!(
        page.contains("\"Página \" counter(page) \" de \" counter(pages)"),
        "page numbers"
    );
}

/// The page forbids nothing by itself, so that it can be shown where inline styles and scripts are
/// forbidden: it must do without them.
#[test]
fn names_stay_texts_and_nothing_comes_from_elsewhere() {
    const NAME: &str =
        "</style><script>alert(1)</script>\" onload='x' \\22 }*{display:none} &amp;\u{202e}\n";
    let mut scene = Scene::signed_demo();
    scene.job.card.number = NAME.to_owned();
    scene.job.card.vehicle = NAME.to_owned();
    for point in scene.job.points.values_mut() {
        point.label = NAME.to_owned();
    }
    for stage in &mut scene.job.stages {
        stage.label = NAME.to_owned();
    }
    for reading in &mut scene.job.readings {
        reading.by = NAME.to_owned();
    }
    let report = scene.report();
    let page = html::page(&report);
    assert!(!page.contains("<script"), "a script");
    assert_eq!(page.matches("</style>").count(), 1);
    let style = page
        .split("<style>")
        .nth(1)
        .unwrap()
        .split("</style>")
        .next()
        .unwrap();
    let clean = html::style(&Scene::signed_demo().report());
    // Quotes that are not escaped stand in pairs, as many as without the name.
    assert_eq!(style.matches('"').count(), clean.matches('"').count());
    let body = html::body(&report);
    for (index, _) in body.match_indices('<') {
        let tag = body[index..].split('>').next().unwrap();
        assert!(!tag.contains("onload") && !tag.contains("style="), "{tag}");
        assert!(
            !tag.contains("http") && !tag.contains("javascript"),
            "{tag}"
        );
    }
}

#[test]
fn the_album_of_a_book_says_what_is_not_here_and_what_is_hidden() {
    let mut scene = Scene::of(shared::demo::job());
    let record = |id: &str, struck: Option<shared::book::photo::Strike>| shared::book::Photo {
        id: shared::ids::PhotoId::parse(id).unwrap(),
        digest: format!("{:0>64}", id.len()),
        media: shared::book::photo::Media::Jpeg,
        bytes: 1,
        width_px: 1,
        height_px: 1,
        stage: scene.job.stages.first().map(|stage| stage.id.clone()),
        point: scene.job.points.keys().next().cloned(),
        reading: None,
        caption: format!("picture <{id}>"),
        by: "Ana Lind".to_owned(),
        at: String::new(),
        struck,
    };
    let strike = shared::book::photo::Strike {
        why: "another car".to_owned(),
        by: "Ben".to_owned(),
    };
    let records = [
        record("a", None),
        record("bb", None),
        record("ccc", Some(strike)),
        record("dddd", None),
    ];
    let here = photo(2).bytes;
    let album = report::album(&scene.job, scene.figures, &records, |digest| {
        match digest.trim_start_matches('0') {
            "1" => Ok(here.clone()),
            "4" => Err(report::Lack::Large),
            _ => Err(report::Lack::Absent),
        }
    });
    scene.photos = album;
    let page = html::page(&scene.report());
    let at = |text: &str| page.find(text).unwrap_or_else(|| panic!("no {text}"));
    assert_eq!(
        page.matches("<img src=\"data:image/jpeg;base64,").count(),
        1
    );
    assert!(at("picture &lt;a&gt;") < at("has not arrived here yet"));
    assert!(at("has not arrived here yet") < at("too large to be printed"));
    assert!(at("too large to be printed") < at("Hidden: "));
    assert!(page.contains("(Ben, because: another car)."));
    let point = &scene.job.points[0];
    assert!(page.contains(&point.label), "the point is named");
}
