//! What was laid out, drawn page by page, with the head and foot of each.

use krilla::Document;
use krilla::color::rgb;
use krilla::geom::{PathBuilder, Point, Rect, Size, Transform};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, Stroke, StrokeDash};
use krilla::surface::Surface;

use super::flow::{SIDE, Style, Thing};
use super::font::{Run, Type, Weight};
use super::photo::place;
use crate::model::Report;
use crate::shapes::{BLACK, Colour, Edge, FAINT, Piece, RULE};
use shared::speech::fill as fill_words;

/// From the top of the page to the baseline of its head.
const HEAD: f32 = 40.0;
/// From the end of the page to the baseline of its foot.
const FOOT: f32 = 30.0;

pub(super) fn draw(
    document: &mut Document,
    typeface: &Type,
    report: &Report,
    pages: Vec<Vec<Thing>>,
) {
    let [width, height] = report.paper.points();
    let count = pages.len().to_string();
    for (index, things) in pages.into_iter().enumerate() {
        let Some(settings) = PageSettings::from_wh(width, height) else {
            continue;
        };
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        let number = (index + 1).to_string();
        let number = fill_words(report.page, &[&number, &count]);
        frame(&mut surface, typeface, report, &number);
        for thing in things {
            put(&mut surface, typeface, thing);
        }
        surface.finish();
        page.finish();
    }
}

/// The job and the title on top, the date, what the report is not, and the page's number below.
fn frame(surface: &mut Surface<'_>, typeface: &Type, report: &Report, number: &str) {
    let [width, height] = report.paper.points();
    let style = |weight, size| Style {
        weight,
        size,
        colour: FAINT,
    };
    let (bold, small) = (style(Weight::Bold, 8.0), style(Weight::Regular, 7.0));
    let room = width - 2.0 * SIDE;
    let right = |run: &Run, size: f32| width - SIDE - run.width * size;
    let title = typeface.line(Weight::Bold, &report.title);
    let job = cut(typeface, &report.job, bold, room - title.width * 8.0 - 12.0);
    text(surface, typeface, job, SIDE, HEAD, bold);
    let x = right(&title, 8.0);
    text(surface, typeface, title, x, HEAD, bold);
    rule(surface, SIDE, HEAD + 5.0, room, 0.5, RULE);
    let below = height - FOOT;
    rule(surface, SIDE, below - 11.0, room, 0.5, RULE);
    let number = typeface.line(Weight::Regular, number);
    let made = format!("{} · {}", report.made, report.foot);
    let made = cut(typeface, &made, small, room - number.width * 7.0 - 12.0);
    text(surface, typeface, made, SIDE, below, small);
    let x = right(&number, 7.0);
    text(surface, typeface, number, x, below, small);
}

/// A text on one line, cut where there is no room for more: the whole stands on the first page.
fn cut(typeface: &Type, whole: &str, style: Style, room: f32) -> Run {
    let room = room / style.size;
    let run = typeface.line(style.weight, whole);
    if run.width <= room {
        return run;
    }
    let mut text = whole.to_owned();
    loop {
        text.pop();
        let run = typeface.line(style.weight, &format!("{}…", text.trim_end()));
        if run.width <= room || text.is_empty() {
            return run;
        }
    }
}

fn put(surface: &mut Surface<'_>, typeface: &Type, thing: Thing) {
    match thing {
        Thing::Text { run, x, y, style } => text(surface, typeface, run, x, y, style),
        Thing::Rule {
            x,
            y,
            width,
            thick,
            colour,
        } => rule(surface, x, y, width, thick, colour),
        Thing::Picture { image, at, number } => {
            let [x, y, width, height] = at;
            if let Some(size) = Size::from_wh(width, height) {
                surface.set_location(place(number));
                surface.push_transform(&Transform::from_translate(x, y));
                surface.draw_image(image, size);
                surface.pop();
                surface.reset_location();
            }
        }
        Thing::Pieces {
            pieces,
            origin: [x, y],
            scale,
            frame,
        } => {
            let edge = frame.and_then(|[x, y, w, h]| Rect::from_xywh(x, y, w, h));
            let framed = edge.and_then(|edge| {
                let mut path = PathBuilder::new();
                path.push_rect(edge);
                path.finish()
            });
            if let Some(path) = &framed {
                surface.push_clip_path(path, &FillRule::NonZero);
            }
            surface.push_transform(&Transform::from_row(scale, 0.0, 0.0, scale, x, y));
            for one in &pieces {
                piece(surface, typeface, one);
            }
            surface.pop();
            if let Some(path) = &framed {
                surface.pop();
                surface.set_fill(None);
                surface.set_stroke(Some(stroke(Edge {
                    colour: RULE,
                    width: 0.4,
                    dash: None,
                })));
                surface.draw_path(path);
            }
        }
    }
}

