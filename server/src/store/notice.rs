//! What the servers on one database tell each other: ids only, in the transaction that they tell of.
//!
//! PostgreSQL carries a notice to every server once the transaction is committed (`NOTIFY`). A notice
//! can be lost while a server has no connection, so after every gap, and from time to time, a server
//! looks for itself: a notice makes it quick, never right. On SQLite there is one server.

use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use sea_orm::sqlx::postgres::{PgListener, PgPoolOptions};
use sea_orm::{ConnectionTrait, DatabaseTransaction, DbBackend, DbErr, RuntimeErr, Statement};
use serde::{Deserialize, Serialize};
use tokio::sync::broadcast;

use super::{DocKey, Store, StoreError};

/// Name of the channel; a database is one server's, so it needs no more.
const CHANNEL: &str = "baybook";
/// Longest payload of a notice (PostgreSQL, NOTIFY: shorter than 8000 bytes).
const MAX_PAYLOAD_BYTES: usize = 7999;
/// Notices that may wait for this server's own listener.
pub(super) const WAITING_NOTICES: usize = 1024;

/// What one server tells the others.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Notice {
    /// A document has moved on.
    Moved {
        /// Shop id.
        shop: String,
        /// Document id.
        doc: String,
        /// Its sequence now.
        seq: i64,
    },
    /// Somebody may not take part any more.
    Revoked(Revoked),
    /// Where somebody at another server is; not stored, and lost when nobody listens.
    Presence(Whisper),
}

/// Notices are counted by kind.
#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
pub struct Kind {
    /// `moved`, `revoked` or `presence`.
    kind: &'static str,
}

/// Presence on its way to the other servers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Whisper {
    /// The server that tells it; it does not tell itself.
    pub node: String,
    /// Shop id.
    pub shop: String,
    /// Document id.
    pub doc: String,
    /// Peer id that the others see.
    pub from: String,
    /// The sender's session of presence.
    pub session: String,
    /// Number within the session.
    pub count: u64,
    /// What it says, as Base64.
    pub data: String,
}

/// Somebody's way in has ended; open lines of theirs end at once.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Revoked {
    /// Shop id.
    pub shop: String,
    /// Whose.
    pub whose: Whose,
}

/// Whose lines have to end.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
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

/// What a listener hears.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Heard {
    /// A notice.
    Notice(Notice),
    /// Notices may have been lost: look at everything.
    Gap,
}

/// Hears what other servers on PostgreSQL tell.
#[derive(Debug)]
pub struct Wire(PgListener);

impl Wire {
    /// The next thing heard; `None` when the connection is lost.
    pub async fn next(&mut self) -> Option<Heard> {
        match self.0.try_recv().await {
            // A later server may tell things that this one cannot read.
            Ok(Some(told)) => {
                Some(serde_json::from_str(told.payload()).map_or(Heard::Gap, Heard::Notice))
            }
            Ok(None) => None,
            Err(error) => {
                tracing::warn!(%error, "other servers are not heard");
                None
            }
        }
    }
}

/// Hears what this server tells itself.
#[derive(Debug)]
pub struct Own(broadcast::Receiver<Notice>);

impl Own {
    /// The next thing heard; `None` when there is no store any more.
    pub async fn next(&mut self) -> Option<Heard> {
        match self.0.recv().await {
            Ok(notice) => Some(Heard::Notice(notice)),
            Err(broadcast::error::RecvError::Lagged(_)) => Some(Heard::Gap),
            Err(broadcast::error::RecvError::Closed) => None,
        }
    }
}

impl Store {
    /// Can other servers share this database?
    #[must_use]
    pub fn is_shared(&self) -> bool {
        self.write.get_database_backend() == DbBackend::Postgres
    }

