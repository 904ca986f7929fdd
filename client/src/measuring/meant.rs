//! What a person meant, in a few words: for entries that wait, and for those that could not be
//! written.

use shared::book::Intention;
use shared::ids::{PointId, ReadingId};
use shared::job::Job;

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
            Intention::AddPoint { point, .. } => said(words.meant_point, &point.label),
            Intention::RenamePoint { label, .. } => said(words.meant_point, label),
            Intention::PlacePoint { id, .. }
            | Intention::TrustPoint { id, .. }
            | Intention::PairPoints { left: id, .. }
            | Intention::CarryPoint { id, .. } => point(id),
            Intention::AddMember { member, .. } => said(words.meant_member, &member.label),
            Intention::AddTool { tool, .. } => said(words.meant_tool, &tool.label),
            Intention::AddSetup { setup, .. } => said(self.measuring.setup, &setup.label),
            Intention::BeginStage { stage } => said(self.measuring.stage, &stage.label),
            Intention::AddPhoto { photo } => said(words.meant_photo, &photo.caption),
            Intention::StrikePhoto { why, .. } => said(words.meant_photo_hidden, why),
            Intention::SetRule { .. } => words.meant_rule.to_owned(),
            Intention::PinSheet { .. } => words.meant_sheet.to_owned(),
            Intention::TakeOverJob { job } => said(words.import_job, &job.card.number),
            Intention::ChooseValue { value, .. } => said(self.measuring.keep_value, value),
        }
    }

    fn with_reason(self, job: &Job, id: &ReadingId, why: &str) -> String {
        let reading = job.readings.iter().find(|reading| reading.id == *id);
        let reading = reading.map(|reading| self.reading(job, reading));
        format!("{} ({why})", reading.unwrap_or_else(|| id.to_string()))
    }
}
