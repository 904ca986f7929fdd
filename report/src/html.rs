//! The report as a page to print: one file, no script, nothing from elsewhere.
//!
//! Every text is escaped; drawings are SVG; photos are inside. This file refuses to know what any of
//! it means.

use std::fmt::Write as _;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

use crate::Photo;
use crate::model::{Block, Cell, Drawing, Line, Paper, PhotoText, Report, Table};
use crate::shapes::{Colour, Edge, Piece, mark, pieces};

/// Rules for the paper and the screen; the app adopts the same for its own page.
#[must_use]
pub fn style(report: &Report) -> String {
    let (title, job, made) = (
        css_text(&report.title),
        css_text(&report.job),
        css_text(&report.made),
    );
    let mut page = report.page.split("{}");
    let mut word = || css_text(page.next().unwrap_or_default());
    let (before, between, after) = (word(), word(), word());
    let foot = css_text(report.foot);
    format!(
        "@page {{ size: {size}; margin: 20mm 15mm 18mm; \
         @top-left {{ content: {job}; font: 8pt sans-serif; }} \
         @top-right {{ content: {title}; font: 8pt sans-serif; }} \
         @bottom-left {{ content: {made} \" · \" {foot}; font: 7pt sans-serif; }} \
         @bottom-right {{ content: {before} counter(page) {between} counter(pages) {after}; font: 8pt sans-serif; }} }}\n\
         {STYLE}",
        size = report.paper.name(),
    )
}

const STYLE: &str = include_str!("report.css");

/// The whole page, with its style inside.
#[must_use]
pub fn page(report: &Report) -> String {
    let mut out = String::with_capacity(64 * 1024);
    let language = report.language.code();
    let title = format!("{} · {}", report.title, report.job);
    out.push_str("<!DOCTYPE html>\n<html lang=\"");
    out.push_str(language);
    out.push_str("\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><title>");
    escape(&mut out, &title);
    out.push_str("</title><style>\n");
    out.push_str(&style(report));
    out.push_str("</style></head><body>\n");
    out.push_str(&body(report));
    out.push_str("</body></html>\n");
    out
}

/// What stands in the page's body: one `article`.
#[must_use]
pub fn body(report: &Report) -> String {
    let mut out = String::with_capacity(64 * 1024);
    let paper = match report.paper {
        Paper::A4 => "a4",
        Paper::Letter => "letter",
    };
    let language = report.language.code();
    // Writing into a text cannot fail, here and below.
    let _ = write!(
        out,
        "<article class=\"report {paper}\" lang=\"{language}\">"
    );
    element(&mut out, "h1", &report.title);
    for section in &report.sections {
        out.push_str("<section>");
        if !section.title.is_empty() {
            element(&mut out, "h2", &section.title);
        }
        for item in &section.blocks {
            block(&mut out, report, item);
        }
        out.push_str("</section>\n");
    }
    let _ = write!(out, "<footer>");
    escape(&mut out, &format!("{} · {}", report.job, report.made));
    out.push_str("</footer></article>");
    out
}

fn block(out: &mut String, report: &Report, block: &Block) {
    match block {
        Block::Heading(text) => element(out, "h3", text),
        Block::Paragraph(text) => element(out, "p", text),
        Block::Note(text) => {
            out.push_str("<p class=\"note\">");
            escape(out, text);
            out.push_str("</p>");
        }
        Block::Facts(facts) => {
            out.push_str("<dl>");
            for [name, value] in facts {
                element(out, "dt", name);
                element(out, "dd", value);
            }
            out.push_str("</dl>");
        }
        Block::Lines(lines) => {
            out.push_str("<ul>");
            lines.iter().for_each(|item| line(out, report, item));
            out.push_str("</ul>");
        }
        Block::Table(of) => table(out, report, of),
        Block::Drawings(drawings) => {
            out.push_str("<div class=\"drawings\">");
            drawings.iter().for_each(|one| drawing(out, one));
            out.push_str("</div>");
        }
        Block::Photo(of, text) => photo(out, of, text),
    }
}

fn line(out: &mut String, report: &Report, line: &Line) {
    out.push_str("<li>");
    if let Some(verdict) = line.mark {
        mark_of(out, verdict);
        out.push_str("<b>");
        escape(out, report.verdict(verdict));
        out.push_str("</b> · ");
    }
    escape(out, &line.text);
    for more in &line.more {
        out.push_str("<small>");
        escape(out, more);
        out.push_str("</small>");
    }
    out.push_str("</li>");
}

fn table(out: &mut String, report: &Report, table: &Table) {
    let whole: f32 = table.columns.iter().map(|(_, share)| share).sum();
    out.push_str("<table><colgroup>");
    for (_, share) in &table.columns {
        // An attribute of its own, not a style: pages that forbid inline styles show it as well.
        let _ = write!(out, "<col width=\"{:.1}%\">", share / whole * 100.0);
    }
    out.push_str("</colgroup>");
    if table.columns.iter().any(|(name, _)| !name.is_empty()) {
        out.push_str("<thead><tr>");
        for (name, _) in &table.columns {
            out.push_str("<th scope=\"col\">");
            escape(out, name);
            out.push_str("</th>");
        }
        out.push_str("</tr></thead>");
    }
    out.push_str("<tbody>");
    for row in &table.rows {
        out.push_str("<tr>");
        row.iter().for_each(|item| cell(out, report, item));
        out.push_str("</tr>");
    }
    out.push_str("</tbody></table>");
}

