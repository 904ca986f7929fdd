//! Snapshots of an open document: a verified cache of its record.

use super::super::load::verified_snapshot;
use super::Document;

impl Document<'_> {
    pub(super) async fn snapshot_if_worth(&mut self) {
        if self.seq > self.snapshot_seq {
            self.snapshot().await;
        }
    }

    /// A snapshot is only a cache: when it fails, the record is still complete.
    pub(super) async fn snapshot(&mut self) {
        let seq = self.seq;
        let kept = async {
            let bytes = verified_snapshot(self.host.doc().clone()).await?;
            let now_ms = self.live.clock.now_ms();
            self.live
                .store
                .keep_snapshot(self.key, seq, bytes, now_ms)
                .await?;
            anyhow::Ok(())
        };
        match kept.await {
            Ok(()) => self.snapshot_seq = seq,
            Err(error) => {
                tracing::warn!(
                    doc = self.key.doc,
                    error = format!("{error:#}"),
                    "no snapshot"
                );
            }
        }
    }
}
