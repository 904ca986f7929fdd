//! Causes, pulls, modes, movements and next readings in words.

use super::page::Page;
use super::point;
use super::stages::label;
use crate::job::Job;
use crate::result::{JobResult, ModeKind, NextReading, Section, StageResult};
use crate::solve::{member, way};

pub(super) fn causes(page: &mut Page, job: &Job, stage: &StageResult) {
    if stage.causes.is_empty() {
        return;
    }
    page.gap();
    page.line("Likely cause, strongest first");
    for cause in &stage.causes {
        page.line(format_args!("  {}", first_letter_up(&cause.says)));
        for (id, shift) in cause.predicts.iter().take(4) {
            let ways: Vec<String> = (0..3)
                .filter_map(|axis| shift[axis].map(|shift| way(axis, shift)))
                .collect();
            page.line(format_args!(
                "    not read, expected: {} {}",
                point(job, id),
                ways.join(", ")
            ));
        }
    }
}

pub(super) fn pulls(page: &mut Page, job: &Job, stage: &StageResult) {
    if stage.pulls.is_empty() {
        return;
    }
    page.gap();
    page.line("Pull, in this order (chains restrained, nobody in line)");
    for pull in &stage.pulls {
        let ways: Vec<String> = (0..3)
            .filter_map(|axis| pull.move_mm[axis].map(|needed| way(axis, needed)))
            .collect();
        page.line(format_args!(
            "  {}. {}: {}",
            pull.order,
            member(job, &pull.member),
            ways.join(", ")
        ));
        let over: Vec<String> = (0..3)
            .filter_map(|axis| pull.overpull_mm[axis].map(|over| way(axis, over)))
            .collect();
        if !over.is_empty() {
            page.line(format_args!(
                "     and for what springs back, as in this job's own pulls: {}",
                over.join(", ")
            ));
        }
        let watch: Vec<String> = pull.watch.iter().map(|id| point(job, id)).collect();
        page.line(format_args!("     watch {}", watch.join("; ")));
    }
}

pub(super) fn modes(page: &mut Page, stage: &StageResult) {
    let significant: Vec<_> = stage.modes.iter().filter(|mode| mode.significant).collect();
    if significant.is_empty() {
        return;
    }
    page.gap();
    page.line("Modes beyond their spread");
    for mode in significant {
        page.line(format_args!(
            "  {} {} at x {:.0} mm: {:+.1} mm (± {:.1})",
            section(mode.section),
            word(mode.mode),
            mode.x_mm,
            mode.value_mm,
            mode.sigma_mm
        ));
    }
}

pub(super) fn changes(page: &mut Page, job: &Job, result: &JobResult, stage: &StageResult) {
    let called = |id: &crate::ids::StageId| {
        let known = job.stages.iter().find(|stage| &stage.id == id);
        known.map_or(id.as_str(), label).to_owned()
    };
    let mut changes = result
        .changes
        .iter()
        .filter(|change| change.to == stage.id && change.real.contains(&Some(true)))
        .peekable();
    if let Some(first) = changes.peek() {
        page.gap();
        page.line(format_args!(
            "Moved since {}, beyond its spread",
            called(&first.from)
        ));
    }
    for change in changes {
        let ways: Vec<String> = (0..3)
            .filter(|&axis| change.real[axis] == Some(true))
            .filter_map(|axis| {
                let (moved, sigma) = change.move_mm[axis].zip(change.sigma_mm[axis])?;
                Some(format!("{} (± {sigma:.1})", way(axis, moved)))
            })
            .collect();
        page.line(format_args!(
            "  {}: {}",
            point(job, &change.point),
            ways.join(", ")
        ));
    }
}

/// `height of strut tower, rear bolt (left), set-up rear: …`.
pub(super) fn next(job: &Job, next: &NextReading) -> String {
    let to = next
        .to
        .as_ref()
        .map(|to| format!(" to {}", point(job, to)))
        .unwrap_or_default();
    let setup = next
        .setup
        .as_ref()
        .map(|setup| format!(", set-up {setup}"))
        .unwrap_or_default();
    let kind = next.kind.replace('_', " ");
    format!(
        "{kind} of {}{to}{setup}: {}",
        point(job, &next.point),
        next.why
    )
}

fn first_letter_up(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        std::iter::once(first.to_ascii_uppercase())
            .chain(letters)
            .collect()
    })
}

fn section(section: Section) -> &'static str {
    match section {
        Section::Front => "front",
        Section::Centre => "centre",
        Section::Rear => "rear",
    }
}

fn word(mode: ModeKind) -> &'static str {
    match mode {
        ModeKind::Mash => "mash",
        ModeKind::Diamond => "diamond",
        ModeKind::Sidesway => "sidesway",
        ModeKind::Spread => "spread",
        ModeKind::Sag => "sag",
        ModeKind::Twist => "twist",
    }
}
