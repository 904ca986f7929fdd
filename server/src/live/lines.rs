//! The open lines of this node, and how they are ended from outside.

use std::collections::HashMap;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::Notify;

use super::Live;
use super::word::Who;

static NUMBERS: AtomicU64 = AtomicU64::new(1);

/// Whose lines have to end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Whose {
    /// All of a person.
    Person {
        /// User id.
        user: String,
    },
    /// All of a person on one device.
    Device {
        /// User id.
        user: String,
        /// Device id.
        device: String,
    },
    /// All of a session.
    Session {
        /// Session id.
        session: String,
    },
    /// All that were opened with a link.
    Link {
        /// Link id.
        link: String,
    },
}

impl Whose {
    fn is(&self, who: &Who) -> bool {
        match (self, who) {
            (Self::Person { user }, Who::Member { sender, .. }) => *user == sender.user,
            (Self::Device { user, device }, Who::Member { sender, .. }) => {
                *user == sender.user && *device == sender.device
            }
            (Self::Session { session }, Who::Member { session: its, .. }) => session == its,
            (Self::Link { link }, Who::Follower { link: its }) => link == its,
            _ => false,
        }
    }
}

/// The lines that are open now.
pub(super) type Lines = Arc<Mutex<HashMap<u64, Open>>>;

#[derive(Debug)]
pub(super) struct Open {
    shop: String,
    who: Who,
    cut: Arc<Notify>,
}

/// A line from its entry to its end.
#[derive(Debug)]
pub struct Line {
    /// Number of the connection, on this node.
    pub number: u64,
    /// Shop id.
    pub shop: String,
    /// Who is behind it.
    pub who: Who,
    /// Rung when it has to end.
    pub cut: Arc<Notify>,
    lines: Lines,
}

impl Drop for Line {
    fn drop(&mut self) {
        let mut lines = self.lines.lock().unwrap_or_else(PoisonError::into_inner);
        lines.remove(&self.number);
    }
}

impl Live {
    /// Enters a line. Whether its person is still good is asked after this: whoever loses the right
    /// in between is cut off here, whoever had lost it before is refused there.
    #[must_use]
    pub fn enter(&self, shop: &str, who: Who) -> Line {
        let line = Line {
            number: NUMBERS.fetch_add(1, Ordering::Relaxed),
            shop: shop.to_owned(),
            who,
            cut: Arc::default(),
            lines: self.lines.clone(),
        };
        let open = Open {
            shop: line.shop.clone(),
            who: line.who.clone(),
            cut: line.cut.clone(),
        };
        let mut lines = self.lines.lock().unwrap_or_else(PoisonError::into_inner);
        lines.insert(line.number, open);
        line
    }

    /// Ends lines at once: this node's.
    pub fn end(&self, shop: &str, whose: &Whose) {
        let lines = self.lines.lock().unwrap_or_else(PoisonError::into_inner);
        for open in lines.values() {
            if open.shop == shop && whose.is(&open.who) {
                open.cut.notify_one();
            }
        }
    }
}