fn text(surface: &mut Surface<'_>, typeface: &Type, run: Run, x: f32, y: f32, style: Style) {
    if run.glyphs.is_empty() {
        return;
    }
    surface.set_stroke(None);
    surface.set_fill(Some(fill(style.colour)));
    surface.draw_glyphs(
        Point::from_xy(x, y),
        &run.glyphs,
        typeface.font(style.weight),
        &run.text,
        style.size,
        false,
    );
}

fn rule(surface: &mut Surface<'_>, x: f32, y: f32, width: f32, thick: f32, colour: Colour) {
    let Some(rect) = Rect::from_xywh(x, y, width, thick) else {
        return;
    };
    let mut path = PathBuilder::new();
    path.push_rect(rect);
    if let Some(path) = path.finish() {
        surface.set_stroke(None);
        surface.set_fill(Some(fill(colour)));
        surface.draw_path(&path);
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a car is some thousand millimetres long"
)]
fn single([u, v]: [f64; 2]) -> [f32; 2] {
    [u as f32, v as f32]
}

fn piece(surface: &mut Surface<'_>, typeface: &Type, piece: &Piece) {
    let (path, filled, edge) = match piece {
        Piece::Line {
            through,
            fill,
            edge,
        } => {
            let mut path = PathBuilder::new();
            for (index, place) in through.iter().enumerate() {
                let [u, v] = single(*place);
                if index == 0 {
                    path.move_to(u, v);
                } else {
                    path.line_to(u, v);
                }
            }
            if fill.is_some() {
                path.close();
            }
            (path.finish(), *fill, Some(*edge))
        }
        Piece::Ellipse {
            middle,
            radii,
            fill,
            edge,
        } => (ellipse(*middle, *radii), *fill, *edge),
        Piece::Text {
            at,
            text: words,
            size,
            leftward,
        } => {
            let run = typeface.line(Weight::Regular, words);
            let [mut u, v] = single(*at);
            let [size, _] = single([*size, 0.0]);
            if *leftward {
                u -= run.width * size;
            }
            let style = Style {
                weight: Weight::Regular,
                size,
                colour: BLACK,
            };
            return text(surface, typeface, run, u, v, style);
        }
    };
    if let Some(path) = path {
        surface.set_fill(filled.map(fill));
        surface.set_stroke(edge.map(stroke));
        surface.draw_path(&path);
    }
}

/// An ellipse of four curves; the usual constant 4/3 (√2 − 1), off by at most 0.03 %.
fn ellipse(middle: [f64; 2], radii: [f64; 2]) -> Option<krilla::geom::Path> {
    const K: f32 = 0.552_284_8;
    let ([u, v], [ru, rv]) = (single(middle), single(radii));
    let mut path = PathBuilder::new();
    path.move_to(u + ru, v);
    path.cubic_to(u + ru, v + K * rv, u + K * ru, v + rv, u, v + rv);
    path.cubic_to(u - K * ru, v + rv, u - ru, v + K * rv, u - ru, v);
    path.cubic_to(u - ru, v - K * rv, u - K * ru, v - rv, u, v - rv);
    path.cubic_to(u + K * ru, v - rv, u + ru, v - K * rv, u + ru, v);
    path.close();
    path.finish()
}

fn fill([r, g, b]: Colour) -> Fill {
    Fill {
        paint: rgb::Color::new(r, g, b).into(),
        ..Fill::default()
    }
}

fn stroke(edge: Edge) -> Stroke {
    let [r, g, b] = edge.colour;
    Stroke {
        paint: rgb::Color::new(r, g, b).into(),
        width: single([edge.width, 0.0])[0],
        dash: edge.dash.map(|dash| StrokeDash {
            array: single(dash).to_vec(),
            offset: 0.0,
        }),
        ..Stroke::default()
    }
}
