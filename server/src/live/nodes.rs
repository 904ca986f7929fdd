//! What other servers on the same database did, and what follows from it here.
//!
//! Notices make it quick; a look at the database after every gap, and from time to time, makes it
//! certain. Nothing here stops a server: without the database it tries again.

use std::sync::atomic::Ordering;
use std::time::Duration;

use tokio::time::{MissedTickBehavior, interval, sleep};

use super::{HeardBy, Live};
use crate::store::{DocKey, Heard, Notice, Revoked, StoreError, Wire};

/// Even without a notice, nothing stays unseen longer than this.
const LOOK_EVERY: Duration = Duration::from_secs(10);
/// A lost connection is tried again after this long.
const RETRY: Duration = Duration::from_secs(1);

impl Live {
    /// Begins to listen, until the server stops.
    ///
    /// # Errors
    /// When the other servers cannot be listened to.
    pub async fn attend(&self) -> Result<(), StoreError> {
        if let Some(wire) = self.store.wire().await? {
            let live = self.clone();
            self.listening.store(true, Ordering::Relaxed);
            self.spawn(async move { live.hear_others(wire).await });
            let live = self.clone();
            self.spawn(async move { live.carry_whispers().await });
        }
        let live = self.clone();
        self.spawn(async move { live.hear_own().await });
        let live = self.clone();
        self.spawn(async move { live.look_from_time_to_time().await });
        let live = self.clone();
        self.spawn(async move { live.project_in_rounds().await });
        Ok(())
    }

    async fn hear_others(&self, mut wire: Wire) {
        loop {
            while let Some(heard) = wire.next().await {
                self.follow(heard).await;
            }
            self.listening.store(false, Ordering::Relaxed);
            wire = self.listen_again().await;
            self.listening.store(true, Ordering::Relaxed);
            // What was told meanwhile is lost.
            self.follow(Heard::Gap).await;
        }
    }

    async fn listen_again(&self) -> Wire {
        loop {
            match self.store.wire().await {
                Ok(Some(wire)) => return wire,
                Ok(None) => {}
                Err(error) => tracing::warn!(%error, "other servers are not heard"),
            }
            sleep(RETRY).await;
        }
    }

    async fn hear_own(&self) {
        let mut own = self.store.own_notices();
        while let Some(heard) = own.next().await {
            self.follow(heard).await;
        }
    }

    async fn look_from_time_to_time(&self) {
        let mut pulse = interval(LOOK_EVERY);
        pulse.set_missed_tick_behavior(MissedTickBehavior::Delay);
        loop {
            pulse.tick().await;
            self.look().await;
        }
    }

    async fn follow(&self, heard: Heard) {
        match heard {
            Heard::Notice(_) => self.figures.heard.inc(),
            Heard::Gap => self.figures.gaps.inc(),
        };
        match heard {
            Heard::Notice(Notice::Moved { shop, doc, seq }) => {
                self.moved(&DocKey { shop, doc }, seq, HeardBy::Notice);
            }
            Heard::Notice(Notice::Revoked(Revoked { shop, whose })) => self.end(&shop, &whose),
            Heard::Notice(Notice::Presence(whisper)) => self.hear_whisper(whisper),
            Heard::Gap => self.look().await,
        }
    }

    /// Looks whether anything has changed that this server has not been told of.
    pub async fn look(&self) {
        let looked = async {
            for (key, seq) in self.store.sequences(&self.open_documents()).await? {
                self.moved(&key, seq, HeardBy::Look);
            }
            self.look_after_lines().await?;
            anyhow::Ok(self.look_for_old_rows().await?)
        };
        if let Err(error) = looked.await {
            tracing::warn!(
                error = format!("{error:#}"),
                "the database was not looked at"
            );
        }
    }
}
