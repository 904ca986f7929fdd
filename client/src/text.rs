//! Every word of the shell, in every language; a missing one does not compile.
//!
//! The measuring screens keep their sentences beside this in files of their own.

mod en;
mod es;
pub mod desk;
pub mod laser;
pub mod library;
pub mod measuring;
pub mod new_job;
pub mod office;
pub mod photos;
pub mod practice;
pub mod report;

pub use shared::figures::Language;
use shared::job::Zone;

/// What the app says in a language.
pub trait Speaks {
    /// The words of the shell.
    fn words(self) -> &'static Words;
    /// The words of the measuring screens.
    fn measuring(self) -> &'static measuring::Measuring;
    /// The words of sign-off, sharing and the owner's desk.
    fn office(self) -> &'static office::Office;
    /// The words of a laser's checks.
    fn laser(self) -> &'static laser::Laser;
    /// The words of the dimension library.
    fn library(self) -> &'static library::Library;
    /// The words of the practice bay.
    fn practice(self) -> &'static practice::Practice;
    /// The words of a new job.
    fn new_job(self) -> &'static new_job::NewJob;
    /// The words around the report.
    fn report(self) -> &'static report::Report;
    /// The words of the photos' page.
    fn photos(self) -> &'static photos::Photos;
}

impl Speaks for Language {
    fn words(self) -> &'static Words {
        match self {
            Self::English => &en::WORDS,
            Self::Spanish => &es::WORDS,
        }
    }

    fn measuring(self) -> &'static measuring::Measuring {
        measuring::words(self)
    }

    fn office(self) -> &'static office::Office {
        office::words(self)
    }

    fn laser(self) -> &'static laser::Laser {
        laser::words(self)
    }

    fn library(self) -> &'static library::Library {
        library::words(self)
    }

    fn practice(self) -> &'static practice::Practice {
        practice::words(self)
    }

    fn new_job(self) -> &'static new_job::NewJob {
        new_job::words(self)
    }

    fn report(self) -> &'static report::Report {
        report::words(self)
    }

    fn photos(self) -> &'static photos::Photos {
        photos::words(self)
    }
}

macro_rules! words {
    ($name:ident; $($field:ident)+) => {
        /// The words of one language, by what they are for.
        #[derive(Debug)]
        #[expect(missing_docs, reason = "the names say it")]
        pub struct $name {
            $(pub $field: &'static str,)+
        }
    };
}
pub(crate) use words;

words! {
    Words;
    jobs jobs_empty new_job settings back save cancel close loading
    sign_in sign_out email password name shop password_hint sign_in_why sign_in_again
    set_up_title set_up_why join_title join_why create
    number vehicle vin body
    read body_tab findings more
    outside unproven within outside_count unproven_count within_count
    saved_here saving shared_all unshared offline signed_out online not_here
    language unit millimetres inches_decimal inches_fraction light light_auto light_day light_bay
    devices people owner technician
    points add_point trusted not_trusted trust_why label side left right centre rename
    stages begin_stage stage_label of_as_received of_pull of_final load_under load_released
    setups add_setup plumb_lengthwise plumb_crosswise plumb_none
    export_book export_job import_job choose_file export_left
    keep_storage storage_kept storage_not_kept
    error_offline error_credentials error_too_many error_link error_taken error_bad error_not_allowed error_internal error_last_owner
    not_saved_here not_saved_room not_saved_none not_saved_other not_read damaged damaged_whole damaged_gaps damaged_redone
    refused refused_left reason_record reason_actor try_again save_unshared
    waiting_title waiting_none waiting_some waiting_only_kept waiting_kept waiting_damaged waiting_again waiting_left waiting_sign_out of_all
    meant_point meant_member meant_tool meant_note meant_rule meant_sheet meant_aside meant_back
    unavailable edit_refused
    safety_title safety_procedure safety_pull safety_stands safety_beam safety_law safety_report
    rename_job on_it_now here_now
    photo photos photo_unshared photos_unshared photo_unreadable photo_not_saved meant_photo meant_photo_hidden
    owners_desk sign_and_share dimension_sheet
    new_version take_new_version later finish_first newer_book conflict_here practice_bay practice_mark truth_tab
    zone_front_left zone_front zone_front_right zone_left zone_right zone_rear_left zone_rear zone_rear_right zone_roof zone_underbody
    amend needs_name part_of part_unsaid setup_name beam_is_read
}

impl Words {
    /// Where the car was hit.
    #[must_use]
    pub fn zone(&self, zone: Zone) -> &'static str {
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
}
