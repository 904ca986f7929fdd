//! A document as the screen shows it, read once for each state of it.

use std::sync::Arc;

use automerge::ChangeHash;
use shared::book::{self, Photo};
use shared::finding::Finding;
use shared::job::Job;

use super::Held;

/// A document as the screen shows it.
#[derive(Debug, Clone)]
pub struct View {
    /// The car.
    pub job: Arc<Job>,
    /// Its photos, hidden ones included.
    pub photos: Arc<Vec<Photo>>,
    /// What is worth saying about the document.
    pub findings: Arc<Vec<Finding>>,
}

/// A view with the heads that it shows.
pub(super) type Seen = (Vec<ChangeHash>, View);

impl Held {
    /// The document as it stands. Reading it costs most of what a reading costs, so what is shown,
    /// listed and counted of one state of it shares one view.
    #[must_use]
    pub fn view(&self) -> View {
        let heads = self.doc.get_heads();
        let mut seen = self.seen.borrow_mut();
        if let Some((_, view)) = seen.as_ref().filter(|(of, _)| *of == heads) {
            return view.clone();
        }
        let (job, mut findings) = book::read(&self.doc);
        let (photos, broken) = book::photos(&self.doc);
        findings.extend(broken);
        let view = View {
            job: Arc::new(job),
            photos: Arc::new(photos),
            findings: Arc::new(findings),
        };
        *seen = Some((heads, view.clone()));
        view
    }
}
