//! What was outside and was not read again, in words.

use shared::job::Job;
use shared::speech::{Unread, UnreadOf};

use super::sentences::Voice;
use super::signed::stage_label;
use super::task::label;

/// What was outside and how far, with the stage that read it last.
#[must_use]
pub fn unread_line(voice: Voice, job: &Job, unread: &Unread) -> String {
    let name = match &unread.of {
        UnreadOf::Pair(left, _) => label(job, left).to_owned(),
        UnreadOf::Point(id, _) => voice.point(job, id),
    };
    format!(
        "{name}: {} {}, {}",
        voice.unread(unread),
        voice.doubt(&unread.judged),
        stage_label(job, &unread.since)
    )
}
