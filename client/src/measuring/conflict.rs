//! What two people set differently, as a question in their own words.
//!
//! The book names a field by its path, as `points/tower-L/label`.

use shared::finding::Finding;
use shared::ids::{PointId, ToolId};
use shared::job::Job;
use shared::plain::plain;
use shared::speech::fill;

use super::sentences::Voice;

/// The question, with all values.
#[must_use]
pub fn question(voice: Voice, job: &Job, finding: &Finding) -> String {
    let values = choices(voice, job, finding).into_iter();
    let values = values.map(|value| format!("‘{value}’"));
    let between = format!(" {} ", voice.measuring.or);
    let values = values.collect::<Vec<_>>().join(&between);
    let what = what(voice, job, &finding.subject);
    fill(voice.measuring.conflict_says, &[&what, &values])
}

/// All values as they are said; as they stand in the book where two would read the same.
#[must_use]
pub fn choices(voice: Voice, job: &Job, finding: &Finding) -> Vec<String> {
    let Finding {
        subject, values, ..
    } = finding;
    let said: Vec<String> = values
        .iter()
        .map(|value| shown(voice, job, subject, value))
        .collect();
    let is_told_apart = |(place, text): (usize, &String)| !said[..place].contains(text);
    if said.iter().enumerate().all(is_told_apart) {
        return said;
    }
    values
        .iter()
        .map(|value| plain(value).into_owned())
        .collect()
}

/// A value as it is said; one that this app does not know as it stands in the book.
#[must_use]
pub fn shown(voice: Voice, job: &Job, subject: &str, value: &str) -> String {
    let words = voice.words;
    let named = |label: &str| (!label.trim().is_empty()).then(|| plain(label).into_owned());
    let known = match (field(subject), value) {
        ("trusted", "true") => Some(words.trusted.to_owned()),
        ("trusted", "false") => Some(words.not_trusted.to_owned()),
        ("side", "left") => Some(words.left.to_owned()),
        ("side", "right") => Some(words.right.to_owned()),
        ("side", "centre") => Some(words.centre.to_owned()),
        ("of", "as-received") => Some(words.of_as_received.to_owned()),
        ("of", "pull") => Some(words.of_pull.to_owned()),
        ("of", "final") => Some(words.of_final.to_owned()),
        ("load", "under") => Some(words.load_under.to_owned()),
        ("load", "released") => Some(words.load_released.to_owned()),
        ("plumb", "lengthwise") => Some(words.plumb_lengthwise.to_owned()),
        ("plumb", "crosswise") => Some(words.plumb_crosswise.to_owned()),
        ("impact", _) => impact(voice, value),
        ("level_check" | "plumb_check", _) => check(voice, value),
        ("sheet", _) => sheet(voice, value),
        ("place_mm" | "place_sigma_mm" | "stands_mm" | "tolerance_mm" | "build_spread_mm", _) => {
            lengths(voice, value)
        }
        ("mirror", id) => PointId::parse(id).ok().map(|id| voice.point(job, &id)),
        ("member" | "carried_by", ids) => {
            let ids = ids.split(", ");
            let labels = ids.map(|id| Some(voice.member(job, &id.parse().ok()?)));
            labels.collect::<Option<Vec<_>>>().map(|all| all.join(", "))
        }
        ("tool", id) => {
            let tool = ToolId::parse(id).ok().and_then(|id| job.tools.get(&id));
            tool.and_then(|tool| named(&tool.label))
        }
        _ => None,
    };
    known.unwrap_or_else(|| plain(value).into_owned())
}

fn field(subject: &str) -> &str {
    subject.rsplit('/').next().unwrap_or(subject)
}

/// `direction_deg 200.0, zone front-left`.
fn impact(voice: Voice, value: &str) -> Option<String> {
    let (direction, zone) = value
        .strip_prefix("direction_deg ")?
        .split_once(", zone ")?;
    let zone = serde_json::from_value(zone.into()).ok()?;
    let zone = voice.words.zone(zone);
    let direction: f64 = direction.parse().ok()?;
    Some(format!("{zone}, {}°", voice.figures.decimal(direction, 0)))
}

/// `at 2026-03-02T09:14:00Z, by Ana, mm_per_m 0.2, sigma_mm_per_m 0.05`: when, who, and what it found.
fn check(voice: Voice, value: &str) -> Option<String> {
    let (rest, _) = value
        .strip_prefix("at ")?
        .rsplit_once(", sigma_mm_per_m ")?;
    let (rest, slope) = rest.rsplit_once(", mm_per_m ")?;
    let (at, by) = rest.split_once(", by ")?;
    let day = at.split('T').next()?;
    let slope = voice.figures.decimal(slope.parse().ok()?, 2);
    Some(plain(&format!("{day} {by}: {slope} mm/m")).into_owned())
}

/// `points 24, revision 2, digest 0af31c77, name wagon`.
fn sheet(voice: Voice, value: &str) -> Option<String> {
    let (points, rest) = value.strip_prefix("points ")?.split_once(", revision ")?;
    let (revision, rest) = rest.split_once(", digest ")?;
    let (_, name) = rest.split_once(", name ")?;
    let text = fill(voice.measuring.sheet_choice, &[name, revision, points]);
    Some(plain(&text).into_owned())
}

/// `-60.0, -545.5, 840.0`.
fn lengths(voice: Voice, value: &str) -> Option<String> {
    let each = value.split(", ");
    let each = each.map(|number| Some(voice.figures.length(number.parse().ok()?)));
    each.collect::<Option<Vec<_>>>().map(|all| all.join(", "))
}

