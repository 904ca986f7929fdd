//! What two people set differently, as a question in their own words.
//!
//! The book names a field by its path, as `points/tower-L/label`.

use shared::finding::Finding;
use shared::ids::PointId;
use shared::job::Job;
use shared::speech::fill;

use super::sentences::Voice;

/// The question, with all values.
#[must_use]
pub fn question(voice: Voice, job: &Job, finding: &Finding) -> String {
    let values = finding.values.iter();
    let values = values.map(|value| format!("‘{}’", shown(voice, &finding.subject, value)));
    let between = format!(" {} ", voice.measuring.or);
    let values = values.collect::<Vec<_>>().join(&between);
    let what = what(voice, job, &finding.subject);
    fill(voice.measuring.conflict_says, &[&what, &values])
}

/// A value as it is said.
#[must_use]
pub fn shown(voice: Voice, subject: &str, value: &str) -> String {
    match (subject.rsplit('/').next(), value) {
        (Some("trusted"), "true") => voice.words.trusted.to_owned(),
        (Some("trusted"), "false") => voice.words.not_trusted.to_owned(),
        _ => value.to_owned(),
    }
}

fn what(voice: Voice, job: &Job, subject: &str) -> String {
    let words = voice.words;
    let (first, rest) = subject.split_once('/').unwrap_or((subject, ""));
    let (record, field) = rest.rsplit_once('/').unwrap_or(("", rest));
    let field = match field {
        "label" => words.label,
        "trusted" => words.trusted,
        "number" => words.number,
        "vehicle" => words.vehicle,
        "vin" => words.vin,
        "impact" => words.impact,
        "side" => words.side,
        other => other,
    };
    let of = match first {
        "points" => PointId::parse(record).ok().map(|id| voice.point(job, &id)),
        "members" => record.parse().ok().map(|id| voice.member(job, &id)),
        "stages" => {
            let stages = job.stages.iter();
            let found = stages.into_iter().find(|stage| stage.id.as_str() == record);
            found.map(|stage| stage.label.clone())
        }
        "setups" => {
            let mut setups = job.setups.iter();
            let found = setups.find(|(id, _)| id.as_str() == record);
            found.map(|(_, setup)| format!("{} {}", voice.measuring.setup, setup.label))
        }
        "tools" => {
            let mut tools = job.tools.iter();
            let found = tools.find(|(id, _)| id.as_str() == record);
            found.map(|(_, tool)| tool.label.clone())
        }
        "job" | "settings" => None,
        _ => Some(subject.to_owned()),
    };
    match of {
        Some(of) if field.is_empty() || of == subject => of,
        Some(of) => format!("{of}, {field}"),
        None => field.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use shared::figures::Figures;
    use shared::finding::{FindingCode, Severity};

    use super::*;
    use crate::text::{Language, Speaks};

    #[test]
    fn both_values_and_a_question_in_words() {
        let (job, language) = (shared::demo::job(), Language::English);
        let voice = Voice::of(language.words(), language.measuring(), Figures::default());
        let ask = |subject: &str, values: [&str; 2]| {
            let finding = Finding {
                code: FindingCode::Conflict,
                severity: Severity::Ask,
                subject: subject.into(),
                values: values.map(str::to_owned).to_vec(),
            };
            question(voice, &job, &finding)
        };
        assert_eq!(
            ask("points/cowl-L/trusted", ["true", "false"]),
            "cowl, hinge bolt · left, trusted: two people set it differently, ‘trusted’ or ‘not trusted’. Which is right?"
        );
        assert_eq!(
            ask("job/number", ["1", "2"]),
            "Job number: two people set it differently, ‘1’ or ‘2’. Which is right?"
        );
        assert_eq!(
            ask("stages/as-received/label", ["a", "b"]),
            "as received, What it is: two people set it differently, ‘a’ or ‘b’. Which is right?"
        );
    }
}
