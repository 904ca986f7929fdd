//! Photos as small pictures, by stage and point; one of them large.

use leptos::prelude::*;
use shared::book::Photo;
use shared::figures::Figures;
use shared::job::Job;

/// What a grid says.
#[derive(Debug, Clone, Copy)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Says {
    pub no_stage: &'static str,
    pub hidden: &'static str,
    pub nowhere: &'static str,
    pub looking: &'static str,
    pub open: &'static str,
}

/// A photo and where it can be seen: an address, `None` when nowhere, nothing while it is looked for.
pub type Seen = Option<Option<String>>;

/// All photos; a tap opens one.
#[component]
pub fn PhotoGrid(
    /// The photos, hidden ones included.
    photos: Vec<Photo>,
    /// The car.
    job: std::sync::Arc<Job>,
    /// Where a photo can be seen, by its digest.
    seen: Callback<String, Seen>,
    /// Called with the photo that was tapped.
    open: Callback<Photo>,
    /// The language of points' names.
    figures: Figures,
    /// The words.
    says: Says,
) -> impl IntoView {
    let (shown, hidden): (Vec<Photo>, Vec<Photo>) =
        photos.into_iter().partition(|one| one.struck.is_none());
    let mut groups: Vec<(String, Vec<Photo>)> = Vec::new();
    for stage in job
        .stages
        .iter()
        .map(|stage| (Some(&stage.id), stage.label.as_str()))
        .chain([(None, says.no_stage)])
    {
        let mut of_stage: Vec<Photo> = shown
            .iter()
            .filter(|one| one.stage.as_ref() == stage.0)
            .cloned()
            .collect();
        // In the order of the car's points, those of none last.
        of_stage.sort_by_key(|one| {
            one.point
                .as_ref()
                .and_then(|id| job.points.get_index_of(id))
                .unwrap_or(usize::MAX)
        });
        if !of_stage.is_empty() {
            groups.push((stage.1.to_owned(), of_stage));
        }
    }
    if !hidden.is_empty() {
        groups.push((says.hidden.to_owned(), hidden));
    }
    let group = |(title, photos): (String, Vec<Photo>)| {
        let one = |photo: Photo| {
            let caption = caption(&job, figures, &photo);
            let (digest, name) = (photo.digest.clone(), format!("{}: {caption}", says.open));
            let is_hidden = photo.struck.is_some();
            let picture = move || match seen.run(digest.clone()).filter(|_| !is_hidden) {
                Some(Some(address)) => view! { <img src=address alt="" /> }.into_any(),
                Some(None) => view! { <span class="no-picture">{says.nowhere}</span> }.into_any(),
                None if is_hidden => {
                    view! { <span class="no-picture">{says.hidden}</span> }.into_any()
                }
                None => view! { <span class="no-picture">{says.looking}</span> }.into_any(),
            };
            view! {
                <li>
                    <button type="button" data-test="photo" aria-label=name on:click=move |_| open.run(photo.clone())>{picture}</button>
                    <small>{caption}</small>
                </li>
            }
        };
        view! {
            <h3>{title}</h3>
            <ul class="photo-grid">{photos.into_iter().map(one).collect_view()}</ul>
        }
    };
    groups.into_iter().map(group).collect_view()
}

/// Point and caption of a photo, or who took it.
#[must_use]
pub fn caption(job: &Job, figures: Figures, photo: &Photo) -> String {
    let bare = Photo {
        stage: None,
        ..photo.clone()
    };
    match report::place(job, figures, &bare) {
        text if text.is_empty() => photo.by.clone(),
        text => text,
    }
}