fn what(voice: Voice, job: &Job, subject: &str) -> String {
    let words = voice.words;
    let (first, rest) = subject.split_once('/').unwrap_or((subject, ""));
    let (record, field) = rest.rsplit_once('/').unwrap_or(("", rest));
    let measuring = voice.measuring;
    let field = match field {
        "label" => measuring.field_label,
        "trusted" => words.trusted,
        "number" => words.number,
        "vehicle" => words.vehicle,
        "vin" => measuring.field_vin,
        "impact" => measuring.field_impact,
        "side" => words.side,
        "place_mm" => measuring.field_place,
        "place_sigma_mm" => measuring.field_place_spread,
        "member" | "carried_by" => measuring.field_carrier,
        "mirror" => measuring.field_mirror,
        "plumb" => measuring.field_plumb,
        "tool" => measuring.field_laser,
        "stands_mm" => measuring.field_stands,
        "of" => measuring.field_stage_kind,
        "load" => measuring.field_load,
        "level_check" => measuring.field_level_check,
        "plumb_check" => measuring.field_plumb_check,
        "tolerance_mm" | "conformity" | "build_spread_mm" => words.meant_rule,
        "sheet" => words.dimension_sheet,
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
        "job" | "settings" | "sheet" => None,
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
            "as received, name: two people set it differently, ‘a’ or ‘b’. Which is right?"
        );
    }

    /// Two phones set everything that this app can set differently: each question is in words, and no
    /// value stands there as the book spells it.
    #[test]
    fn no_question_is_in_the_book_s_own_spelling() {
        let (mut job, language) = (shared::demo::job(), Language::English);
        let voice = Voice::of(language.words(), language.measuring(), Figures::default());
        let spelled = |text: &str| text.contains('_') || text.contains("as-received");
        let (point, setup) = ("cowl-L", job.setups.keys().next().unwrap().clone());
        let member = job.members.keys().next().unwrap().clone();
        let carrier = voice.member(&job, &member);
        assert_ne!(carrier, member.as_str());
        let laser = ToolId::parse("laser-7").unwrap();
        let of_laser = shared::job::Tool {
            kind: shared::job::ToolKind::Laser,
            label: "the green one".to_owned(),
            sigma_mm: 0.5,
            per_m_mm: 0.1,
            level_check: None,
            plumb_check: None,
        };
        job.tools.insert(laser.clone(), of_laser);
        let check = "at 2026-03-02T09:14:00Z, by Ana, mm_per_m 0.2, sigma_mm_per_m 0.05";
        for (subject, value, said) in [
            (
                format!("points/{point}/place_mm"),
                "-60.0, -545.5, 840.0",
                "545.5 mm",
            ),
            (format!("points/{point}/place_sigma_mm"), "50.0", "50.0 mm"),
            (
                format!("points/{point}/member"),
                member.as_str(),
                carrier.as_str(),
            ),
            (
                format!("points/{point}/mirror"),
                "cowl-R",
                "cowl, hinge bolt · right",
            ),
            (
                format!("setups/{setup}/label"),
                "by the door",
                "by the door",
            ),
            (
                format!("setups/{setup}/plumb"),
                "crosswise",
                "plumb beam crosswise",
            ),
            (format!("setups/{setup}/tool"), "laser-7", "the green one"),
            (
                format!("setups/{setup}/stands_mm"),
                "4200.0, 0.0",
                "4200.0 mm, 0.0 mm",
            ),
            (
                "stages/as-received/of".to_owned(),
                "as-received",
                "as received",
            ),
            ("stages/as-received/load".to_owned(), "under", "under load"),
            (
                "tools/laser-7/level_check".to_owned(),
                check,
                "2026-03-02 Ana: 0.20 mm/m",
            ),
            (
                "tools/laser-7/plumb_check".to_owned(),
                check,
                "2026-03-02 Ana: 0.20 mm/m",
            ),
            ("job/vin".to_owned(), "V1", "V1"),
            (
                "job/impact".to_owned(),
                "direction_deg 200.0, zone front-left",
                "front left, 200°",
            ),
            ("settings/tolerance_mm".to_owned(), "3.0", "3.0 mm"),
            (
                "sheet".to_owned(),
                "points 24, revision 2, digest 0af31c77, name wagon",
                "wagon, revision 2, points: 24",
            ),
        ] {
            let finding = Finding {
                code: FindingCode::Conflict,
                severity: Severity::Ask,
                subject: subject.clone(),
                values: vec![value.to_owned(), "other".to_owned()],
            };
            let question = question(voice, &job, &finding);
            let first = question.split("two people").next().unwrap();
            assert!(!spelled(first), "{question}");
            let shown = shown(voice, &job, &subject, value);
            assert!(
                !spelled(&shown) && shown.contains(said),
                "{subject}: {shown}"
            );
        }
    }

    #[test]
    fn values_that_would_read_the_same_stand_as_they_are_in_the_book() {
        let (job, language) = (shared::demo::job(), Language::English);
        let voice = Voice::of(language.words(), language.measuring(), Figures::default());
        let finding = |values: [&str; 2]| Finding {
            code: FindingCode::Conflict,
            severity: Severity::Ask,
            subject: "setups/front/stands_mm".into(),
            values: values.map(str::to_owned).to_vec(),
        };
        let of = |values| choices(voice, &job, &finding(values));
        assert_eq!(of(["10.0", "20.0"]), ["10.0 mm", "20.0 mm"]);
        assert_eq!(of(["10.01", "10.02"]), ["10.01", "10.02"]);
    }
}
