//! The words of the measuring screens, in every language; a missing one does not compile.

mod en;
mod es;

use super::{Language, words};

words! {
    Measuring;
    stage setup kind from to
    touches enter take_back note undo
    why_other_side why_settles why_unread why_chosen why_taken_back why_meanwhile newer_stage all_read no_points no_setup no_stage
    how_height how_offset how_split how_span how_datum_span
    read_other_half fits suspect suspect_one_of waits unchecked
    far_off far_less read_again keep_it
    counts replaced_by set_aside_by recorded readings_of_stage none_yet
    plan side_view front_view exaggeration missing missing_axes tap_point overlay no_overlay
    length width_axis height_axis trust_it stop_trusting rename set_aside because_prompt
    findings_empty nothing_out
    bent one_of one_wrong error_about slip cause pull next cannot_tell difference
    chance tolerance_line spread suspect_says trust_says conflict_says
    field_label field_vin field_impact field_place field_place_spread field_carrier field_mirror
    field_plumb field_laser field_stands field_stage_kind stage_kind field_load field_level_check field_plumb_check sheet_choice
    pull_tab
    pull_order over watch watch_why
    watch_more unwatch pull_empty begin_load begin_released since nearer further across
    real_move noise_move all_stages now stages_empty pull_safety
    keep_value or note_prompt move_points moving
    entry_empty entry_not_a_number entry_too_long
    no_distance no_length needs_reason not_in_book
    trust_nothing trust_away trust_middle trust_look trust_unknown trust_these trust_others
    pull_choose
}

/// The words of the measuring screens.
pub(super) fn words(language: Language) -> &'static Measuring {
    match language {
        Language::English => &en::WORDS,
        Language::Spanish => &es::WORDS,
    }
}
