//! Rate limits: a bucket of tries per key that refills with time.
//!
//! Kept in memory per node; a restart forgives. The clock is an argument.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

/// Above this many keys the full buckets are forgotten.
const MAX_KEYS: usize = 10_000;

/// There is no try left for so long.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wait {
    /// Whole seconds, rounded up.
    pub seconds: u64,
}

/// Tries per key.
#[derive(Debug)]
pub struct Limit {
    burst: f64,
    refill_per_ms: f64,
    buckets: Mutex<HashMap<String, Bucket>>,
}

#[derive(Debug, Clone, Copy)]
struct Bucket {
    left: f64,
    at_ms: i64,
}

impl Limit {
    /// `burst` tries at once, then one more every `every_ms`.
    #[must_use]
    pub fn new(burst: u32, every_ms: u32) -> Self {
        Self {
            burst: f64::from(burst),
            refill_per_ms: 1.0 / f64::from(every_ms.max(1)),
            buckets: Mutex::default(),
        }
    }

    /// Takes one try.
    ///
    /// # Errors
    /// When there is none left: how long to wait for the next.
    pub fn take(&self, key: &str, now_ms: i64) -> Result<(), Wait> {
        let mut buckets = self.buckets.lock().unwrap_or_else(PoisonError::into_inner);
        if buckets.len() >= MAX_KEYS && !buckets.contains_key(key) {
            buckets.retain(|_, bucket| self.level(*bucket, now_ms) < self.burst);
            if buckets.len() >= MAX_KEYS {
                return Err(self.wait(0.0));
            }
        }
        let full = Bucket {
            left: self.burst,
            at_ms: now_ms,
        };
        let bucket = buckets.entry(key.to_owned()).or_insert(full);
        let level = self.level(*bucket, now_ms);
        let allowed = level >= 1.0;
        *bucket = Bucket {
            left: if allowed { level - 1.0 } else { level },
            at_ms: now_ms,
        };
        if allowed {
            Ok(())
        } else {
            Err(self.wait(level))
        }
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a bucket fills in hours at most, and never backwards"
    )]
    fn wait(&self, level: f64) -> Wait {
        let missing_ms = (1.0 - level).max(0.0) / self.refill_per_ms;
        Wait {
            seconds: ((missing_ms / 1000.0).ceil() as u64).max(1),
        }
    }

    /// Gives all tries back, after a success.
    pub fn forgive(&self, key: &str) {
        self.buckets
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .remove(key);
    }

    #[expect(
        clippy::cast_precision_loss,
        reason = "milliseconds between two tries are far below 2^53"
    )]
    fn level(&self, bucket: Bucket, now_ms: i64) -> f64 {
        let passed_ms = now_ms.saturating_sub(bucket.at_ms).max(0) as f64;
        (bucket.left + passed_ms * self.refill_per_ms).min(self.burst)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_dry_and_refills() {
        let limit = Limit::new(2, 1000);
        assert_eq!(limit.take("a", 0), Ok(()));
        assert_eq!(limit.take("a", 0), Ok(()));
        assert_eq!(limit.take("a", 999), Err(Wait { seconds: 1 }));
        assert_eq!(limit.take("b", 999), Ok(()), "keys are apart");
        assert_eq!(limit.take("a", 1000), Ok(()));
        assert!(limit.take("a", 1001).is_err());
        limit.forgive("a");
        assert_eq!(limit.take("a", 1001), Ok(()));
    }

    #[test]
    fn says_how_long_to_wait() {
        let limit = Limit::new(1, 60_000);
        assert_eq!(limit.take("a", 0), Ok(()));
        assert_eq!(limit.take("a", 500), Err(Wait { seconds: 60 }));
        assert_eq!(limit.take("a", 59_000), Err(Wait { seconds: 1 }));
        assert_eq!(limit.take("a", 60_000), Ok(()));
    }
}
