//! A shop's log verified with the real document engine and the real solver.
//!
//! The file may come from anybody, so every call into the engine is behind the gate's questions on
//! single changes and behind `catch_unwind`. This file refuses to know where the file lies.

use std::panic::{AssertUnwindSafe, catch_unwind};

use automerge::{Automerge, Change, ChangeHash};

use super::gate;
use crate::book;
use crate::proof::Digest;
use crate::proof::bundle::{self, Bundle, Facts, Replay, Report};
use crate::proof::statement::Claims;
use crate::solve::solve;

/// Verifies a bundle, and computes the result behind each sign-off again.
#[must_use]
pub fn verify(bundle: &Bundle) -> Report {
    bundle::verify(bundle, facts, recompute)
}

/// Hash and dependencies of a change as it was sent; `None` when the bytes are no plain change, or
/// claim more than a book needs.
#[must_use]
pub fn facts(bytes: &[u8]) -> Option<Facts> {
    let change = catch_unwind(AssertUnwindSafe(|| gate::open(bytes).ok())).ok()??;
    Some(facts_of(&change))
}

/// Hash and dependencies of a change.
#[must_use]
pub fn facts_of(change: &Change) -> Facts {
    Facts {
        hash: digest(&change.hash()),
        deps: change.deps().iter().map(digest).collect(),
    }
}

/// A change's hash as the log writes it.
#[must_use]
pub fn digest(hash: &ChangeHash) -> Digest {
    Digest(hash.0)
}

/// The claims that follow from a book, on the grid of those that were made.
///
/// # Errors
/// Why there are none: the changes do not make a book with these heads, or it has no such stage.
pub fn recompute(replay: Replay<'_>) -> Result<Claims, String> {
    let doc = catch_unwind(AssertUnwindSafe(|| {
        Automerge::load(&replay.changes.concat())
            .map_err(|error| format!("changes that do not make a book: {error}"))
    }));
    claims_at(
        &doc.unwrap_or_else(|_| Err(TOO_MUCH.to_owned()))?,
        replay.heads,
        replay.claims,
    )
}

/// The claims that follow from a book as it was at some heads, on the grid of those that were made.
///
/// # Errors
/// Why there are none: the book never had these heads, or has no such stage.
pub fn claims_at(doc: &Automerge, heads: &[Digest], claims: &Claims) -> Result<Claims, String> {
    let work = || {
        let hashes: Vec<ChangeHash> = heads.iter().map(|head| ChangeHash(head.0)).collect();
        let then = doc
            .fork_at(&hashes)
            .map_err(|_| "heads that the book never had".to_owned())?;
        let mut found: Vec<Digest> = then.get_heads().iter().map(digest).collect();
        found.sort();
        if found != heads {
            return Err("heads that the book never had".to_owned());
        }
        let (job, _) = book::read(&then);
        let again = claims.again(&job, &solve(&job));
        again.ok_or_else(|| format!("no stage {}", claims.stage))
    };
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|_| Err(TOO_MUCH.to_owned()))
}

/// Said when the document engine gives up.
const TOO_MUCH: &str = "changes that are too much for the document engine";
