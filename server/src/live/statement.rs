//! Does a statement follow from its book? Computed on a thread of its own, from the record.

use shared::proof::canonical::Difference;
use shared::proof::statement::Statement;
use shared::sync::replay::claims_at;
use tokio::task::spawn_blocking;

use super::Live;
use super::load::load;
use crate::store::DocKey;

/// What a statement and its book say of each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ruling {
    /// Every claim follows.
    Follows,
    /// The shop has no such book.
    NoBook,
    /// The book never had these heads, or no such stage; in words.
    NotThere(String),
    /// A claim that is another.
    Differs(Difference),
}

/// Computes the claims again.
///
/// # Errors
/// When the database fails or the record does not load.
pub async fn rule(live: &Live, key: &DocKey, statement: Statement) -> anyhow::Result<Ruling> {
    let loaded = load(&live.store, key).await?;
    if loaded.seq == 0 {
        return Ok(Ruling::NoBook);
    }
    let work = move || match claims_at(&loaded.doc, &statement.heads, &statement.claims) {
        Err(why) => Ruling::NotThere(why),
        Ok(computed) => computed
            .first_difference(&statement.claims)
            .map_or(Ruling::Follows, Ruling::Differs),
    };
    Ok(spawn_blocking(work).await?)
}
