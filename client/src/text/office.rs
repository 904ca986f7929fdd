//! The words of sign-off, sharing, the owner's desk and the adjuster's page, in every language; a
//! missing one does not compile.

mod en;
mod es;

use super::{Language, words};

words! {
    Office;
    sign_title sign_why sign signing signed_code sign_offline sign_not_shared sign_changed sign_seen sign_not_here
    sign_no_key sign_refused sign_done still_open open_outside open_unproven open_unread unread_title open_suspects open_tools
    open_nothing suspects_open level_beam plumb_beam checked_on never_checked no_day signatures
    signatures_none signatures_none_yet signatures_later signed_by countersigned_by countersign
    code since_nothing since_one since_many since_entries since_entry since_unknown link_title
    link_why link_for link_days days link_make link_once links_later links_none links_none_at_all copy copied
    not_copied revoke revoked_on ran_out_on good_until never_opened last_opened made_by follow_live
    follow_lost follow_ended follow_ended_why follow_why desk_signed desk_links desk_log
    rule_title rule_two_people rule_on rule_off not_signed not_countersigned entries_since
    entry_since new_people left_on make_owner make_technician reset_make reset_why reset_title
    reset_text remove remove_sure devices_why device_sure this_device last_seen with_key log_why log_change log_changes log_none log_older
    log_head log_head_why job person kind all_jobs all_people all_kinds kind_shop kind_job
    kind_changes kind_refused kind_signed kind_countersigned kind_sheet kind_published kind_withdrawn kind_invited kind_joined
    kind_role kind_removed kind_reset kind_password kind_rule kind_device kind_device_gone
    kind_link kind_link_gone kind_signed_in kind_failed kind_reused kind_other
    reading_one reading_many open_suspect open_tool suspect_open open_unjudged open_none_judged
    sign_nothing sign_sure_one sign_sure_many sign_anyway sign_again follow_ended_none
    invite_technician invite_technician_why invite_owner invite_owner_why
}

/// The words of sign-off, sharing and the owner's desk.
pub(super) fn words(language: Language) -> &'static Office {
    match language {
        Language::English => &en::WORDS,
        Language::Spanish => &es::WORDS,
    }
}
