//! From what the book says of its photos to the photos of a report.
//!
//! This file refuses to know where the files are.

use std::sync::Arc;

use shared::figures::Figures;
use shared::job::Job;
use shared::speech::Speech;

use crate::{Lack, Photo};

/// The photos of a book with their files, as far as they are here; those that are hidden come last,
/// without a file.
pub fn album(
    job: &Job,
    figures: Figures,
    photos: &[shared::book::Photo],
    mut file: impl FnMut(&str) -> Result<Arc<Vec<u8>>, Lack>,
) -> Vec<Photo> {
    let (shown, hidden): (Vec<_>, Vec<_>) = photos.iter().partition(|one| one.struck.is_none());
    let mut album: Vec<Photo> = shown
        .into_iter()
        .map(|one| {
            let bytes = file(&one.digest);
            Photo {
                lacks: bytes.as_ref().err().copied(),
                bytes: bytes.unwrap_or_default(),
                ..entry(job, figures, one)
            }
        })
        .collect();
    album.extend(hidden.into_iter().map(|one| entry(job, figures, one)));
    album
}

fn entry(job: &Job, figures: Figures, photo: &shared::book::Photo) -> Photo {
    let struck = photo.struck.as_ref();
    Photo {
        bytes: Arc::default(),
        digest: photo.digest.clone(),
        caption: place(job, figures, photo),
        by: photo.by.clone(),
        at: photo.at.clone(),
        lacks: None,
        hidden: struck.map(|strike| [strike.why.clone(), strike.by.clone()]),
    }
}

/// Stage, point and caption of a photo, as far as it has them.
#[must_use]
pub fn place(job: &Job, figures: Figures, photo: &shared::book::Photo) -> String {
    let stage = photo.stage.as_ref();
    let stage = stage.and_then(|id| job.stages.iter().find(|stage| stage.id == *id));
    let stage = stage.map(|stage| named(&stage.label, stage.id.as_str()));
    let point = photo.point.as_ref();
    let point = point.map(|id| Speech::of(figures).point(job, id));
    let parts = [stage, point, Some(photo.caption.clone())];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    let parts = parts.iter().filter(|part| !part.is_empty());
    parts.map(String::as_str).collect::<Vec<_>>().join(" · ")
}

fn named(label: &str, id: &str) -> String {
    let name = if label.is_empty() { id } else { label };
    name.to_owned()
}
