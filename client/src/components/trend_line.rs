//! A small graph of what is left, stage by stage, inside the tolerance band.

use leptos::prelude::*;

use crate::measuring::trend::Trend;

const WIDTH: f64 = 160.0;
const HEIGHT: f64 = 56.0;
const EDGE: f64 = 8.0;

/// The graph; stages in which nothing was measured leave a gap.
#[component]
pub fn TrendLine(
    /// The quantity over the stages.
    trend: Trend,
    /// What it shows, for screen readers.
    label: String,
) -> impl IntoView {
    let tolerance_mm = trend.tolerance_mm;
    let most = trend
        .steps
        .iter()
        .filter_map(|step| Some(step.left()?.abs() + step.judged.sigma.unwrap_or(0.0)))
        .fold(1.5 * tolerance_mm, f64::max);
    let gap = (WIDTH - 2.0 * EDGE) / (trend.steps.len().max(2) - 1) as f64;
    let x = move |index: usize| EDGE + gap * index as f64;
    let y = move |mm: f64| HEIGHT / 2.0 - mm / most * (HEIGHT / 2.0 - 4.0);
    let known: Vec<(usize, f64, f64)> = trend
        .steps
        .iter()
        .enumerate()
        .filter_map(|(index, step)| Some((index, step.left()?, step.judged.sigma.unwrap_or(0.0))))
        .collect();
    let line: Vec<String> = known
        .iter()
        .map(|&(index, left, _)| format!("{:.1},{:.1}", x(index), y(left)))
        .collect();
    let spreads = known
        .iter()
        .map(|&(index, left, sigma)| {
            view! { <line class="spread" x1=x(index) x2=x(index) y1=y(left - sigma) y2=y(left + sigma) /> }
        })
        .collect_view();
    let dots = known
        .iter()
        .map(|&(index, left, _)| view! { <circle class="dot" cx=x(index) cy=y(left) r="3" /> })
        .collect_view();
    view! {
        <svg class="trend" viewBox=format!("0 0 {WIDTH} {HEIGHT}") role="img" aria-label=label>
            <rect class="band" x="0" width=WIDTH y=y(tolerance_mm) height=y(-tolerance_mm) - y(tolerance_mm) />
            <line class="zero" x1="0" x2=WIDTH y1=y(0.0) y2=y(0.0) />
            <polyline points=line.join(" ") />
            {spreads}
            {dots}
        </svg>
    }
}
