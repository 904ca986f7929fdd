//! The first change of every book.

use automerge::transaction::{CommitOptions, Transactable};
use automerge::{ActorId, Automerge, ObjType, ROOT};

use super::ROOTS;

/// Version of the document's shape that this program writes.
pub const SCHEMA: i64 = 1;

/// Actor of the first change: nobody.
const NOBODY: [u8; 16] = [0; 16];

/// A new book with its root maps: the same bytes on every device (fixed actor, time 0).
///
/// The caller sets its own actor before it edits.
#[must_use]
pub fn start() -> Automerge {
    let mut doc = Automerge::new().with_actor(ActorId::from(&NOBODY[..]));
    let options = CommitOptions::default().with_time(0);
    let made = doc.transact_with(
        |()| options,
        |tx| {
            tx.put(ROOT, "schema", SCHEMA)?;
            for root in ROOTS {
                tx.put_object(ROOT, root, ObjType::Map)?;
            }
            Ok::<(), automerge::AutomergeError>(())
        },
    );
    made.expect("a new document takes its first change");
    doc
}
