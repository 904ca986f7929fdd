//! Figures of the open books, counted where they come about.

use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::registry::Registry;
use shared::sync::gate::Refusal;

use super::latencies;

/// Upper ends of the buckets of a lag, in seconds: rows follow a book half a second later.
const LAG_S: [f64; 8] = [0.5, 1.0, 2.0, 5.0, 10.0, 30.0, 60.0, 300.0];

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Reason {
    reason: String,
}

/// What the open books count. Clones count together.
#[derive(Debug, Clone)]
pub struct LiveFigures {
    /// Batches that became part of a book.
    pub accepted: Counter,
    refused: Family<Reason, Counter>,
    /// Batches that could not be kept through no fault of theirs; they will be sent again.
    pub failed: Counter,
    /// Changes that became part of the record.
    pub changes: Counter,
    /// From the first word to the database until the batch is on disk.
    pub commit: Histogram,
    /// Notices that were heard of other servers and of this one.
    pub heard: Counter,
    /// Books that had moved on without a notice, found by looking.
    pub missed: Counter,
    /// Times that notices may have been lost.
    pub gaps: Counter,
    /// Books whose rows are due.
    pub due: Gauge,
    /// From a change to the rows that show it.
    pub lag: Histogram,
}

impl Default for LiveFigures {
    fn default() -> Self {
        Self {
            accepted: Counter::default(),
            refused: Family::default(),
            failed: Counter::default(),
            changes: Counter::default(),
            commit: latencies(),
            heard: Counter::default(),
            missed: Counter::default(),
            gaps: Counter::default(),
            due: Gauge::default(),
            lag: Histogram::new(LAG_S),
        }
    }
}

impl LiveFigures {
    /// Counts a refusal under its stable word, without its subject.
    pub fn refuse(&self, refusal: &Refusal) {
        let text = refusal.to_string();
        let word = text.split(' ').next().unwrap_or_default();
        let reason = Reason {
            reason: word.to_owned(),
        };
        self.refused.get_or_create(&reason).inc();
    }

    pub(super) fn register(&self, ours: &mut Registry) {
        let counters = [
            (
                "batches_accepted",
                "Batches that became part of a book",
                &self.accepted,
            ),
            (
                "batches_failed",
                "Batches that could not be kept",
                &self.failed,
            ),
            (
                "changes_written",
                "Changes written to the record",
                &self.changes,
            ),
            (
                "notices_heard",
                "Notices heard of other servers",
                &self.heard,
            ),
            (
                "notices_missed",
                "Books that had moved on without a notice",
                &self.missed,
            ),
            (
                "notice_gaps",
                "Times that notices may have been lost",
                &self.gaps,
            ),
        ];
        for (name, help, counter) in counters {
            ours.register(name, help, counter.clone());
        }
        ours.register(
            "batches_refused",
            "Batches refused by the gate, by reason",
            self.refused.clone(),
        );
        ours.register(
            "commit_duration_seconds",
            "From the first word to the database until a batch is on disk",
            self.commit.clone(),
        );
        ours.register(
            "projections_due",
            "Books whose rows for lists are due",
            self.due.clone(),
        );
        ours.register(
            "projection_lag_seconds",
            "From a change to the rows that show it",
            self.lag.clone(),
        );
    }
}
