//! Where the others on this car are.

use shared::figures::{Figures, Language};
use shared::ids::PointId;
use shared::job::Job;
use shared::speech::Speech;

use crate::platform;
use crate::state::book::Book;
use crate::state::shelf::{HEARD_MS, Other};

/// Points at which others are. They say it in their own language.
pub(super) fn busy(book: Book, job: &Job) -> Vec<PointId> {
    let now = platform::now_ms();
    let others: Vec<Other> = book
        .others()
        .into_iter()
        .filter(|other| now - other.heard_ms < HEARD_MS)
        .collect();
    let is_there = |id: &&PointId| {
        let names = Language::ALL.map(|language| {
            let figures = Figures {
                language,
                ..Figures::default()
            };
            Speech::of(figures).point(job, id)
        });
        others.iter().any(|other| names.contains(&other.place))
    };
    match others.is_empty() {
        true => Vec::new(),
        false => job.points.keys().filter(is_there).cloned().collect(),
    }
}
