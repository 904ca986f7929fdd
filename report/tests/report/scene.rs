//! Jobs, signatures and photos to report.

use std::sync::Arc;

use report::{Input, Paper, Photo, Report, compose};
use shared::book::Since;
use shared::figures::{Figures, Language, LengthUnit};
use shared::job::Job;
use shared::proof::leaf::Who;
use shared::proof::statement::{
    Claims, Deed, SignOff, SignedStatement, Statement, StatementFormat,
};
use shared::proof::{Digest, Seed};
use shared::result::JobResult;
use shared::solve::solve;

/// When all of these reports are made.
pub(crate) const MADE_AT: &str = "2026-03-02T09:15:00Z";

pub(crate) struct Scene {
    pub(crate) job: Job,
    pub(crate) result: JobResult,
    pub(crate) signed: Vec<(SignOff, Option<Since>)>,
    pub(crate) photos: Vec<Photo>,
    pub(crate) paper: Paper,
    pub(crate) figures: Figures,
}

impl Scene {
    pub(crate) fn of(job: Job) -> Self {
        Self {
            result: solve(&job),
            job,
            signed: Vec::new(),
            photos: Vec::new(),
            paper: Paper::A4,
            figures: Figures::default(),
        }
    }

    /// The demo car, its last stage signed and joined, and a reading since.
    pub(crate) fn signed_demo() -> Self {
        let mut scene = Self::of(shared::demo::job());
        let stage = scene.job.stages.last().unwrap().id.clone();
        let statement = Statement {
            format: StatementFormat::V1,
            deed: Deed::SignOff,
            shop: "01ARZ3NDEKTSV4RRFFQ69G5FAV".parse().unwrap(),
            job: "4NMNnkMhL8jXrdJ9jamS58PAVdXu".parse().unwrap(),
            heads: vec![Digest::of(b"heads")],
            claims: Claims::of(&scene.job, &scene.result, &stage).unwrap(),
            who: Who {
                user: "01ARZ3NDEKTSV4RRFFQ69G5FAW".parse().unwrap(),
                name: "Ana Lind".to_owned(),
                device: None,
            },
            at_ms: 1_772_442_900_000,
        };
        let signed = SignedStatement::sign(statement.clone(), &Seed::new(&[1; 32])).unwrap();
        let deed = Deed::Countersign {
            of: signed.digest(),
        };
        let joined = Statement {
            deed,
            who: Who {
                name: "Marta Sol".to_owned(),
                ..statement.who.clone()
            },
            ..statement
        };
        let joined = SignedStatement::sign(joined, &Seed::new(&[2; 32])).unwrap();
        let since = Since {
            readings: 1,
            entries: 1,
        };
        scene.signed.push((
            SignOff {
                signed,
                joined: vec![joined],
            },
            Some(since),
        ));
        scene
    }

    pub(crate) fn read_in(mut self, language: Language, unit: LengthUnit, paper: Paper) -> Self {
        self.figures = Figures { unit, language };
        self.paper = paper;
        self
    }

    pub(crate) fn report(&self) -> Report {
        compose(&Input {
            job: &self.job,
            result: &self.result,
            findings: &[],
            signed: Some(&self.signed),
            photos: &self.photos,
            shop: "Example Body Works",
            state: "Q9W1-DFWF-077Y",
            made_at: MADE_AT,
            figures: self.figures,
            paper: self.paper,
        })
    }
}

/// An invented picture; PNG with an alpha channel when the number is odd.
pub(crate) fn photo(number: u8) -> Photo {
    let image = image::RgbaImage::from_fn(64, 48, |u, v| {
        let shade = |value: u32| u8::try_from(value % 256).unwrap();
        image::Rgba([
            shade(u * 4),
            shade(v * 5),
            number.wrapping_mul(6),
            shade(255 - v),
        ])
    });
    let mut bytes = std::io::Cursor::new(Vec::new());
    if number % 2 == 1 {
        image.write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    } else {
        let opaque = image::DynamicImage::ImageRgba8(image).to_rgb8();
        opaque
            .write_to(&mut bytes, image::ImageFormat::Jpeg)
            .unwrap();
    }
    let bytes = bytes.into_inner();
    Photo {
        digest: Digest::of(&bytes).to_string(),
        bytes: Arc::new(bytes),
        caption: format!("picture {number}"),
        by: "Ana Lind".to_owned(),
        at: MADE_AT.to_owned(),
        ..Photo::default()
    }
}
