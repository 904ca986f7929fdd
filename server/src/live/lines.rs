//! The open lines of this server, and how they are ended from outside.

use std::collections::HashMap;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::Notify;

use super::Live;
use super::word::Who;
pub use crate::store::Whose;

static NUMBERS: AtomicU64 = AtomicU64::new(1);

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

/// A line as the server knows it.
#[derive(Debug)]
pub(crate) struct Open {
    shop: String,
    who: Who,
    cut: Arc<Notify>,
}

impl Open {
    /// Was it opened with an adjuster's link?
    pub(crate) fn is_follower(&self) -> bool {
        matches!(self.who, Who::Follower { .. })
    }
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

    /// Shows every open line.
    pub(crate) fn each_line(&self, see: impl FnMut(&Open)) {
        let lines = self.lines.lock().unwrap_or_else(PoisonError::into_inner);
        lines.values().for_each(see);
    }

    /// Ends lines at once: this server's. The store tells the other servers.
    pub fn end(&self, shop: &str, whose: &Whose) {
        let lines = self.lines.lock().unwrap_or_else(PoisonError::into_inner);
        for open in lines.values() {
            if open.shop == shop && whose.is(&open.who) {
                open.cut.notify_one();
            }
        }
    }

    /// Ends every line whose right has ended without a notice of it; each right is asked for once.
    ///
    /// # Errors
    /// When the database fails; the lines go on then until the next look.
    pub async fn look_after_lines(&self) -> anyhow::Result<()> {
        let mut listed: Vec<(String, Who)> = {
            let lines = self.lines.lock().unwrap_or_else(PoisonError::into_inner);
            let open = lines.values();
            open.map(|open| (open.shop.clone(), open.who.clone()))
                .collect()
        };
        while let Some((shop, who)) = listed.pop() {
            listed.retain(|other| *other != (shop.clone(), who.clone()));
            if !self.is_good(&shop, &who).await? {
                let lines = self.lines.lock().unwrap_or_else(PoisonError::into_inner);
                for open in lines.values() {
                    if open.shop == shop && open.who == who {
                        open.cut.notify_one();
                    }
                }
            }
        }
        Ok(())
    }

    async fn is_good(&self, shop: &str, who: &Who) -> anyhow::Result<bool> {
        Ok(match who {
            Who::Member { sender, session } => self.store.may_write(shop, sender, session).await?,
            Who::Follower { link } => {
                let now_ms = self.clock.now_ms();
                self.store.followed(shop, link, now_ms).await?.is_some()
            }
        })
    }
}
