//! Drawings beside each other, all in one scale.

use super::flow::{Flow, LEADING, SIDE, SMALL, Thing};
use crate::model::Drawing;
use crate::shapes::pieces;

const GAP: f32 = 12.0;
/// Highest drawing: two rows and their captions fit on a page.
const MAX_HEIGHT: f32 = 300.0;

pub(super) fn drawings(flow: &mut Flow<'_>, drawings: &[Drawing]) {
    let Some(first) = drawings.first() else {
        return;
    };
    #[expect(clippy::cast_precision_loss, reason = "one or two drawings")]
    let count = drawings.len().max(2) as f32;
    let room = (flow.width() - GAP * (count - 1.0)) / count;
    #[expect(
        clippy::cast_possible_truncation,
        reason = "a car is some thousand millimetres long"
    )]
    let [wide, high] = [first.window.width as f32, first.window.height as f32];
    let scale = (room / wide).min(MAX_HEIGHT / high);
    let [width, height] = [wide * scale, high * scale];
    let captions: Vec<_> = drawings
        .iter()
        .map(|drawing| flow.break_lines(&drawing.title, SMALL, room))
        .collect();
    let lines = captions.iter().map(Vec::len).max().unwrap_or(0);
    let step = SMALL.size * LEADING;
    #[expect(clippy::cast_precision_loss, reason = "a caption has few lines")]
    let below = lines as f32 * step + 10.0;
    flow.need(height + below);
    let (mut x, top) = (SIDE, flow.y);
    for (drawing, caption) in drawings.iter().zip(captions) {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a car is some thousand millimetres long"
        )]
        let [u, v] = [drawing.window.u as f32, drawing.window.v as f32];
        flow.put(Thing::Pieces {
            pieces: pieces(drawing),
            origin: [x - u * scale, top - v * scale],
            scale,
            frame: Some([x, top, width, height]),
        });
        let mut y = top + height + 3.0;
        for run in caption {
            flow.set(run, x, y, SMALL);
            y += step;
        }
        x += room + GAP;
    }
    flow.skip(height + below);
}
