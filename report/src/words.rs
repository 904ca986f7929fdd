//! Every word of the report, in every language; a missing one does not compile.
//!
//! What the screens say as well is said in the same words.

mod en;
mod es;

use shared::figures::Language;
use shared::job::{Load, StageKind, ToolKind, Zone};
use shared::verdict::Verdict;

macro_rules! words {
    ($name:ident; $($field:ident)+) => {
        /// The words of one language, by what they are for.
        #[derive(Debug)]
        pub(crate) struct $name {
            $(pub(crate) $field: &'static str,)+
        }
    };
}

words! {
    Words;
    title page made_at shop number vehicle vin vin_looks_wrong body no_sheet sheet_revision sheet_digest impact state read_by
    no_words
    summary summary_none stage of_as_received of_pull of_final load_under load_released readings
    outside unproven within key_marks key_views key_numbers
    result result_of nothing_outside nothing_unproven outside_title unproven_title not_settled
    views views_key plan side_view front_view arrows
    table table_key before_after all_stages pair point quantity
    height_axis centre length width points_by_pairs
    causes no_cause cause_key
    doubts no_doubts suspects suspect_why slip one_of set_aside_title set_aside_by because
    replaced_title replaced_by bent_title trust_says cannot_title left_title left_why
    difference
    chance by
    method method_frame method_symmetry method_sheet method_fit method_rule method_build method_suspects fit_line fit_p fit_none
    trusted_points
    tools tool tool_kind uncertainty default_tool per_metre check_level check_plumb never_checked checked_by no_day
    kind_tape kind_scale kind_tram_bar kind_laser kind_device3d kind_other
    photos photos_none photos_key photo_unreadable photo_large photo_absent photo_hidden
    sign_offs sign_offs_none sign_offs_elsewhere signed_by countersigned_by code code_key signed_rule signed_aside
    since_nothing since_one since_many since_entry since_entries since_unknown
    safety safety_title safety_procedure safety_pull safety_stands safety_beam safety_law safety_report
    zone_front zone_front_left zone_front_right zone_left zone_right zone_rear zone_rear_left zone_rear_right zone_roof zone_underbody
    csv_reading csv_stage csv_kind csv_setup csv_from csv_to csv_side csv_value csv_origin csv_sigma csv_tool csv_by csv_at
    csv_entered csv_note csv_counts csv_set_aside csv_set_aside_by csv_replaces csv_x csv_y csv_z
    csv_value_of csv_spread csv_target csv_chance csv_verdict csv_tolerance csv_subject csv_quantity
    yes no
    unread_title unread_one unread_many key_cross
    reading_one reading_many aside_one aside_many suspect_one suspect_many left_one
}

impl Words {
    /// The words of a language.
    #[must_use]
    pub(crate) fn of(language: Language) -> &'static Self {
        match language {
            Language::English => &en::WORDS,
            Language::Spanish => &es::WORDS,
        }
    }

    /// The word of a verdict.
    #[must_use]
    pub(crate) fn verdict(&self, verdict: Verdict) -> &'static str {
        match verdict {
            Verdict::Within => self.within,
            Verdict::Outside => self.outside,
            Verdict::Unproven => self.unproven,
        }
    }

    /// Kind and load of a stage.
    #[must_use]
    pub(crate) fn stage_kind(&self, kind: StageKind, load: Option<Load>) -> String {
        let kind = match kind {
            StageKind::AsReceived => self.of_as_received,
            StageKind::Pull => self.of_pull,
            StageKind::Final => self.of_final,
        };
        match load {
            None => kind.to_owned(),
            Some(Load::Under) => format!("{kind}, {}", self.load_under),
            Some(Load::Released) => format!("{kind}, {}", self.load_released),
        }
    }

    /// Where the car was hit.
    #[must_use]
    pub(crate) fn zone(&self, zone: Zone) -> &'static str {
        match zone {
            Zone::Front => self.zone_front,
            Zone::FrontLeft => self.zone_front_left,
            Zone::FrontRight => self.zone_front_right,
            Zone::Left => self.zone_left,
            Zone::Right => self.zone_right,
            Zone::Rear => self.zone_rear,
            Zone::RearLeft => self.zone_rear_left,
            Zone::RearRight => self.zone_rear_right,
            Zone::Roof => self.zone_roof,
            Zone::Underbody => self.zone_underbody,
        }
    }

    /// The kind of a tool.
    #[must_use]
    pub(crate) fn tool(&self, kind: ToolKind) -> &'static str {
        match kind {
            ToolKind::Tape => self.kind_tape,
            ToolKind::Scale => self.kind_scale,
            ToolKind::TramBar => self.kind_tram_bar,
            ToolKind::Laser => self.kind_laser,
            ToolKind::Device3d => self.kind_device3d,
            ToolKind::Other => self.kind_other,
        }
    }

    /// The safety lines, in their order.
    #[must_use]
    pub(crate) fn safety_lines(&self) -> [&'static str; 7] {
        [
            self.safety,
            self.safety_procedure,
            self.safety_pull,
            self.safety_stands,
            self.safety_beam,
            self.safety_law,
            self.safety_report,
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_languages_have_the_same_places_for_values() {
        // The derived text names every field; its values follow in the same order.
        let places = |words: &Words| -> Vec<(String, usize)> {
            let text = format!("{words:#?}");
            let field = |line: &str| {
                let (name, value) = line.trim().split_once(": ")?;
                Some((name.to_owned(), value.matches("{}").count()))
            };
            text.lines().filter_map(field).collect()
        };
        let english = places(Words::of(Language::English));
        assert!(english.len() > 100, "{}", english.len());
        assert_eq!(english, places(Words::of(Language::Spanish)));
    }

    #[test]
    fn safety_is_said_as_on_the_screens_and_the_terminal() {
        let words = Words::of(Language::English);
        assert_eq!(words.safety_lines()[1..], shared::text::SAFETY);
    }
}
