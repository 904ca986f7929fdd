//! How to hold the scale or the tape: a small drawing per kind and side.

use leptos::prelude::*;
use shared::job::{Beam, OffsetSide};

use crate::measuring::task::{BeamSide, Kind};

/// The drawing: the beam is the long red line, the point a ring, the scale is ruled.
#[component]
pub fn Picture(
    /// Kind of reading.
    #[prop(into)]
    kind: Signal<Kind>,
    /// Side of the beam.
    #[prop(into)]
    side: Signal<BeamSide>,
) -> impl IntoView {
    let drawing = move || match (kind.get(), side.get()) {
        (Kind::Height, BeamSide::Beam(Beam::Below)) => height(true).into_any(),
        (Kind::Height, _) => height(false).into_any(),
        (Kind::Offset, BeamSide::Offset(OffsetSide::Left | OffsetSide::Front)) => {
            offset(true).into_any()
        }
        (Kind::Offset, _) => offset(false).into_any(),
        (Kind::Split, _) => split().into_any(),
        (Kind::Span, _) => span().into_any(),
        (Kind::DatumSpan, _) => datum_span().into_any(),
    };
    view! { <svg class="picture" viewBox="0 0 96 64" aria-hidden="true">{drawing}</svg> }
}

/// Seen from the side: a level beam, a plumb scale.
fn height(beam_is_below: bool) -> impl IntoView {
    let (beam, point) = if beam_is_below { (54, 14) } else { (10, 50) };
    let ticks: String = (1..8)
        .map(|i| format!("M44 {}h4", beam.min(point) + i * 5))
        .collect();
    view! {
        <path class="beam" d=format!("M2 {beam}H94") />
        <rect class="scale" x="44" y=beam.min(point) width="8" height="40" />
        <path class="ticks" d=ticks />
        <circle class="spot-mark" cx="48" cy=point r="5" />
    }
}

/// Seen from above: a plumb beam lengthwise, a level scale square to it.
fn offset(point_is_left: bool) -> impl IntoView {
    let (beam, point) = if point_is_left { (78, 20) } else { (18, 76) };
    let left = beam.min(point);
    let ticks: String = (1..11).map(|i| format!("M{} 28v4", left + i * 5)).collect();
    view! {
        <path class="beam" d=format!("M{beam} 2V62") />
        <rect class="scale" x=left y="28" width="58" height="8" />
        <path class="ticks" d=ticks />
        <circle class="spot-mark" cx=point cy="32" r="5" />
    }
}

/// Seen from above: a tape from point to point, the beam across it.
fn split() -> impl IntoView {
    view! {
        <path class="beam" d="M52 2V62" />
        <path class="tape" d="M10 36L86 26" />
        <path class="ticks" d="M48 25v8" />
        <circle class="spot-mark" cx="10" cy="36" r="5" />
        <circle class="spot-mark open" cx="86" cy="26" r="5" />
    }
}

fn span() -> impl IntoView {
    view! {
        <path class="tape" d="M12 52L84 14" />
        <circle class="spot-mark" cx="12" cy="52" r="5" />
        <circle class="spot-mark" cx="84" cy="14" r="5" />
    }
}

/// Seen from the side: a bar parallel to the datum, legs of different length.
fn datum_span() -> impl IntoView {
    view! {
        <path class="datum" d="M2 60H94" />
        <path class="tape" d="M14 12H82" />
        <path class="ticks" d="M16 12V46M80 12V26" />
        <circle class="spot-mark" cx="16" cy="46" r="5" />
        <circle class="spot-mark" cx="80" cy="26" r="5" />
    }
}
