//! A plot of one quantity over visits and their stages, with two standard uncertainties.

use leptos::prelude::*;

const WIDTH: f64 = 320.0;
const HEIGHT: f64 = 110.0;
const EDGE: f64 = 14.0;
/// Bars reach this many standard uncertainties.
const BARS: f64 = 2.0;

/// One value.
#[derive(Debug, Clone)]
pub struct Place {
    /// Which visit; a new one begins a new line.
    pub visit: usize,
    /// Value.
    pub value_mm: f64,
    /// Standard uncertainty.
    pub sigma_mm: f64,
    /// What it is, in words: shown when it is pointed at.
    pub said: String,
}

/// The plot; oldest on the left, equal steps.
#[component]
pub fn SeriesPlot(
    /// The values, oldest first.
    places: Vec<Place>,
    /// What it shows, for screen readers.
    label: String,
    /// Is zero where the quantity should be?
    from_zero: bool,
) -> impl IntoView {
    let low = |place: &Place| place.value_mm - BARS * place.sigma_mm;
    let high = |place: &Place| place.value_mm + BARS * place.sigma_mm;
    let start = if from_zero { 0.0 } else { f64::NAN };
    let least = places.iter().map(low).fold(start, f64::min);
    let most = places.iter().map(high).fold(start, f64::max);
    let range = (most - least).max(1.0);
    let gap = (WIDTH - 2.0 * EDGE) / (places.len().max(2) - 1) as f64;
    let x = move |index: usize| EDGE + gap * index as f64;
    let y = move |mm: f64| HEIGHT - EDGE - (mm - least) / range * (HEIGHT - 2.0 * EDGE);
    let mut lines: Vec<(usize, Vec<String>)> = Vec::new();
    for (index, place) in places.iter().enumerate() {
        let at = format!("{:.1},{:.1}", x(index), y(place.value_mm));
        match lines.last_mut().filter(|(visit, _)| *visit == place.visit) {
            Some((_, line)) => line.push(at),
            None => lines.push((place.visit, vec![at])),
        }
    }
    let lines = lines
        .into_iter()
        .map(|(_, line)| view! { <polyline points=line.join(" ") /> })
        .collect_view();
    let zero =
        from_zero.then(|| view! { <line class="zero" x1="0" x2=WIDTH y1=y(0.0) y2=y(0.0) /> });
    let said: Vec<String> = places.iter().map(|place| place.said.clone()).collect();
    let marks = places
        .into_iter()
        .enumerate()
        .map(|(index, place)| {
            let (from, to) = (y(low(&place)), y(high(&place)));
            view! {
                <g>
                    <title>{place.said}</title>
                    <line class="spread" x1=x(index) x2=x(index) y1=from y2=to />
                    <circle class="dot" cx=x(index) cy=y(place.value_mm) r="4" />
                </g>
            }
        })
        .collect_view();
    view! {
        <svg class="trend series-plot" viewBox=format!("0 0 {WIDTH} {HEIGHT}") role="img" aria-label=format!("{label}: {}", said.join("; "))>
            {zero}
            {lines}
            {marks}
        </svg>
    }
}
