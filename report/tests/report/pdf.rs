//! The file: PDF/A-2b, fonts inside, texts that can be taken out again.
#![cfg(feature = "pdf")]

use std::process::Command;
use std::sync::Arc;

use lopdf::{Document, Object};
use proptest::prelude::*;
use report::{Paper, Photo, pdf};
use shared::figures::{Language, LengthUnit};
use shared::job::Job;
use shared::simulate::large::{large_car, repeatable_noise};

use super::scene::{Scene, photo};

fn opened(bytes: &[u8]) -> Document {
    Document::load_mem(bytes).expect("a PDF that another reader opens")
}

/// The text of all pages, without line ends.
fn text(bytes: &[u8]) -> String {
    let file = opened(bytes);
    let pages: Vec<u32> = file.get_pages().keys().copied().collect();
    let text = file.extract_text(&pages).expect("text of the pages");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The XMP packet of the catalogue.
fn metadata(file: &Document) -> String {
    let catalog = file.catalog().unwrap();
    let id = catalog.get(b"Metadata").unwrap().as_reference().unwrap();
    let stream = file.get_object(id).unwrap().as_stream().unwrap();
    String::from_utf8(stream.get_plain_content().unwrap()).unwrap()
}

/// What ISO 19005-2 asks of every file, as far as it can be seen here: part 2, level B in the XMP
/// (6.6.4), an output intent (6.2.3), every font program embedded (6.2.11.4), nothing encrypted
/// (6.1.3), no scripts (6.5.1).
fn is_archival(bytes: &[u8]) {
    let file = opened(bytes);
    let xmp = metadata(&file);
    assert!(xmp.contains("<pdfaid:part>2</pdfaid:part>"), "{xmp}");
    assert!(
        xmp.contains("<pdfaid:conformance>B</pdfaid:conformance>"),
        "{xmp}"
    );
    assert!(file.catalog().unwrap().has(b"OutputIntents"));
    assert!(!file.is_encrypted());
    let mut fonts = 0;
    for object in file.objects.values() {
        let Object::Dictionary(dictionary) = object else {
            continue;
        };
        let is = |key: &[u8], name: &[u8]| {
            dictionary
                .get(key)
                .and_then(Object::as_name)
                .is_ok_and(|found| found == name)
        };
        assert!(!is(b"S", b"JavaScript") && !is(b"S", b"Launch"));
        if is(b"Type", b"FontDescriptor") {
            fonts += 1;
            let embedded = [&b"FontFile"[..], b"FontFile2", b"FontFile3"];
            assert!(
                embedded.iter().any(|key| dictionary.has(key)),
                "{dictionary:?}"
            );
        }
        if is(b"Type", b"Font") && is(b"Subtype", b"Type0") {
            assert!(dictionary.has(b"ToUnicode"), "{dictionary:?}");
        }
    }
    assert!(fonts >= 1, "no font");
}

#[test]
fn the_demo_in_both_languages_and_papers_is_pdf_a_and_gives_its_text_back() {
    for (language, unit, paper, size, said) in [
        (
            Language::English,
            LengthUnit::Millimetre,
            Paper::A4,
            [595.28, 841.89],
            ["Measuring report", "Page 1 of", "1 reading since sign-off"],
        ),
        (
            Language::Spanish,
            LengthUnit::InchFraction,
            Paper::Letter,
            [612.0, 792.0],
            [
                "Informe de medición",
                "Página 1 de",
                "1 lectura desde la firma",
            ],
        ),
    ] {
        let scene = Scene::signed_demo().read_in(language, unit, paper);
        let bytes = pdf::write(&scene.report()).unwrap();
        is_archival(&bytes);
        let text = text(&bytes);
        for said in said {
            assert!(text.contains(said), "'{said}' in {text}");
        }
        assert!(text.contains(&scene.signed[0].0.signed.code()));
        let file = opened(&bytes);
        let pages = file.get_pages();
        for (number, id) in &pages {
            let page = file.get_object(*id).unwrap().as_dict().unwrap();
            let media = page.get(b"MediaBox").unwrap().as_array().unwrap();
            let media: Vec<f32> = media.iter().map(|side| side.as_float().unwrap()).collect();
            assert!((media[2] - size[0]).abs() < 0.1 && (media[3] - size[1]).abs() < 0.1);
            // The job and the date stand on every page.
            let own = file.extract_text(&[*number]).unwrap();
            let own = own.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(
                own.contains("2041") && own.contains("2026-03-02 09:15 UTC"),
                "{own}"
            );
        }
    }
}

#[test]
fn heads_of_tables_stand_on_every_page_that_they_reach() {
    let mut noise = repeatable_noise(7);
    let bytes = pdf::write(&Scene::of(large_car(50, 6, &mut noise)).report()).unwrap();
    is_archival(&bytes);
    let file = opened(&bytes);
    let head = "Pair / Point";
    let mut in_table = 0;
    for number in file.get_pages().keys() {
        let own = file.extract_text(&[*number]).unwrap();
        let own = own.split_whitespace().collect::<Vec<_>>().join(" ");
        if own.contains("right − left") {
            in_table += 1;
            assert!(own.contains(head), "page {number}: {own}");
        }
    }
    assert!(in_table > 3, "{in_table}");
}

#[test]
fn forty_photos_are_in_the_file_and_broken_ones_are_named() {
    let mut scene = Scene::of(shared::demo::job());
    scene.photos = (0..40).map(photo).collect();
    let bytes = pdf::write(&scene.report()).unwrap();
    is_archival(&bytes);
    let whole = text(&bytes);
    assert!(
        whole.contains("picture 0 · by Ana Lind") && whole.contains("picture 39"),
        "{whole}"
    );
    let images = |bytes: &[u8]| {
        let file = opened(bytes);
        let is_image = |object: &&Object| {
            let stream = object.as_stream().ok();
            let kind = stream.and_then(|stream| stream.dict.get(b"Subtype").ok()?.as_name().ok());
            // What makes a picture see-through is a picture without a mask of its own.
            kind == Some(b"Image")
                && stream.is_some_and(|s| {
                    s.dict.get(b"ColorSpace").and_then(Object::as_name).ok() != Some(b"DeviceGray")
                })
        };
        file.objects.values().filter(is_image).count()
    };
    assert_eq!(images(&bytes), 40);

    let cut = |photo: Photo, at: usize| Photo {
        bytes: Arc::new(photo.bytes[..at].to_vec()),
        ..photo
    };
    let text_file = Photo {
        bytes: Arc::new(b"no picture".to_vec()),
        ..photo(0)
    };
    let too_large = Photo {
        bytes: Arc::new(vec![0; pdf::MAX_PHOTO_BYTES + 1]),
        ..photo(0)
    };
    let empty = Photo::default();
    // The second half of a PNG is missing: that shows only when it is unpacked.
    let half = cut(photo(1), photo(1).bytes.len() / 2);
    scene.photos = vec![
        photo(2),
        text_file,
        half,
        cut(photo(4), 20),
        too_large,
        empty,
        photo(3),
    ];
    let bytes = pdf::write(&scene.report()).unwrap();
    is_archival(&bytes);
    let whole = text(&bytes);
    let unreadable = "This photo cannot be printed";
    assert_eq!(whole.matches(unreadable).count(), 4, "{whole}");
    assert_eq!(
        whole.matches("This photo is too large").count(),
        1,
        "{whole}"
    );
    assert_eq!(images(&bytes), 2);
}

#[test]
fn names_of_any_script_and_length_are_printed() {
    let mut scene = Scene::signed_demo();
    let long = "länge".repeat(60);
    let names = [
        "車体 🚗 é",
        "שלום عليكم",
        "a\u{202e}b\u{0}\n\tc",
        long.as_str(),
        "",
        " ",
    ];
    let points = scene.job.points.values_mut().zip(names.into_iter().cycle());
    for (point, name) in points {
        point.label = name.to_owned();
    }
    scene.job.card.vehicle = names.join(" ").repeat(4);
    scene.job.stages[0].label = long.clone();
    let bytes = pdf::write(&scene.report()).unwrap();
    is_archival(&bytes);
    // What the fonts do not have is written by number, so it is not lost.
    assert!(text(&bytes).contains("\\u{8eca}\\u{4f53}"));
}

#[test]
fn an_empty_job_has_a_file() {
    is_archival(&pdf::write(&Scene::of(Job::default()).report()).unwrap());
}

/// Poppler reads the same text, where it is installed.
#[test]
fn pdftotext_reads_what_was_written() {
    let path = std::env::temp_dir().join(format!("baybook-report-{}.pdf", std::process::id()));
    let scene = Scene::signed_demo().read_in(Language::Spanish, LengthUnit::Millimetre, Paper::A4);
    std::fs::write(&path, pdf::write(&scene.report()).unwrap()).unwrap();
    let read = Command::new("pdftotext").arg(&path).arg("-").output();
    let fonts = Command::new("pdffonts").arg(&path).output();
    std::fs::remove_file(&path).unwrap();
    let (Ok(read), Ok(fonts)) = (read, fonts) else {
        eprintln!("skipped: poppler's pdftotext is not installed");
        return;
    };
    let text = String::from_utf8(read.stdout).unwrap();
    for said in [
        "Informe de medición",
        "más alta en",
        "Código de verificación",
    ] {
        assert!(text.contains(said), "'{said}' in {text}");
    }
    let fonts = String::from_utf8(fonts.stdout).unwrap();
    let rows: Vec<&str> = fonts.lines().skip(2).collect();
    assert!(!rows.is_empty(), "{fonts}");
    for row in rows {
        // Embedded, subset, with a map to Unicode.
        assert!(row.contains("yes yes yes"), "{fonts}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Whatever people write, there is a file.
    #[test]
    fn whatever_is_in_the_names(names in proptest::collection::vec(any::<String>(), 6)) {
        let mut scene = Scene::of(shared::demo::job());
        let mut names = names.into_iter().cycle();
        let mut next = || names.next().unwrap_or_default();
        for point in scene.job.points.values_mut() {
            point.label = next();
        }
        for stage in &mut scene.job.stages {
            stage.label = next();
        }
        for reading in &mut scene.job.readings {
            reading.by = next();
        }
        scene.job.card.number = next();
        scene.job.card.vehicle = next();
        scene.job.card.vin = Some(next());
        let written = pdf::write(&scene.report());
        prop_assert!(written.is_ok(), "{:?}", written.err());
    }
}
