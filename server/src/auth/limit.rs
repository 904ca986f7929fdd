//! Rate limits: a bucket of tries per key that refills with time.
//!
//! Kept in memory per node; a restart forgives. The clock is an argument.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

/// Above this many keys the full buckets are forgotten.
const MAX_KEYS: usize = 10_000;

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

    /// Takes one try; false when there is none left.
    #[must_use]
    pub fn take(&self, key: &str, now_ms: i64) -> bool {
        let mut buckets = self.buckets.lock().unwrap_or_else(PoisonError::into_inner);
        if buckets.len() >= MAX_KEYS && !buckets.contains_key(key) {
            buckets.retain(|_, bucket| self.level(*bucket, now_ms) < self.burst);
            if buckets.len() >= MAX_KEYS {
                return false;
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
        allowed
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
        assert!(limit.take("a", 0));
        assert!(limit.take("a", 0));
        assert!(!limit.take("a", 999));
        assert!(limit.take("b", 999), "keys are apart");
        assert!(limit.take("a", 1000));
        assert!(!limit.take("a", 1001));
        limit.forgive("a");
        assert!(limit.take("a", 1001));
    }
}
