//! Which way the car looks: words at the edges of the paper.

use leptos::prelude::*;

use crate::measuring::drawing::{View, Window};

/// What stands at the edges of a view, of the words for the car's front, left and right.
pub(super) fn ways(
    view: View,
    paper: Window,
    [front, left, right]: [&'static str; 3],
) -> impl IntoView + use<> {
    let size = paper.longer() / 25.0;
    let start = paper.u + size / 2.0;
    let end = paper.u + paper.width - size / 2.0;
    let foot = paper.v + paper.height - size / 2.0;
    let way = |x: f64, y: f64, anchor: &'static str, text: String| {
        view! { <text class="way" x=x y=y text-anchor=anchor font-size=size>{text}</text> }
    };
    match view {
        View::Plan => vec![way(0.0, paper.v + size, "middle", format!("↑ {front}"))],
        View::Side => vec![way(start, foot, "start", format!("← {front}"))],
        // Seen from the front, the car's right is on the left.
        View::Front => vec![
            way(start, foot, "start", right.to_owned()),
            way(end, foot, "end", left.to_owned()),
        ],
    }
}
