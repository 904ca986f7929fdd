//! A small graph of what is left, stage by stage, inside the tolerance band.

use leptos::prelude::*;

use super::series_plot::{Place, SeriesPlot};
use crate::measuring::sentences::Voice;
use crate::measuring::trend::Trend;

/// The graph; stages in which nothing was measured are left out.
#[component]
pub fn TrendLine(
    /// The quantity over the stages.
    trend: Trend,
    /// What it shows, for screen readers.
    label: String,
    /// The language.
    voice: Voice,
) -> impl IntoView {
    let place = |step: &crate::measuring::trend::Step| {
        let said = voice.quantity(trend.quantity, &step.judged);
        Some(Place {
            visit: 0,
            name: step.label.clone(),
            value_mm: step.left()?,
            sigma_mm: step.judged.sigma.unwrap_or(0.0),
            said: format!("{}: {said}", step.label),
        })
    };
    let places: Vec<Place> = trend.steps.iter().filter_map(place).collect();
    let band_mm = Some(trend.tolerance_mm);
    let ends = voice.ends(trend.quantity);
    view! { <SeriesPlot places label from_zero=true band_mm ends figures=voice.figures /> }
}
