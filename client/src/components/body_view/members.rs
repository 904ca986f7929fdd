//! The members of the body, as a pencil joins their points.

use indexmap::IndexMap;
use leptos::prelude::*;
use shared::ids::PointId;
use shared::job::Job;

use crate::measuring::drawing::{Spot, View, member_lines};

/// All lines; `width` is that of the pencil.
pub(super) fn members(
    job: &Job,
    spots: &IndexMap<PointId, Spot>,
    view: View,
    width: f64,
) -> impl IntoView + use<> {
    let at = |id: &PointId| spots.get(id).map(|spot| view.project(spot.at_mm));
    let lines = member_lines(job).into_values().flatten().map(|line| {
        let corners: Vec<String> = line
            .iter()
            .filter_map(at)
            .map(|[u, v]| format!("{u:.1},{v:.1}"))
            .collect();
        view! { <polyline class="member" points=corners.join(" ") stroke-width=width /> }
    });
    lines.collect_view()
}
