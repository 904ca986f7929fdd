//! What does not fit: suspects and references, each group of rows that cannot be told apart once.

use std::collections::BTreeSet;

use super::page::Page;
use super::{point, reading, tables};
use crate::ids::PointId;
use crate::job::{Job, Reading};
use crate::result::{Difference, JobResult, Suspect};

/// Differences that are said of one suspect.
const DIFFERENCES: usize = 2;

pub(super) fn doubts(page: &mut Page, job: &Job, result: &JobResult) {
    let mut groups = Groups {
        job,
        result,
        said: Vec::new(),
    };
    if !result.suspects.is_empty() {
        page.gap();
        page.line("Readings that the others contradict (they do not count until a person decides)");
    }
    for suspect in &result.suspects {
        page.line(format_args!("  ? {}", groups.row(suspect.reading.as_str())));
        page.line(format_args!(
            "      off by about {:+.1} mm (± {:.1}){}",
            suspect.error_mm,
            suspect.sigma_mm,
            slip(suspect)
        ));
        groups.say(page, &suspect.one_of);
        for difference in suspect.difference.iter().take(DIFFERENCES) {
            page.line(format_args!(
                "      leaving {} out changes {}",
                suspect.reading,
                change(job, difference)
            ));
        }
    }
    let bent: Vec<_> = result.trust.iter().filter(|test| !test.fits).collect();
    if !bent.is_empty() {
        page.gap();
        page.line("References that do not fit (bent, or misread)");
    }
    for test in bent {
        let size = test
            .error_mm
            .map(|error| format!(" by about {:.1} mm", error.abs()))
            .unwrap_or_default();
        page.line(format_args!(
            "  ? {}: {} does not fit{size}",
            points(job, &test.points),
            axis_word(&test.axis)
        ));
        groups.say(page, &test.one_of);
    }
    corrections(page, job);
}

fn slip(suspect: &Suspect) -> String {
    let words = suspect.slip.as_ref();
    words
        .map(|slip| format!("; likely: {slip}"))
        .unwrap_or_default()
}

/// `strut tower, rear bolt: middle right by +21.9 mm, pull 1`.
fn change(job: &Job, difference: &Difference) -> String {
    let stage = job.stages.iter().find(|s| s.id == difference.stage);
    let stage = stage.filter(|_| job.stages.len() > 1);
    let stage = stage.map(|stage| format!(", {}", super::stages::label(stage)));
    format!(
        "{} by {:+.1} mm{}",
        tables::quantity(job, &difference.quantity),
        difference.change_mm,
        stage.unwrap_or_default()
    )
}

fn points(job: &Job, ids: &[PointId]) -> String {
    let names: Vec<String> = ids.iter().map(|id| point(job, id)).collect();
    names.join(" / ")
}

fn axis_word(axis: &str) -> &'static str {
    match axis {
        "x" => "length",
        "y" => "width",
        _ => "height",
    }
}

/// Groups of rows of which one is wrong, and which have been listed.
struct Groups<'a> {
    job: &'a Job,
    result: &'a JobResult,
    said: Vec<(BTreeSet<String>, String)>,
}

impl Groups<'_> {
    fn say(&mut self, page: &mut Page, one_of: &[String]) {
        let group: BTreeSet<String> = one_of.iter().cloned().collect();
        let Some(first) = one_of.first().filter(|_| group.len() > 1) else {
            return;
        };
        if let Some((_, head)) = self.said.iter().find(|(said, _)| *said == group) {
            page.line(format_args!(
                "      it is one of the group of {head} above, of which one is wrong"
            ));
            return;
        }
        page.line(
            "      one of these is wrong, the readings cannot tell which (none of them counts):",
        );
        for name in one_of {
            page.line(format_args!("        - {}", self.row(name)));
        }
        let head = self.head(first);
        self.said.push((group, head));
    }

    fn reading(&self, name: &str) -> Option<&Reading> {
        self.job.readings.iter().find(|r| r.id.as_str() == name)
    }

    /// A row of a group: a reading by its id, or trust by its points and axis.
    fn row(&self, name: &str) -> String {
        match self.reading(name) {
            Some(found) => reading(self.job, found),
            None => self.trust(name),
        }
    }

    /// What a group is called further down.
    fn head(&self, name: &str) -> String {
        match self.reading(name) {
            Some(found) => found.id.to_string(),
            None => self.trust(name),
        }
    }

    fn trust(&self, name: &str) -> String {
        let test = self.result.trust.iter().find(|test| {
            let ids: Vec<&str> = test.points.iter().map(PointId::as_str).collect();
            format!("{} {}", ids.join("/"), test.axis) == name
        });
        match test {
            Some(test) => format!(
                "the trust in {}, {}",
                points(self.job, &test.points),
                axis_word(&test.axis)
            ),
            None => format!("the trust in {name}"),
        }
    }
}

/// Two people may correct the same reading without knowing of each other; both corrections count.
fn corrections(page: &mut Page, job: &Job) {
    let twice: Vec<_> = job.corrected_twice().collect();
    if !twice.is_empty() {
        page.gap();
        page.line("Readings with more than one correction (all corrections count; set aside what is wrong)");
    }
    for (corrected, by) in twice {
        let names: Vec<&str> = by.iter().map(|r| r.id.as_str()).collect();
        page.line(format_args!(
            "  ? {}: corrected by {}",
            reading(job, corrected),
            names.join(", ")
        ));
    }
}
