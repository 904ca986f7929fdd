//! What a person meant, in a few words: for entries that wait, and for those that could not be
//! written.

use shared::book::{Intention, SetupPart, StagePart};
use shared::ids::{PointId, ReadingId};
use shared::job::Job;

use super::conflict;
use super::sentences::Voice;

impl Voice {
    /// `span · strut tower · left → strut tower · right · 1150.0 mm`, `point: strut tower`.
    #[must_use]
    pub fn meant(self, job: &Job, intention: &Intention) -> String {
        let words = self.words;
        let said = |what: &str, of: &str| match of.is_empty() {
            true => what.to_owned(),
            false => format!("{what}: {of}"),
        };
        let point = |id: &PointId| said(words.meant_point, &self.point(job, id));
        match intention {
            Intention::RecordReading { reading } => self.reading(job, reading),
            Intention::SetReadingAside { reading, why } => {
                said(words.meant_aside, &self.with_reason(job, reading, why))
            }
            Intention::BringReadingBack { reading, why } => {
                said(words.meant_back, &self.with_reason(job, reading, why))
            }
            Intention::WriteNote { text, .. } => said(words.meant_note, text),
            Intention::DescribeJob { card } => said(
                words.rename_job,
                &format!("{} {}", card.number, card.vehicle),
            ),
            Intention::AddPoint { point, .. } => said(
                words.meant_point,
                &self.on_side(&point.label, Some(point.side)),
            ),
            Intention::RenamePoint { id, label } => {
                let side = job.points.get(id).map(|point| point.side);
                said(words.meant_point, &self.on_side(label, side))
            }
            Intention::PlacePoint { id, .. }
            | Intention::TrustPoint { id, .. }
            | Intention::PairPoints { left: id, .. }
            | Intention::CarryPoint { id, .. } => point(id),
            Intention::AddMember { member, .. } => said(words.meant_member, &member.label),
            Intention::AddTool { tool, .. } => said(words.meant_tool, &tool.label),
            Intention::AddSetup { setup, .. } => said(self.measuring.setup, &setup.label),
            Intention::BeginStage { stage } => said(self.measuring.stage, &stage.label),
            Intention::DescribeSetup { id, says } => {
                let new = says.iter().find_map(|part| match part {
                    SetupPart::Label(label) => Some(label),
                    _ => None,
                });
                let known = || Some(&job.setups.get(id)?.label);
                let label = new.or_else(known).map_or("", String::as_str);
                said(self.measuring.setup, label)
            }
            Intention::DescribeStage { id, says } => {
                let new = says.iter().find_map(|part| match part {
                    StagePart::Label(label) => Some(label),
                    StagePart::Kind(..) => None,
                });
                let known = job.stages.iter().find(|stage| stage.id == *id);
                let label = new.or(known.map(|stage| &stage.label));
                said(self.measuring.stage, label.map_or("", String::as_str))
            }
            Intention::AddPhoto { photo } => said(words.meant_photo, &photo.caption),
            Intention::StrikePhoto { why, .. } => said(words.meant_photo_hidden, why),
            Intention::SetRule { .. } => words.meant_rule.to_owned(),
            Intention::PinSheet { .. } => words.meant_sheet.to_owned(),
            Intention::TakeOverJob { job } => said(words.import_job, &job.card.number),
            Intention::ChooseValue { subject, value } => said(
                self.measuring.keep_value,
                &conflict::shown(self, job, subject, value),
            ),
        }
    }

    fn with_reason(self, job: &Job, id: &ReadingId, why: &str) -> String {
        let reading = job.readings.iter().find(|reading| reading.id == *id);
        let reading = reading.map(|reading| self.reading(job, reading));
        format!(
            "{} ({})",
            reading.unwrap_or_else(|| id.to_string()),
            self.why_aside(why)
        )
    }
}

#[cfg(test)]
mod tests {
    use shared::ids::{SetupId, StageId};
    use shared::job::{Load, Setup, Stage, StageKind};

    use super::*;
    use crate::measuring::figures::Figures;
    use crate::text::{Language, Speaks};

    #[test]
    fn what_is_said_of_a_set_up_or_a_stage_names_it() {
        let language = Language::English;
        let voice = Voice::of(language.words(), language.measuring(), Figures::default());
        let (setup, stage) = (SetupId::parse("s1").unwrap(), StageId::parse("p1").unwrap());
        let mut job = Job::default();
        let front = Setup {
            label: "front of bay".to_owned(),
            ..Setup::default()
        };
        job.setups.insert(setup.clone(), front);
        job.stages.push(Stage {
            id: stage.clone(),
            label: "pull 1".to_owned(),
            of: StageKind::Pull,
            load: Some(Load::Under),
        });
        let meant = |intention: Intention| voice.meant(&job, &intention);
        let of_setup = |says| Intention::DescribeSetup {
            id: setup.clone(),
            says,
        };
        let of_stage = |says| Intention::DescribeStage {
            id: stage.clone(),
            says,
        };
        let kind = StagePart::Kind(StageKind::Pull, Some(Load::Released));
        for (intention, ends) in [
            (of_setup(vec![SetupPart::Tool(None)]), ": front of bay"),
            (
                of_setup(vec![SetupPart::Label("by the door".to_owned())]),
                ": by the door",
            ),
            (of_stage(vec![kind]), ": pull 1"),
            (
                of_stage(vec![StagePart::Label("pull 2".to_owned())]),
                ": pull 2",
            ),
        ] {
            let says = meant(intention);
            assert!(says.ends_with(ends), "{says}");
        }
    }
}
