//! Drawings and verdict marks as pieces that any page can show: lines, ellipses, polygons, numbers.
//!
//! Places as in the drawing; colours are those of the screens in daylight (Okabe–Ito). Never colour
//! alone: within is a solid disc, outside a diamond, unproven a hollow dashed ring; a cross is no
//! verdict, but a place where nothing is measured.

use shared::drawing::Arrow;
use shared::verdict::Verdict;

use crate::model::{Drawing, Ink, NUMBER_SIZE, Shape};

/// Red, green, blue.
pub(crate) type Colour = [u8; 3];

/// What is not a verdict.
pub(crate) const BLACK: Colour = [0x1f, 0x23, 0x28];
/// Less important text.
pub(crate) const FAINT: Colour = [0x5d, 0x5a, 0x50];
/// Rules and members.
pub(crate) const RULE: Colour = [0xb5, 0xae, 0x9d];
/// The one accent.
pub(crate) const BEAM: Colour = [0xa3, 0x23, 0x1b];
const WITHIN: Colour = [0x00, 0x72, 0xb2];
const OUTSIDE: Colour = [0xb8, 0x5c, 0x00];
const OUTSIDE_FILL: Colour = [0xe6, 0x9f, 0x00];

/// How an edge is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Edge {
    pub(crate) colour: Colour,
    pub(crate) width: f64,
    /// Length of dashes and gaps.
    pub(crate) dash: Option<[f64; 2]>,
}

impl Edge {
    fn solid(colour: Colour, width: f64) -> Self {
        Self {
            colour,
            width,
            dash: None,
        }
    }
}

/// One piece.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Piece {
    /// Places joined by lines, closed when filled.
    Line {
        through: Vec<[f64; 2]>,
        fill: Option<Colour>,
        edge: Edge,
    },
    /// An ellipse along the axes.
    Ellipse {
        middle: [f64; 2],
        radii: [f64; 2],
        fill: Option<Colour>,
        edge: Option<Edge>,
    },
    /// A short text on a line; `leftward` ends at the place.
    Text {
        at: [f64; 2],
        text: String,
        size: f64,
        leftward: bool,
    },
}

/// The mark of a verdict around a place.
pub(crate) fn mark(verdict: Verdict, middle: [f64; 2], r: f64) -> Piece {
    let [u, v] = middle;
    match verdict {
        Verdict::Within => Piece::Ellipse {
            middle,
            radii: [r, r],
            fill: Some(WITHIN),
            edge: None,
        },
        Verdict::Outside => {
            let d = r * 1.3;
            Piece::Line {
                through: vec![[u, v - d], [u + d, v], [u, v + d], [u - d, v]],
                fill: Some(OUTSIDE_FILL),
                edge: Edge::solid(OUTSIDE, r * 0.2),
            }
        }
        Verdict::Unproven => Piece::Ellipse {
            middle,
            radii: [r, r],
            fill: None,
            edge: Some(Edge {
                colour: FAINT,
                width: r * 0.32,
                dash: Some([r * 0.59, r * 0.41]),
            }),
        },
    }
}

/// A drawing in pieces.
pub(crate) fn pieces(drawing: &Drawing) -> Vec<Piece> {
    let unit = drawing.unit();
    let pieces = drawing.shapes.iter().flat_map(|shape| match shape {
        Shape::Line(ink, through) => vec![Piece::Line {
            through: through.clone(),
            fill: None,
            edge: line_edge(*ink, unit),
        }],
        Shape::Arrow(ink, arrow) => arrow_pieces(*ink, arrow, unit),
        Shape::Mark {
            at,
            verdict,
            measured,
            trusted,
        } => point(*at, *verdict, *measured, *trusted, unit),
        Shape::Number {
            foot,
            text,
            leftward,
        } => vec![Piece::Text {
            at: *foot,
            text: text.clone(),
            size: unit * NUMBER_SIZE,
            leftward: *leftward,
        }],
    });
    pieces.collect()
}

fn line_edge(ink: Ink, unit: f64) -> Edge {
    match ink {
        Ink::Member => Edge::solid(RULE, unit * 0.5),
        Ink::Centre => Edge {
            colour: BEAM,
            width: unit * 0.25,
            dash: Some([unit * 2.0, unit]),
        },
        Ink::Plain => Edge::solid(BLACK, unit * 0.6),
        Ink::Outside => Edge::solid(OUTSIDE, unit * 0.6),
        Ink::Leader => Edge::solid(FAINT, unit * 0.2),
    }
}

fn arrow_pieces(ink: Ink, arrow: &Arrow, unit: f64) -> Vec<Piece> {
    let edge = line_edge(ink, unit);
    vec![
        Piece::Line {
            through: vec![arrow.from, arrow.to],
            fill: None,
            edge,
        },
        Piece::Ellipse {
            middle: arrow.to,
            radii: arrow.ring.map(|radius| radius.max(unit * 0.4)),
            fill: None,
            edge: Some(Edge::solid(edge.colour, unit * 0.3)),
        },
    ]
}

fn point(
    at: [f64; 2],
    verdict: Option<Verdict>,
    measured: bool,
    trusted: bool,
    unit: f64,
) -> Vec<Piece> {
    let r = unit * 1.7;
    let mut pieces = Vec::new();
    if trusted {
        let s = r * 1.6;
        let [u, v] = at;
        pieces.push(Piece::Line {
            through: vec![
                [u - s, v - s],
                [u + s, v - s],
                [u + s, v + s],
                [u - s, v + s],
                [u - s, v - s],
            ],
            fill: None,
            edge: Edge::solid(BLACK, unit * 0.4),
        });
    }
    let edge = Edge::solid(FAINT, unit * 0.4);
    match verdict {
        Some(verdict) => pieces.push(mark(verdict, at, r)),
        None if measured => pieces.push(Piece::Ellipse {
            middle: at,
            radii: [r * 0.6, r * 0.6],
            fill: None,
            edge: Some(edge),
        }),
        // A pencil's cross, as on the screens: only a rough place.
        None => {
            let ([u, v], s) = (at, r * 0.7);
            let stroke = |through: [[f64; 2]; 2]| Piece::Line {
                through: through.into(),
                fill: None,
                edge,
            };
            pieces.push(stroke([[u - s, v - s], [u + s, v + s]]));
            pieces.push(stroke([[u + s, v - s], [u - s, v + s]]));
        }
    }
    pieces
}