    /// Listens to the other servers; `None` where there are none.
    ///
    /// # Errors
    /// When the database does not answer.
    pub async fn wire(&self) -> Result<Option<Wire>, StoreError> {
        if !self.is_shared() {
            return Ok(None);
        }
        // A connection of its own: it is never given back, and must not be missing elsewhere.
        let options = self.write.get_postgres_connection_pool().connect_options();
        let listen = async {
            let pool = PgPoolOptions::new()
                .max_connections(1)
                .max_lifetime(None)
                .idle_timeout(None)
                .connect_with((*options).clone())
                .await?;
            let mut listener = PgListener::connect_with(&pool).await?;
            listener.listen(CHANNEL).await?;
            Ok(Wire(listener))
        };
        listen.await.map(Some).map_err(|error| {
            StoreError::Database(DbErr::Conn(RuntimeErr::SqlxError(std::sync::Arc::new(
                error,
            ))))
        })
    }

    /// Listens to this server's own notices.
    #[must_use]
    pub fn own_notices(&self) -> Own {
        Own(self.notices.subscribe())
    }

    /// How many notices were told to the other servers.
    #[must_use]
    pub fn notices_sent(&self) -> &Family<Kind, Counter> {
        &self.notices_sent
    }

    fn count(&self, notice: &Notice) {
        let kind = match notice {
            Notice::Moved { .. } => "moved",
            Notice::Revoked(_) => "revoked",
            Notice::Presence(_) => "presence",
        };
        self.notices_sent.get_or_create(&Kind { kind }).inc();
    }

    /// Tells the other servers, once the transaction is committed.
    pub(super) async fn announce(
        &self,
        transaction: &DatabaseTransaction,
        notice: &Notice,
    ) -> Result<(), StoreError> {
        if !self.is_shared() {
            return Ok(());
        }
        let payload = serde_json::to_string(notice).map_err(|_| StoreError::Corrupt("notice"))?;
        transaction.query_one_raw(tell(payload)).await?;
        self.count(notice);
        Ok(())
    }

    /// Tells the other servers at once, in no transaction; what is too long for a notice is not told.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn say(&self, notice: &Notice) -> Result<(), StoreError> {
        let payload = serde_json::to_string(notice).map_err(|_| StoreError::Corrupt("notice"))?;
        if self.is_shared() && payload.len() <= MAX_PAYLOAD_BYTES {
            self.write.query_one_raw(tell(payload)).await?;
            self.count(notice);
        }
        Ok(())
    }

    /// Commits a transaction after which somebody may not take part any more: their open lines end,
    /// here and on the other servers.
    ///
    /// # Errors
    /// When the database fails; nothing is kept then, and no line ends.
    pub(super) async fn commit_revoked(
        &self,
        transaction: DatabaseTransaction,
        shop: &str,
        whose: Whose,
    ) -> Result<(), StoreError> {
        let notice = Notice::Revoked(Revoked {
            shop: shop.to_owned(),
            whose,
        });
        self.announce(&transaction, &notice).await?;
        transaction.commit().await?;
        // Nobody listens when no server runs, as in the command line.
        let _ = self.notices.send(notice);
        Ok(())
    }
}

fn tell(payload: String) -> Statement {
    Statement::from_sql_and_values(
        DbBackend::Postgres,
        "SELECT pg_notify($1, $2)",
        [CHANNEL.into(), payload.into()],
    )
}

impl Notice {
    /// A document has moved on.
    pub(super) fn moved(key: &DocKey, seq: i64) -> Self {
        Self::Moved {
            shop: key.shop.clone(),
            doc: key.doc.clone(),
            seq,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Servers of different versions run side by side during an update.
    #[test]
    fn is_written_in_one_way() {
        let moved = Notice::Moved {
            shop: "s".into(),
            doc: "d".into(),
            seq: 7,
        };
        let text = r#"{"moved":{"shop":"s","doc":"d","seq":7}}"#;
        assert_eq!(serde_json::to_string(&moved).unwrap(), text);
        assert_eq!(serde_json::from_str::<Notice>(text).unwrap(), moved);
        let text = r#"{"revoked":{"shop":"s","whose":{"link":{"link":"l"}}}}"#;
        let link = Revoked {
            shop: "s".into(),
            whose: Whose::Link { link: "l".into() },
        };
        assert_eq!(
            serde_json::from_str::<Notice>(text).unwrap(),
            Notice::Revoked(link)
        );
    }
}
