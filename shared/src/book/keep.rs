//! The append-only rule: what is written once stays as it was written.
//!
//! Asked by the gate before foreign changes become part of a book. This file refuses to know who
//! sent them.

use automerge::{Automerge, Patch, PatchAction, Prop, ROOT, ReadDoc};

use super::{ROOTS, WRITTEN_ONCE};

/// A change that would alter what is written once.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0} is written once and cannot be changed")]
pub struct Breach(pub String);

/// Does `after` keep everything that `before` had written once, and the root maps themselves?
///
/// `patches` are what the engine noted while it applied what is new ([`PatchLog`](automerge::PatchLog)):
/// as many as the change is long. Comparing both documents would cost as much as they are large.
///
/// # Errors
/// [`Breach`] naming the first place that does not.
pub fn keeps_the_record(
    before: &Automerge,
    after: &Automerge,
    patches: &[Patch],
) -> Result<(), Breach> {
    // A second object under a root's name would shadow everything below the first.
    for root in ROOTS {
        let had = before.get(ROOT, root).ok().flatten().map(|(_, id)| id);
        let has = after.get_all(ROOT, root).unwrap_or_default();
        if had.is_some() && (has.len() != 1 || has.first().map(|(_, id)| id) != had.as_ref()) {
            return Err(Breach(root.to_owned()));
        }
    }
    for patch in patches {
        let mut path = patch.path.iter().map(|(_, prop)| prop);
        let (Some(Prop::Map(root)), record) = (path.next(), path.next()) else {
            continue;
        };
        if !WRITTEN_ONCE.contains(&root.as_str()) {
            continue;
        }
        // A patch on the root map itself names its record; one below stands in a record.
        let key = match (record, &patch.action) {
            (Some(Prop::Map(key)), _) => key.clone(),
            (
                None,
                PatchAction::PutMap { key, .. }
                | PatchAction::DeleteMap { key }
                | PatchAction::Conflict {
                    prop: Prop::Map(key),
                },
            ) => key.clone(),
            _ => continue,
        };
        let there = before
            .get(ROOT, root.as_str())
            .ok()
            .flatten()
            .and_then(|(_, map)| before.get(map, key.as_str()).ok().flatten());
        if there.is_some() {
            return Err(Breach(format!("{root}/{key}")));
        }
    }
    Ok(())
}