fn cell(out: &mut String, report: &Report, cell: &Cell) {
    out.push_str("<td>");
    match cell.mark {
        None => escape(out, &cell.text),
        Some(verdict) => {
            mark_of(out, verdict);
            escape(out, &cell.text);
            out.push_str(" <i>");
            escape(out, report.verdict(verdict));
            out.push_str("</i>");
        }
    }
    out.push_str("</td>");
}

fn mark_of(out: &mut String, verdict: shared::verdict::Verdict) {
    out.push_str("<svg class=\"verdict\" viewBox=\"0 0 24 24\" width=\"12\" height=\"12\" aria-hidden=\"true\">");
    piece(out, &mark(verdict, [12.0, 12.0], 8.0));
    out.push_str("</svg> ");
}

fn drawing(out: &mut String, drawing: &Drawing) {
    let w = drawing.window;
    let _ = write!(
        out,
        "<figure><svg viewBox=\"{:.1} {:.1} {:.1} {:.1}\" role=\"img\"><title>",
        w.u, w.v, w.width, w.height
    );
    escape(out, &drawing.title);
    out.push_str("</title>");
    pieces(drawing).iter().for_each(|one| piece(out, one));
    out.push_str("</svg>");
    element(out, "figcaption", &drawing.title);
    out.push_str("</figure>");
}

fn piece(out: &mut String, piece: &Piece) {
    match piece {
        Piece::Line {
            through,
            fill,
            edge,
        } => {
            let name = if fill.is_some() {
                "polygon"
            } else {
                "polyline"
            };
            let _ = write!(out, "<{name} points=\"");
            for [u, v] in through {
                let _ = write!(out, "{u:.1},{v:.1} ");
            }
            let _ = write!(out, "\"{}{}/>", filled(*fill), edged(Some(*edge)));
        }
        Piece::Ellipse {
            middle: [u, v],
            radii: [ru, rv],
            fill,
            edge,
        } => {
            let _ = write!(
                out,
                "<ellipse cx=\"{u:.1}\" cy=\"{v:.1}\" rx=\"{ru:.2}\" ry=\"{rv:.2}\"{}{}/>",
                filled(*fill),
                edged(*edge)
            );
        }
        Piece::Text {
            at: [u, v],
            text,
            size,
            leftward,
        } => {
            let anchor = if *leftward { "end" } else { "start" };
            let _ = write!(
                out,
                "<text x=\"{u:.1}\" y=\"{v:.1}\" font-size=\"{size:.1}\" text-anchor=\"{anchor}\">"
            );
            escape(out, text);
            out.push_str("</text>");
        }
    }
}

fn filled(fill: Option<Colour>) -> String {
    fill.map_or_else(
        || " fill=\"none\"".to_owned(),
        |colour| format!(" fill=\"{}\"", hex(colour)),
    )
}

fn edged(edge: Option<Edge>) -> String {
    let Some(edge) = edge else {
        return String::new();
    };
    let dash = edge
        .dash
        .map(|[dash, gap]| format!(" stroke-dasharray=\"{dash:.2} {gap:.2}\""))
        .unwrap_or_default();
    format!(
        " stroke=\"{}\" stroke-width=\"{:.2}\"{dash}",
        hex(edge.colour),
        edge.width
    )
}

fn hex([r, g, b]: Colour) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

fn photo(out: &mut String, photo: &Photo, text: &PhotoText) {
    out.push_str("<figure class=\"photo\">");
    let kind = match photo.bytes.as_slice() {
        [0xff, 0xd8, 0xff, ..] => Some("jpeg"),
        [0x89, b'P', b'N', b'G', ..] => Some("png"),
        _ => None,
    };
    match kind {
        Some(kind) => {
            let _ = write!(
                out,
                "<img src=\"data:image/{kind};base64,{}\" alt=\"",
                STANDARD.encode(photo.bytes.as_slice())
            );
            escape(out, &text.caption);
            out.push_str("\">");
        }
        None => element(out, "p", text.unreadable),
    }
    out.push_str("<figcaption>");
    escape(out, &text.caption);
    out.push_str("<small>");
    escape(out, &text.digest);
    out.push_str("</small></figcaption></figure>");
}

fn element(out: &mut String, name: &str, text: &str) {
    let _ = write!(out, "<{name}>");
    escape(out, text);
    let _ = write!(out, "</{name}>");
}

/// A text in HTML, in an attribute or between elements.
fn escape(out: &mut String, text: &str) {
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
}

/// A text as a string of CSS (CSS Syntax 3, 4.3.5): what could end it or escape is written by number.
fn css_text(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' | '<' => {
                let _ = write!(out, "\\{:x} ", u32::from(c));
            }
            c if c.is_control() => {
                let _ = write!(out, "\\{:x} ", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}
