//! A plot of one quantity over visits and their stages, with two standard uncertainties.

mod names;

use leptos::prelude::*;
use shared::figures::Figures;

use names::names;

const WIDTH: f64 = 320.0;
const HEIGHT: f64 = 140.0;
const EDGE: f64 = 14.0;
/// Room for the least and the greatest figure, left of the plot.
const FIGURES: f64 = 98.0;
/// Room for the visits' names, below.
const NAMES: f64 = 24.0;
/// Room for a word above the plot, and for one below.
const WORD: f64 = 12.0;
/// Bars reach this many standard uncertainties.
const BARS: f64 = 2.0;
/// A band stands inside the plot with this much around it.
const BAND_ROOM: f64 = 1.4;

/// One value.
#[derive(Debug, Clone)]
pub struct Place {
    /// Which visit; a new one begins a new line.
    pub visit: usize,
    /// What that visit, or the stage of it, is called.
    pub name: String,
    /// Value.
    pub value_mm: f64,
    /// Standard uncertainty.
    pub sigma_mm: f64,
    /// What it is, in words: shown when the plot is pointed at.
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
    /// Half width of the tolerance around zero, drawn as a band.
    band_mm: Option<f64>,
    /// What it means to be above and to be below, where zero is where it should be.
    #[prop(optional)]
    ends: Option<[&'static str; 2]>,
    /// How lengths are written.
    figures: Figures,
) -> impl IntoView {
    let low = |place: &Place| place.value_mm - BARS * place.sigma_mm;
    let high = |place: &Place| place.value_mm + BARS * place.sigma_mm;
    let start = if from_zero { 0.0 } else { f64::NAN };
    let room = band_mm.unwrap_or(0.0) * BAND_ROOM;
    let least = places.iter().map(low).fold(start - room, f64::min);
    let most = places.iter().map(high).fold(start + room, f64::max);
    let range = (most - least).max(1.0);
    let gap = (WIDTH - FIGURES - 2.0 * EDGE) / (places.len().max(2) - 1) as f64;
    let x = move |index: usize| FIGURES + EDGE + gap * index as f64;
    let word = if ends.is_some() { WORD } else { 0.0 };
    let height = HEIGHT + 2.0 * word;
    let floor = height - NAMES;
    let edge = EDGE + word;
    let y = move |mm: f64| floor - edge - (mm - least) / range * (floor - 2.0 * edge);
    let ends = ends.map(|[above, below]| {
        [(above, WORD + 2.0), (below, floor - 5.0)]
            .map(|(word, y)| view! { <text class="way" x=FIGURES + 4.0 y=y>{word}</text> })
    });
    let scale = [least, least + range]
        .map(|mm| view! { <text class="figure" x=FIGURES - 6.0 y=y(mm) dy="0.35em">{figures.length(mm)}</text> })
        .collect_view();
    let names = names(&places)
        .into_iter()
        .map(|(index, name)| {
            let anchor = match index {
                0 => "start",
                last if last + 1 == places.len() => "end",
                _ => "middle",
            };
            let shift = match anchor {
                "start" => -EDGE,
                "end" => EDGE,
                _ => 0.0,
            };
            view! { <text x=x(index) + shift y=height - 8.0 text-anchor=anchor>{name}</text> }
        })
        .collect_view();
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
        from_zero.then(|| view! { <line class="zero" x1=FIGURES x2=WIDTH y1=y(0.0) y2=y(0.0) /> });
    let band = band_mm.map(|mm| {
        view! { <rect class="band" x=FIGURES width=WIDTH - FIGURES y=y(mm) height=y(-mm) - y(mm) /> }
    });
    let said: Vec<String> = places.iter().map(|place| place.said.clone()).collect();
    let bar = |(index, place): (usize, &Place)| {
        format!(
            "M{:.1} {:.1}V{:.1}",
            x(index),
            y(low(place)),
            y(high(place))
        )
    };
    let bars: String = places.iter().enumerate().map(bar).collect();
    // Round ends make a dot of a line without length.
    let dot =
        |(index, place): (usize, &Place)| format!("M{:.1} {:.1}h0", x(index), y(place.value_mm));
    let dots: String = places.iter().enumerate().map(dot).collect();
    view! {
        <svg class="trend series-plot" viewBox=format!("0 0 {WIDTH} {height}") role="img" aria-label=format!("{label}: {}", said.join("; "))>
            <title>{said.join("\n")}</title>
            {scale}
            {names}
            {band}
            {zero}
            {ends}
            {lines}
            <path class="spread" d=bars />
            <path class="dot" d=dots />
        </svg>
    }
}
