//! How fast a line may talk: nobody waits for long because somebody else never stops.
//!
//! A line that talks faster is not heard until it is in time again; nothing of it is lost. Phones
//! stay far below: a person enters a reading in seconds, and what was written without signal goes in
//! one message.

use std::time::Duration;

use tokio::time::Instant;

/// Messages that may come at once.
const BURST: u32 = 300;
/// Afterwards one in this time.
const EACH: Duration = Duration::from_millis(5);

/// What a line has said so far, as time: each message takes its part of it.
#[derive(Debug, Clone, Copy)]
pub struct Pace {
    used_up_to: Instant,
}

impl Pace {
    /// A line that has said nothing.
    #[must_use]
    pub fn new(now: Instant) -> Self {
        Self { used_up_to: now }
    }

    /// A message has come.
    pub fn count(&mut self, now: Instant) {
        self.used_up_to = self.used_up_to.max(now) + EACH;
    }

    /// When the next one may come, if not at once.
    #[must_use]
    pub fn waits_until(&self, now: Instant) -> Option<Instant> {
        let next = self.used_up_to.checked_sub(BURST * EACH)?;
        (next > now).then_some(next)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_burst_passes_and_a_flood_waits() {
        let now = Instant::now();
        let mut pace = Pace::new(now);
        for _ in 0..BURST {
            assert_eq!(pace.waits_until(now), None);
            pace.count(now);
        }
        assert_eq!(pace.waits_until(now), None);
        pace.count(now);
        assert_eq!(pace.waits_until(now), Some(now + EACH));
        assert_eq!(pace.waits_until(now + EACH), None);
    }

    #[test]
    fn silence_saves_up_no_more_than_a_burst() {
        let now = Instant::now();
        let mut pace = Pace::new(now);
        let later = now + Duration::from_secs(3600);
        for _ in 0..=BURST {
            pace.count(later);
        }
        assert_eq!(pace.waits_until(later), Some(later + EACH));
    }
}
