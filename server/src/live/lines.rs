//! Who is on a line to this server now, so that a line ends when its right does.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::Notify;

use super::Live;
use crate::auth::access::Boarding;
use crate::store::Revoked;

/// All lines by the number of their connection.
#[derive(Debug, Clone, Default)]
pub struct Lines(Arc<Mutex<HashMap<u64, Seat>>>);

#[derive(Debug, Clone)]
struct Seat {
    boarding: Boarding,
    ended: Arc<Notify>,
}

/// A line that is listed; dropping it takes it off the list.
#[derive(Debug)]
pub struct Listed {
    lines: Lines,
    number: u64,
    /// Rung when the line's right has ended.
    pub ended: Arc<Notify>,
}

impl Drop for Listed {
    fn drop(&mut self) {
        self.lines.lock().remove(&self.number);
    }
}

impl Lines {
    /// Lists a line. Whether it may be there is asked afterwards, so that no end of its right is
    /// missed in between.
    #[must_use]
    pub fn list(&self, number: u64, boarding: &Boarding) -> Listed {
        let ended = Arc::new(Notify::new());
        let seat = Seat {
            boarding: boarding.clone(),
            ended: ended.clone(),
        };
        self.lock().insert(number, seat);
        Listed {
            lines: self.clone(),
            number,
            ended,
        }
    }

    /// Ends the lines that this concerns.
    pub fn end(&self, revoked: &Revoked) {
        self.end_where(|boarding| boarding.is_ended_by(revoked));
    }

    fn end_where(&self, is_over: impl Fn(&Boarding) -> bool) {
        for seat in self.lock().values() {
            if is_over(&seat.boarding) {
                seat.ended.notify_one();
            }
        }
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, HashMap<u64, Seat>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Live {
    /// May somebody take part now?
    ///
    /// # Errors
    /// When the database fails.
    pub async fn may_take_part(&self, boarding: &Boarding) -> anyhow::Result<bool> {
        let bearer = &boarding.bearer;
        Ok(self.store.me(&bearer.shop, &bearer.user).await?.is_some())
    }

    /// Ends every line whose right has ended; each is asked for once.
    ///
    /// # Errors
    /// When the database fails; the lines go on then until the next look.
    pub async fn look_after_lines(&self) -> anyhow::Result<()> {
        let listed: Vec<Boarding> = {
            let lines = self.lines.lock();
            let seats = lines.values().map(|seat| seat.boarding.clone());
            seats.collect()
        };
        let mut asked = std::collections::HashSet::new();
        for boarding in listed {
            if asked.insert(boarding.clone()) && !self.may_take_part(&boarding).await? {
                self.lines.end_where(|other| *other == boarding);
            }
        }
        Ok(())
    }
}
