//! What was outside and was not read again, in words.

use shared::job::Job;
use shared::speech::Unread;

use super::sentences::Voice;
use super::signed::stage_label;
use super::task::label;

/// What was outside and how far, with the stage that read it last.
#[must_use]
pub fn unread_line(voice: Voice, job: &Job, unread: &Unread) -> String {
    format!(
        "{}: {} {}, {}",
        label(job, &unread.left),
        voice.quantity(unread.quantity, &unread.judged),
        voice.doubt(&unread.judged),
        stage_label(job, &unread.since)
    )
}
