//! Photos as small pictures, by stage and point; one of them large.

use std::sync::Arc;

use leptos::prelude::*;
use shared::book::Photo;
use shared::figures::Figures;
use shared::ids::StageId;
use shared::job::Job;

use super::rows::Rows;

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

/// All photos; a tap opens one. A photo that comes takes no other's place.
#[component]
pub fn PhotoGrid(
    /// The photos, hidden ones included.
    photos: Signal<Arc<Vec<Photo>>>,
    /// The car.
    job: Signal<Arc<Job>>,
    /// Where a photo can be seen, by its digest.
    seen: Callback<String, Seen>,
    /// Called with the photo that was tapped.
    open: Callback<Photo>,
    /// The language of points' names.
    figures: Figures,
    /// The words.
    says: Says,
) -> impl IntoView {
    let groups = Memo::new(move |_| grouped(&photos.get(), &job.get(), says));
    let names = move || groups.read().iter().map(Group::name).collect::<Vec<_>>();
    let one = move |id: String| {
        let photos = photos.get_untracked();
        let Some(photo) = photos.iter().find(|photo| photo.id.as_str() == id).cloned() else {
            return ().into_any();
        };
        let of = photo.clone();
        let caption = Memo::new(move |_| caption(&job.get(), figures, &of, &of.by));
        let name = move || format!("{}: {}", says.open, caption.read());
        let (digest, is_hidden) = (photo.digest.clone(), photo.struck.is_some());
        let picture = move || match seen.run(digest.clone()).filter(|_| !is_hidden) {
            Some(Some(address)) => view! { <img src=address alt="" /> }.into_any(),
            Some(None) => view! { <span class="no-picture">{says.nowhere}</span> }.into_any(),
            None if is_hidden => view! { <span class="no-picture">{says.hidden}</span> }.into_any(),
            None => view! { <span class="no-picture">{says.looking}</span> }.into_any(),
        };
        view! {
            <li>
                <button type="button" id=button_of(&photo) data-test="photo" aria-label=name on:click=move |_| open.run(photo.clone())>{picture}</button>
                <small>{caption}</small>
            </li>
        }
        .into_any()
    };
    let one = Callback::new(one);
    let group = move |name: String| {
        let group = Memo::new(move |_| {
            let groups = groups.read();
            let found = groups.iter().find(|group| group.name() == name).cloned();
            found.unwrap_or_default()
        });
        view! {
            <h3>{move || group.read().title.clone()}</h3>
            <ul class="photo-grid"><Rows names=Signal::derive(move || group.read().photos.clone()) row=one /></ul>
        }
        .into_any()
    };
    view! { <Rows names=Signal::derive(names) row=Callback::new(group) /> }
}

/// Photos under one heading.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct Group {
    stage: Option<StageId>,
    is_hidden: bool,
    title: String,
    /// Their ids.
    photos: Vec<String>,
}

impl Group {
    /// What it is known by, whatever its stage is called.
    fn name(&self) -> String {
        let stage = self.stage.as_ref().map(StageId::as_str);
        format!("{} {}", self.is_hidden, stage.unwrap_or_default())
    }
}

/// Photos by stage, those of none behind them, hidden ones last.
fn grouped(photos: &[Photo], job: &Job, says: Says) -> Vec<Group> {
    let ids = |photos: &[&Photo]| photos.iter().map(|one| one.id.to_string()).collect();
    let (shown, hidden): (Vec<&Photo>, Vec<&Photo>) =
        photos.iter().partition(|one| one.struck.is_none());
    let stages = job.stages.iter();
    let stages = stages.map(|stage| (Some(&stage.id), stage.label.as_str()));
    let of_stage = stages.chain([(None, says.no_stage)]).map(|(stage, title)| {
        let of_stage = shown.iter().filter(|one| one.stage.as_ref() == stage);
        let mut of_stage: Vec<&Photo> = of_stage.copied().collect();
        // In the order of the car's points, those of none last.
        of_stage.sort_by_key(|one| {
            one.point
                .as_ref()
                .and_then(|id| job.points.get_index_of(id))
                .unwrap_or(usize::MAX)
        });
        Group {
            stage: stage.cloned(),
            is_hidden: false,
            title: title.to_owned(),
            photos: ids(&of_stage),
        }
    });
    let hidden = Group {
        stage: None,
        is_hidden: true,
        title: says.hidden.to_owned(),
        photos: ids(&hidden),
    };
    let groups = of_stage.chain([hidden]);
    groups.filter(|group| !group.photos.is_empty()).collect()
}

/// Name of the button that shows a photo large, for whoever comes back to it.
#[must_use]
pub fn button_of(photo: &Photo) -> String {
    format!("photo-{}", photo.id)
}

/// Point and caption of a photo, or what to call one that has neither.
#[must_use]
pub fn caption(job: &Job, figures: Figures, photo: &Photo, or: &str) -> String {
    let mut bare = photo.clone();
    bare.stage = None;
    let text = Some(report::place(job, figures, &bare));
    let text = text.filter(|text| !text.is_empty());
    text.unwrap_or_else(|| or.to_owned())
}
