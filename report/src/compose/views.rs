//! The body from above, from the left and from the front, before and after.

use shared::drawing::{
    Spot, View, Window, arrow, fitting_exaggeration, in_view, member_lines, spots,
};
use shared::verdict::Verdict;

use super::labels::{Label, placed};
use super::{Found, Whole};
use crate::model::{Block, Drawing, Ink, Shape};
use shared::speech::fill;

pub(super) fn views(whole: &Whole<'_>) -> Vec<Block> {
    let words = whole.words();
    let job = whole.input.job;
    let ends = whole.ends();
    if ends.is_empty() || job.points.is_empty() {
        return vec![Block::Paragraph(words.summary_none.to_owned())];
    }
    let mut blocks = vec![Block::Note(
        [
            words.views_key,
            words.key_marks,
            words.key_cross,
            words.key_views,
            words.key_numbers,
        ]
        .join(" "),
    )];
    for view in View::ALL {
        let places = job.points.values().map(|point| point.place_mm);
        let window = Window::around(places.map(|place| view.project(place)));
        // One exaggeration for both, or a smaller arrow would not mean less.
        let scale = ends
            .iter()
            .map(|found| fitting_exaggeration(&spots(job, Some(found.result)), window))
            .fold(f64::INFINITY, f64::min);
        let drawings = ends.iter().map(|found| {
            let name = match view {
                View::Plan => words.plan,
                View::Side => words.side_view,
                View::Front => words.front_view,
            };
            let longer = fill(words.arrows, &[&whole.say.figures.decimal(scale, 0)]);
            let stage = whole.say.stage(found.stage);
            Drawing {
                title: format!("{name} · {stage} · {longer}"),
                window,
                shapes: shapes(whole, *found, view, window, scale),
            }
        });
        blocks.push(Block::Drawings(drawings.collect()));
    }
    blocks
}

fn shapes(
    whole: &Whole<'_>,
    found: Found<'_>,
    view: View,
    window: Window,
    scale: f64,
) -> Vec<Shape> {
    let job = whole.input.job;
    let spots = spots(job, Some(found.result));
    let mut shapes = Vec::new();
    if view != View::Side {
        let ends = vec![[0.0, window.v], [0.0, window.v + window.height]];
        shapes.push(Shape::Line(Ink::Centre, ends));
    }
    let at = |spot: &Spot| view.project(spot.at_mm);
    for line in member_lines(job).into_values().flatten() {
        let corners = line.iter().filter_map(|id| spots.get(id)).map(at).collect();
        shapes.push(Shape::Line(Ink::Member, corners));
    }
    for spot in spots.values() {
        let ink = match spot.verdict {
            Some(Verdict::Outside) => Ink::Outside,
            _ => Ink::Plain,
        };
        shapes.extend(arrow(spot, view, scale).map(|arrow| Shape::Arrow(ink, arrow)));
    }
    for spot in spots.values() {
        shapes.push(Shape::Mark {
            at: at(spot),
            verdict: spot.verdict,
            measured: in_view(spot, view),
            trusted: spot.trusted,
        });
    }
    let middle = window.u + window.width / 2.0;
    // Where there is no room for all, what is outside is named first.
    let labels: Vec<Label> = [Verdict::Outside, Verdict::Unproven]
        .into_iter()
        .flat_map(|verdict| spots.values().filter(move |s| s.verdict == Some(verdict)))
        .map(|spot| Label {
            at: at(spot),
            text: whole.number(&spot.id),
            leftward: view != View::Side && at(spot)[0] < middle,
        })
        .collect();
    let marks: Vec<[f64; 2]> = spots.values().map(at).collect();
    shapes.extend(placed(&labels, &marks, window));
    shapes
}
