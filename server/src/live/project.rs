//! When rows are projected: a moment after a batch, never before its answer.
//!
//! One task does all of it, so that solving takes at most one thread; a book that changes all the
//! time is projected once per round. What is missed (a power cut, another server that died, a newer
//! way of projecting) is found by a look at the database.

use std::collections::{HashMap, HashSet};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use automerge::Automerge;
use prometheus_client::metrics::gauge::Gauge;
use tokio::sync::Notify;
use tokio::task::spawn_blocking;
use tokio::time::{Instant, sleep};

use super::Live;
use super::load::load;
use super::projection::project;
use crate::store::{DocKey, Store, StoreError};

/// Readings come one after the other; the rows follow when they pause.
const PAUSE: Duration = Duration::from_millis(500);

/// A book as it was at a sequence.
#[derive(Debug, Clone)]
pub struct Version {
    /// The book.
    pub doc: Arc<Automerge>,
    /// Its sequence.
    pub seq: i64,
}

/// Books whose rows are due.
#[derive(Debug, Clone)]
pub struct Due(Arc<Waiting>);

#[derive(Debug)]
struct Waiting {
    books: Mutex<HashMap<DocKey, Wait>>,
    bell: Notify,
    /// How many there are, those of the round in hand included.
    count: Gauge,
}

/// A book that waits for its rows.
#[derive(Debug)]
struct Wait {
    version: Option<Version>,
    since: Instant,
}

impl Due {
    /// None is; the gauge is to say how many are.
    #[must_use]
    pub fn new(count: Gauge) -> Self {
        Self(Arc::new(Waiting {
            books: Mutex::default(),
            bell: Notify::new(),
            count,
        }))
    }

    /// The rows of this book are due; without a version it is read from the record.
    pub fn add(&self, key: &DocKey, version: Option<Version>) {
        let mut books = self.books();
        let known = books.entry(key.clone()).or_insert_with(|| {
            self.0.count.inc();
            Wait {
                version: None,
                since: Instant::now(),
            }
        });
        if version.is_some() {
            known.version = version;
        }
        drop(books);
        self.0.bell.notify_one();
    }

    fn take(&self) -> HashMap<DocKey, Wait> {
        std::mem::take(&mut *self.books())
    }

    fn books(&self) -> std::sync::MutexGuard<'_, HashMap<DocKey, Wait>> {
        self.0.books.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Live {
    /// Projects what is due, for ever.
    pub(super) async fn project_in_rounds(&self) {
        // A book that cannot be projected is left until it changes again.
        let mut hopeless: HashSet<DocKey> = HashSet::new();
        loop {
            self.due.0.bell.notified().await;
            sleep(PAUSE).await;
            for (key, Wait { version, since }) in self.due.take() {
                self.figures.due.dec();
                if version.is_none() && hopeless.contains(&key) {
                    continue;
                }
                hopeless.remove(&key);
                if let Err(error) = project_one(&self.store, &key, version).await {
                    tracing::error!(
                        doc = key.doc,
                        error = format!("{error:#}"),
                        "a book's rows were not projected"
                    );
                    hopeless.insert(key);
                } else {
                    self.figures.lag.observe(since.elapsed().as_secs_f64());
                }
            }
        }
    }

    /// Finds books whose rows are missing or old.
    ///
    /// # Errors
    /// When the database fails.
    pub(super) async fn look_for_old_rows(&self) -> Result<(), StoreError> {
        for key in self.store.docs_with_old_rows().await? {
            self.due.add(&key, None);
        }
        Ok(())
    }
}

/// Projects one book, unless newer rows are there.
///
/// # Errors
/// When the database fails, the record does not load, or the solver gives up.
pub async fn project_one(
    store: &Store,
    key: &DocKey,
    version: Option<Version>,
) -> anyhow::Result<()> {
    let version = match version {
        Some(version) => version,
        None => {
            let loaded = load(store, key).await?;
            Version {
                doc: Arc::new(loaded.doc),
                seq: loaded.seq,
            }
        }
    };
    let statements = store.statements(key).await?;
    let count = i64::try_from(statements.len())?;
    let doc = version.doc;
    let projected = spawn_blocking(move || project(&doc, &statements)).await??;
    store.keep_rows(key, version.seq, count, projected).await?;
    Ok(())
}

/// Projects every book anew; how many there are.
///
/// # Errors
/// When the database fails, or names the first book that does not load.
pub async fn rebuild(store: &Store) -> anyhow::Result<usize> {
    let keys = store.all_docs().await?;
    for key in &keys {
        project_one(store, key, None)
            .await
            .map_err(|error| error.context(format!("book {} of shop {}", key.doc, key.shop)))?;
    }
    Ok(keys.len())
}
