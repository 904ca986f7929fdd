//! Keeping one of the values that two people gave the same field.
//!
//! Writing a value again, after both were seen, ends the conflict on every phone. Fields that are
//! written once (readings, notes) have no conflicts and are refused.

use automerge::transaction::Transaction;
use automerge::{ObjId, ObjType, ROOT, ReadDoc, Value};

use super::WRITTEN_ONCE;
use super::edit::EditError;
use super::record::{SHEET, choice, json_in, put};

/// Keeps the value of a field that is shown like this.
pub(super) fn choose_value(
    tx: &mut Transaction<'_>,
    subject: &str,
    value: &str,
) -> Result<(), EditError> {
    let missing = || EditError::Missing(subject.to_owned());
    let (map, key) = field(tx, subject).ok_or_else(missing)?;
    let all = tx.get_all(&map, key.as_str())?.into_iter();
    let mut all = all.map(|(found, id)| json_in(tx, &found, &id));
    let chosen = all.find(|found| choice(subject, found) == value);
    // What this program cannot read, it cannot write again.
    let chosen = chosen.filter(|chosen| !chosen.is_null());
    Ok(put(tx, &map, &key, &chosen.ok_or_else(missing)?)?)
}

/// The map and key of a path: `points/tower-L/label`, `job/number`, `sheet`. An identifier may hold a
/// slash, so what stands between the first and the last step is one key.
fn field(tx: &Transaction<'_>, subject: &str) -> Option<(ObjId, String)> {
    let Some((first, rest)) = subject.split_once('/') else {
        return (subject == SHEET).then(|| (ROOT, subject.to_owned()));
    };
    if WRITTEN_ONCE.contains(&first) {
        return None;
    }
    let into = |parent: &ObjId, key: &str| match tx.get(parent, key) {
        Ok(Some((Value::Object(ObjType::Map), id))) => Some(id),
        _ => None,
    };
    let root = into(&ROOT, first)?;
    match rest.rsplit_once('/') {
        Some((record, key)) => Some((into(&root, record)?, key.to_owned())),
        None => Some((root, rest.to_owned())),
    }
}
