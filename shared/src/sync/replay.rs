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
    let work = || {
        let doc = Automerge::load(&replay.changes.concat())
            .map_err(|error| format!("changes that do not make a book: {error}"))?;
        let mut heads: Vec<Digest> = doc.get_heads().iter().map(digest).collect();
        heads.sort();
        if heads != replay.heads {
            return Err("changes that make a book with other heads".to_owned());
        }
        let (job, _) = book::read(&doc);
        let claims = replay.claims.again(&job, &solve(&job));
        claims.ok_or_else(|| format!("no stage {}", replay.claims.stage))
    };
    catch_unwind(AssertUnwindSafe(work))
        .unwrap_or_else(|_| Err("changes that are too much for the document engine".to_owned()))
}
