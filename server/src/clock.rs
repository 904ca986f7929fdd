//! The only reader of the wall clock, and the only mint of identifiers and secrets.
//!
//! Times are milliseconds since 1970 (UTC). Tests give their own clock.

use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use time::OffsetDateTime;
use time::format_description::well_known::Rfc3339;
use ulid::Ulid;

/// Where the time comes from.
#[derive(Clone)]
pub struct Clock {
    now_ms: Arc<dyn Fn() -> i64 + Send + Sync>,
    /// The last identifier, so that two of one millisecond keep their order.
    last: Arc<Mutex<Ulid>>,
}

impl Clock {
    /// The clock of this machine.
    #[must_use]
    #[expect(
        clippy::disallowed_methods,
        reason = "this is the server's one reading of the clock"
    )]
    pub fn system() -> Self {
        Self::new(|| {
            SystemTime::now()
                .duration_since(UNIX_EPOCH)
                .unwrap_or(Duration::ZERO)
                .as_millis()
                .try_into()
                .unwrap_or(i64::MAX)
        })
    }

    /// A clock of one's own.
    #[must_use]
    pub fn new(now_ms: impl Fn() -> i64 + Send + Sync + 'static) -> Self {
        Self {
            now_ms: Arc::new(now_ms),
            last: Arc::new(Mutex::new(Ulid::nil())),
        }
    }

    /// Milliseconds since 1970.
    #[must_use]
    pub fn now_ms(&self) -> i64 {
        (self.now_ms)()
    }

    /// A fresh identifier that sorts after all earlier ones of this clock.
    #[must_use]
    pub fn mint(&self) -> String {
        let at_ms = self.now_ms().try_into().unwrap_or(0);
        let fresh = Ulid::from_parts(at_ms, rand::random());
        let mut last = self.last.lock().unwrap_or_else(PoisonError::into_inner);
        *last = if fresh > *last {
            fresh
        } else {
            last.increment().unwrap_or(fresh)
        };
        last.to_string()
    }
}

impl fmt::Debug for Clock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Clock({})", self.now_ms())
    }
}

/// RFC 3339 text of a time; times outside the years 0 to 9999 are written as 1970.
#[must_use]
pub fn rfc3339(at_ms: i64) -> String {
    OffsetDateTime::from_unix_timestamp_nanos(i128::from(at_ms) * 1_000_000)
        .ok()
        .and_then(|at| at.format(&Rfc3339).ok())
        .unwrap_or_else(|| "1970-01-01T00:00:00Z".to_owned())
}

/// Milliseconds since 1970 of RFC 3339 text.
#[must_use]
pub fn from_rfc3339(text: &str) -> Option<i64> {
    let at = OffsetDateTime::parse(text, &Rfc3339).ok()?;
    i64::try_from(at.unix_timestamp_nanos() / 1_000_000).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example of RFC 3339, section 5.8: 1985-04-12T23:20:50.52Z.
    #[test]
    fn writes_the_time_of_rfc_3339() {
        assert_eq!(rfc3339(482_196_050_520), "1985-04-12T23:20:50.52Z");
        assert_eq!(
            from_rfc3339("1985-04-12T23:20:50.52Z"),
            Some(482_196_050_520)
        );
        // The same section's second example, with an offset: 1996-12-20T00:39:57Z.
        assert_eq!(
            from_rfc3339("1996-12-19T16:39:57-08:00"),
            Some(851_042_397_000)
        );
        assert_eq!(from_rfc3339("yesterday"), None);
    }

    #[test]
    fn mints_ids_in_order_of_time() {
        let early = Clock::new(|| 1_000).mint();
        let late = Clock::new(|| 2_000).mint();
        assert!(early < late);
        let still = Clock::new(|| 1_000);
        let ids: Vec<String> = (0..100).map(|_| still.mint()).collect();
        assert!(ids.is_sorted() && ids[0] != ids[99]);
    }
}
